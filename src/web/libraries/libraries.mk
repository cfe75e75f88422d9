# The libraries of the page, compiled for WebAssembly into $(WEB)/lib and $(WEB)/include; each is
# built once. Included by src/web/web.mk, which says what WEB and SOURCES are.
LIBRARIES := zlib png jpeg tiff exif erfa wcs cfitsio json healpix raw inih
LIBRARY   := $(foreach l,$(LIBRARIES),$(WEB)/lib/lib$(l).a)
WEB_OPTIMISE ?= -O3

# A source is there when a file named by its hash says so: fetched again only when that changes.
HASHES := $(shell awk '!/^\#/ { print $$1 "=" substr($$4, 1, 12) }' src/web/libraries/sources.tsv)
here = $(WEB)/sources/$(1)/.is-$(patsubst $(1)=%,%,$(filter $(1)=%,$(HASHES)))
define source
$(call here,$(1)):
	@printf '  %-8s %s\n' source $(1)
	@bash src/web/libraries/fetch_library.sh $(1) $(WEB)/sources '$(SOURCES)'
	@touch $$@
endef
$(foreach l,$(LIBRARIES),$(eval $(call source,$(l))))

# Those with CMake: NAME, its targets, where the archive and the headers are then, settings.
LIBRARY_CMAKE = emcmake cmake -S $(WEB)/sources/$(1) -B $(WEB)/sources/$(1)/wasm -G 'Unix Makefiles' \
    -DCMAKE_BUILD_TYPE=Release -DCMAKE_C_FLAGS='-w $(2)' -DCMAKE_C_FLAGS_RELEASE='$(WEB_OPTIMISE)' -DBUILD_SHARED_LIBS=OFF $(LIBRARY_SIZES) \
    -DCMAKE_FIND_ROOT_PATH=$(abspath $(WEB)) -DCMAKE_PREFIX_PATH=$(abspath $(WEB)) \
    -DCMAKE_INSTALL_PREFIX=$(abspath $(WEB)) $(3) >$(WEB)/sources/$(1).build.log 2>&1 && \
    $(MAKE) -C $(WEB)/sources/$(1)/wasm $(4) >>$(WEB)/sources/$(1).build.log 2>&1 || \
    { tail -20 $(WEB)/sources/$(1).build.log >&2; exit 1; }
# CMake reads the sizes of types out of a program that it cannot read here.
LIBRARY_SIZES := $(foreach s,SIZE_T=4 UNSIGNED_LONG=4 LONG=4 INT=4 LONG_LONG=8 INT64_T=8 SSIZE_T=4 SIZEOF_SIZE_T=4 \
    SIZEOF_INT=4 SIZEOF_LONG=4 SIZEOF_LONG_LONG=8 SIZEOF_INT64_T=8 SIZEOF_SSIZE_T=4, \
    -D$(s) -DHAVE_$(firstword $(subst =, ,$(s)))=1)
LIBRARY_SAY = @printf '  %-8s %s\n' library $(1); mkdir -p $(WEB)/lib $(WEB)/include

$(WEB)/lib/libpng.a: $(call here,png) $(WEB)/lib/libzlib.a
	$(call LIBRARY_SAY,png)
	@$(call LIBRARY_CMAKE,png,,-DPNG_SHARED=OFF -DPNG_TESTS=OFF -DM_LIBRARY=m \
	    -DZLIB_LIBRARY=$(abspath $(WEB))/lib/libzlib.a -DZLIB_INCLUDE_DIR=$(abspath $(WEB))/include,png_static)
	@cp $(WEB)/sources/png/png.h $(WEB)/sources/png/pngconf.h $(WEB)/sources/png/wasm/pnglibconf.h $(WEB)/include
	@cp $(WEB)/sources/png/wasm/libpng16.a $@

