# The libraries of the page, compiled for WebAssembly into $(KEPT)/lib and $(KEPT)/include; each is
# built once. Included by src/web/web.mk, which says what WEB, WEB_CACHE and SOURCES are.
LIBRARIES := zlib png jpeg tiff exif erfa wcs cfitsio json healpix raw
KEPT      := $(or $(WEB_CACHE),$(WEB))
LIBRARY   := $(foreach l,$(LIBRARIES),$(KEPT)/lib/lib$(l).a)
WEB_OPTIMISE ?= -O3
# What is not run for each pixel is made small.
WEB_SMALL    ?= -Oz
optimise      = $(if $(filter $(1),tiff exif erfa wcs cfitsio json healpix),$(WEB_SMALL),$(WEB_OPTIMISE))

# A library is there when a file named by the hashes of its source and of what builds it says so, which
# outlives a clone: it is built again only when one of them changes.
RECIPE := $(shell (cat src/web/libraries/*.mk src/web/libraries/settings/*/*; emcc --version; \
    echo '$(WEB_OPTIMISE) $(WEB_SMALL)') | sha256sum | cut -c 1-12)
HASHES := $(shell awk '!/^\#/ { print $$1 "=" substr($$4, 1, 12) "-$(RECIPE)" }' src/web/libraries/sources.tsv)
here = $(KEPT)/sources/$(1)/.is-$(patsubst $(1)=%,%,$(filter $(1)=%,$(HASHES)))
define source
$(call here,$(1)):
	@printf '  %-8s %s\n' source $(1)
	@bash src/web/libraries/fetch_library.sh $(1) $(KEPT)/sources '$(SOURCES)'
	@touch $$@
endef
$(foreach l,$(LIBRARIES),$(eval $(call source,$(l))))

# Those with CMake: NAME, its targets, where the archive and the headers are then, settings.
LIBRARY_CMAKE = emcmake cmake -S $(KEPT)/sources/$(1) -B $(KEPT)/sources/$(1)/wasm -G 'Unix Makefiles' \
    -DCMAKE_BUILD_TYPE=Release -DCMAKE_C_FLAGS='-w $(2)' -DCMAKE_C_FLAGS_RELEASE='$(call optimise,$(1))' -DBUILD_SHARED_LIBS=OFF $(LIBRARY_SIZES) \
    -DCMAKE_FIND_ROOT_PATH=$(abspath $(KEPT)) -DCMAKE_PREFIX_PATH=$(abspath $(KEPT)) \
    -DCMAKE_INSTALL_PREFIX=$(abspath $(KEPT)) $(3) >$(KEPT)/sources/$(1).build.log 2>&1 && \
    $(MAKE) -C $(KEPT)/sources/$(1)/wasm $(4) >>$(KEPT)/sources/$(1).build.log 2>&1 || \
    { tail -20 $(KEPT)/sources/$(1).build.log >&2; exit 1; }
# CMake reads the sizes of types out of a program that it cannot read here.
LIBRARY_SIZES := $(foreach s,SIZE_T=4 UNSIGNED_LONG=4 LONG=4 INT=4 LONG_LONG=8 INT64_T=8 SSIZE_T=4 SIZEOF_SIZE_T=4 \
    SIZEOF_INT=4 SIZEOF_LONG=4 SIZEOF_LONG_LONG=8 SIZEOF_INT64_T=8 SIZEOF_SSIZE_T=4, \
    -D$(s) -DHAVE_$(firstword $(subst =, ,$(s)))=1)
LIBRARY_SAY = @printf '  %-8s %s\n' library $(1); mkdir -p $(KEPT)/lib $(KEPT)/include

$(KEPT)/lib/libpng.a: $(call here,png) $(KEPT)/lib/libzlib.a
	$(call LIBRARY_SAY,png)
	@$(call LIBRARY_CMAKE,png,,-DPNG_SHARED=OFF -DPNG_TESTS=OFF -DM_LIBRARY=m \
	    -DZLIB_LIBRARY=$(abspath $(KEPT))/lib/libzlib.a -DZLIB_INCLUDE_DIR=$(abspath $(KEPT))/include,png_static)
	@cp $(KEPT)/sources/png/png.h $(KEPT)/sources/png/pngconf.h $(KEPT)/sources/png/wasm/pnglibconf.h $(KEPT)/include
	@cp $(KEPT)/sources/png/wasm/libpng16.a $@

$(KEPT)/lib/libjpeg.a: $(call here,jpeg)
	$(call LIBRARY_SAY,jpeg)
	@$(call LIBRARY_CMAKE,jpeg,,-DWITH_SIMD=OFF -DENABLE_SHARED=OFF -DWITH_TURBOJPEG=OFF,jpeg-static)
	@cp $(addprefix $(KEPT)/sources/jpeg/,jpeglib.h jmorecfg.h jerror.h) $(KEPT)/sources/jpeg/wasm/jconfig.h $(KEPT)/include
	@cp $(KEPT)/sources/jpeg/wasm/libjpeg.a $@

# CFITSIO asks the compiler's macros which way round numbers lie and takes a machine that it does
# not know for one that begins with the high byte. WebAssembly lies as 32-bit ARM does; this one
# macro says so. A test reads a frame of known numbers.
$(KEPT)/lib/libcfitsio.a: $(call here,cfitsio) $(KEPT)/lib/libzlib.a
	$(call LIBRARY_SAY,cfitsio)
	@$(call LIBRARY_CMAKE,cfitsio,-D__arm__ -Df2cFortran -DHAVE_FTRUNCATE,-DUSE_CURL=OFF -DUSE_PTHREADS=OFF -DTESTS=OFF -DUTILS=OFF -DM_LIB=m \
	    -DZLIB_LIBRARY=$(abspath $(KEPT))/lib/libzlib.a -DZLIB_INCLUDE_DIR=$(abspath $(KEPT))/include,cfitsio)
	@cp $(addprefix $(KEPT)/sources/cfitsio/,fitsio.h longnam.h fitsio2.h) $(KEPT)/include
	@cp $(KEPT)/sources/cfitsio/wasm/libcfitsio.a $@

# The others are a folder of sources each: NAME, files, what the compiler is told.
define plain_library
$(KEPT)/lib/lib$(1).a: $(call here,$(1))
	$$(call LIBRARY_SAY,$(1))
	@$$(MAKE) --no-print-directory -f src/web/libraries/plain.mk KEPT=$(abspath $(KEPT)) NAME=$(1) WEB_OPTIMISE='$(call optimise,$(1))' \
	    WASM_CC='$(WASM_CC)' WASM_CXX='$(WASM_CXX)'
endef
$(foreach l,zlib tiff exif erfa wcs json healpix raw,$(eval $(call plain_library,$(l))))
$(KEPT)/lib/libtiff.a $(KEPT)/lib/libraw.a: $(KEPT)/lib/libjpeg.a $(KEPT)/lib/libzlib.a
$(KEPT)/lib/libhealpix.a: $(KEPT)/lib/libcfitsio.a
