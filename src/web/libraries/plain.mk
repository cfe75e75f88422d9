# One library that is compiled file by file, its own build system asking for a Unix that a page is
# not. libraries.mk gives KEPT, NAME, WEB_OPTIMISE and the compilers.
S := $(KEPT)/sources/$(NAME)
O := $(S)/wasm
I := $(KEPT)/include

zlib_FILES := $(wildcard $(S)/*.c)
zlib_FLAGS := -DHAVE_UNISTD_H -DZ_HAVE_UNISTD_H -I$(S)
zlib_HEADERS := $(S)/zlib.h $(S)/zconf.h
zlib_INTO := $(I)

exif_FILES := $(wildcard $(S)/libexif/*.c $(S)/libexif/*/*.c)
exif_FLAGS := -DGETTEXT_PACKAGE='"libexif"' -DLOCALEDIR='"/"' -DPACKAGE='"libexif"' -DVERSION='"0.6.24"' -I$(S) -I$(O)
exif_HEADERS = $(wildcard $(S)/libexif/*.h) $(O)/libexif/_stdint.h
exif_INTO := $(I)/libexif
exif_STAND_INS := config.h libexif/_stdint.h

erfa_FILES := $(filter-out %t_erfa_c.c %t_erfa_c_extra.c,$(wildcard $(S)/src/*.c))
erfa_FLAGS := -DPACKAGE_VERSION='"2.0.0"' -DPACKAGE_VERSION_MAJOR=2 -DPACKAGE_VERSION_MINOR=0 \
    -DPACKAGE_VERSION_MICRO=0 -DSOFA_VERSION='"20210512"' -I$(S)/src -I$(O)
erfa_HEADERS := $(wildcard $(S)/src/*.h)
erfa_INTO := $(I)
erfa_STAND_INS := config.h

wcs_FILES := $(addprefix $(S)/C/,$(addsuffix .c,cel dis lin log prj spc sph spx tab wcs wcserr wcsfix wcshdr \
    wcsprintf wcstrig wcsunits wcsutil flexed/wcsbth flexed/wcspih flexed/wcsulex flexed/wcsutrn))
wcs_FLAGS := -DHAVE_WCSLIB_VERSION -DWCSLIB_VERSION=7.12 -DHAVE_SINCOS -DWCSLIB_INT64='long long int' -I$(S)/C -I$(O)
wcs_HEADERS := $(wildcard $(S)/C/*.h)
wcs_INTO := $(I)/wcslib
wcs_STAND_INS := wcsconfig.h

# Their settings are files of ours.
tiff_FILES := $(filter-out %/mkg3states.c %/mkspans.c %/tif_jpeg_12.c %/tif_win32.c,$(wildcard $(S)/libtiff/*.c))
tiff_FLAGS := -Isrc/web/libraries/settings/tiff -I$(S)/libtiff
tiff_HEADERS := $(addprefix $(S)/libtiff/,tiff.h tiffio.h tiffvers.h) src/web/libraries/settings/tiff/tiffconf.h
tiff_INTO := $(I)

json_FILES := $(wildcard $(S)/*.c)
json_FLAGS := -D_GNU_SOURCE -Isrc/web/libraries/settings/json -I$(S) -I$(O)
json_HEADERS := $(filter-out %_private.h,$(wildcard $(S)/*.h)) src/web/libraries/settings/json/json_config.h $(O)/json.h
json_INTO := $(I)/json-c
json_PARTS := arraylist debug json_c_version json_object json_object_iterator json_pointer json_tokener json_util linkhash

healpix_FILES := $(S)/chealpix.c
healpix_FLAGS := -I$(S)
healpix_HEADERS := $(S)/chealpix.h
healpix_INTO := $(I)

# Files named ..._ph stand in for what is left out; here nothing is.
raw_FILES := $(filter-out %_ph.cpp %libraw_cxx.cpp,$(wildcard $(S)/src/*.cpp $(S)/src/*/*.cpp))
raw_FLAGS := -std=c++14 -DLIBRAW_NOTHREADS -DUSE_JPEG -DUSE_JPEG8 -DUSE_ZLIB -I$(S)
raw_HEADERS := $(wildcard $(S)/libraw/*.h)
raw_INTO := $(I)/libraw

# What a library's own build system would have written; nothing of it but this is asked for.
OBJECTS := $(patsubst $(S)/%,$(O)/%.o,$($(NAME)_FILES))
$(KEPT)/lib/lib$(NAME).a: $(OBJECTS)
	@mkdir -p $($(NAME)_INTO) && cp $($(NAME)_HEADERS) $($(NAME)_INTO)
	@rm -f $@ && emar rcs $@ $^
$(OBJECTS): | $(O)
$(O):
	@mkdir -p $@ $(addprefix $@/,$(sort $(dir $(patsubst $(S)/%,%,$($(NAME)_FILES)))))
	@for part in $(json_PARTS); do echo "#include \"$$part.h\""; done >$@/json.h # for that one alone
	@for f in $($(NAME)_STAND_INS); do echo '#include <stdint.h>' >$@/$$f; done
$(O)/%.c.o: $(S)/%.c
	@$(WASM_CC) -c $(WEB_OPTIMISE) -w $($(NAME)_FLAGS) -I$(I) $< -o $@
$(O)/%.cpp.o: $(S)/%.cpp
	@$(WASM_CXX) -c $(WEB_OPTIMISE) -w $($(NAME)_FLAGS) -I$(I) $< -o $@