$(WEB)/lib/libjpeg.a: $(call here,jpeg)
	$(call LIBRARY_SAY,jpeg)
	@$(call LIBRARY_CMAKE,jpeg,,-DWITH_SIMD=OFF -DENABLE_SHARED=OFF -DWITH_TURBOJPEG=OFF,jpeg-static)
	@cp $(addprefix $(WEB)/sources/jpeg/,jpeglib.h jmorecfg.h jerror.h) $(WEB)/sources/jpeg/wasm/jconfig.h $(WEB)/include
	@cp $(WEB)/sources/jpeg/wasm/libjpeg.a $@

$(WEB)/lib/libtiff.a: $(call here,tiff) $(WEB)/lib/libjpeg.a $(WEB)/lib/libzlib.a
	$(call LIBRARY_SAY,tiff)
	@$(call LIBRARY_CMAKE,tiff,,-Dlzma=OFF -Dzstd=OFF -Dwebp=OFF -Djbig=OFF -Dlerc=OFF -Dlibdeflate=OFF -Dcxx=OFF \
	    -DZLIB_LIBRARY=$(abspath $(WEB))/lib/libzlib.a -DZLIB_INCLUDE_DIR=$(abspath $(WEB))/include \
	    -DJPEG_LIBRARY=$(abspath $(WEB))/lib/libjpeg.a -DJPEG_INCLUDE_DIR=$(abspath $(WEB))/include,tiff)
	@cp $(addprefix $(WEB)/sources/tiff/libtiff/,tiff.h tiffio.h tiffvers.h) \
	    $(WEB)/sources/tiff/wasm/libtiff/tiffconf.h $(WEB)/include
	@cp $(WEB)/sources/tiff/wasm/libtiff/libtiff.a $@

$(WEB)/lib/libjson.a: $(call here,json)
	$(call LIBRARY_SAY,json)
	@$(call LIBRARY_CMAKE,json,,-DDISABLE_WERROR=ON -DBUILD_TESTING=OFF,json-c)
	@mkdir -p $(WEB)/include/json-c
	@cp $(WEB)/sources/json/*.h $(WEB)/sources/json/wasm/*.h $(WEB)/include/json-c
	@cp $(WEB)/sources/json/wasm/libjson-c.a $@

# CFITSIO asks the compiler's macros which way round numbers lie and takes a machine that it does
# not know for one that begins with the high byte. WebAssembly lies as 32-bit ARM does; this one
# macro says so. A test reads a frame of known numbers.
$(WEB)/lib/libcfitsio.a: $(call here,cfitsio) $(WEB)/lib/libzlib.a
	$(call LIBRARY_SAY,cfitsio)
	@$(call LIBRARY_CMAKE,cfitsio,-D__arm__ -Df2cFortran -DHAVE_FTRUNCATE,-DUSE_CURL=OFF -DUSE_PTHREADS=OFF -DTESTS=OFF -DUTILS=OFF -DM_LIB=m \
	    -DZLIB_LIBRARY=$(abspath $(WEB))/lib/libzlib.a -DZLIB_INCLUDE_DIR=$(abspath $(WEB))/include,cfitsio)
	@cp $(addprefix $(WEB)/sources/cfitsio/,fitsio.h longnam.h fitsio2.h) $(WEB)/include
	@cp $(WEB)/sources/cfitsio/wasm/libcfitsio.a $@

# The others are a folder of sources each: NAME, files, what the compiler is told.
define plain_library
$(WEB)/lib/lib$(1).a: $(call here,$(1))
	$$(call LIBRARY_SAY,$(1))
	@$$(MAKE) --no-print-directory -f src/web/libraries/plain.mk WEB=$(WEB) NAME=$(1) WEB_OPTIMISE='$(WEB_OPTIMISE)'
endef
$(foreach l,zlib exif erfa wcs healpix raw inih,$(eval $(call plain_library,$(l))))
$(WEB)/lib/libraw.a: $(WEB)/lib/libjpeg.a $(WEB)/lib/libzlib.a
$(WEB)/lib/libhealpix.a: $(WEB)/lib/libcfitsio.a
