# The page: `make web`. Run by the Makefile at the top, which installs what is needed first.
WEB ?= build/web
SOURCES ?=
WEB_CACHE ?=
export NODE_PATH := /usr/share/nodejs
.DELETE_ON_ERROR:
LIBRARY_DIRS ?= $(shell sed -n "s/^LIBRARY_DIRS *:= *//p" Makefile)
# The compiler itself: emcc starts Python for each file, which takes longer than most files do.
WASM_FLAGS := $(shell emcc --cflags)
WASM_CC    := clang $(WASM_FLAGS)
WASM_CXX   := clang++ $(WASM_FLAGS)
include src/web/libraries/libraries.mk
libraries: $(LIBRARY)
sources: $(foreach l,$(LIBRARIES),$(call here,$(l)))

# The programs themselves, for WebAssembly.
VERSION := $(shell sed -n 's/^VERSION *:= *//p' Makefile)
ENGINE_SRC := $(filter-out src/draw/lettering.c src/jobs/watch_% src/cli/watch_% src/cli/main.c src/cli/command_watch.c src/cli/reading_options.c, \
    $(foreach d,$(filter-out page,$(LIBRARY_DIRS)) cli,$(wildcard src/$(d)/*.c src/$(d)/*.cc))) src/page/live_schema.c \
    $(filter-out index-build/main.c index-build/index_manual.c index-build/index_main.c index-build/%votable.c index-build/votable_rows.c,$(wildcard index-build/*.c)) \
    $(wildcard src/web/engine/*.c src/web/stand-ins/*.c)
# A library of headers alone serves as it is.
$(KEPT)/include/kdtree++: | $(LIBRARY)
	@ln -sfn /usr/include/kdtree++ $@
$(WEB)/src/stars/star_tree.o: | $(KEPT)/include/kdtree++
ENGINE_OBJ := $(patsubst %,$(WEB)/%.o,$(basename $(ENGINE_SRC)))
# zlib's headers ask whether offsets of files have 64 bits, as they have here.
ENGINE_CPP := -DHAVE_UNISTD_H -D_POSIX_C_SOURCE=200809L -DALIDADE_VERSION='"$(VERSION)"' -DALIDADE_DATA_DIR='"/data"' \
    -Isrc/web/stand-ins -Isrc -Iindex-build -isystem $(KEPT)/include
# One memory that grows, in small steps; no threads; files in memory alone; a frame is kept (engine/kept_frame.c);
# stars come packed (engine/packed_stars.c).
ENGINE_LINK := -Wl,--wrap=job_solve,--wrap=solved_frame_free,--wrap=catalogue_read -sALLOW_MEMORY_GROWTH=1 -sMEMORY_GROWTH_GEOMETRIC_STEP=0.05 -sINITIAL_MEMORY=64MB -sTOTAL_STACK=1MB -sMODULARIZE=1 -sEXPORT_NAME=createEngine \
    -sINVOKE_RUN=0 -sENVIRONMENT=web,worker,node -sFILESYSTEM=1 -sEXPORTED_RUNTIME_METHODS=FS,ccall,UTF8ToString \
    -sEXPORTED_FUNCTIONS=_engine_run,_engine_answer,_engine_complaints,_engine_complaint,_engine_build_begin,_engine_build_choose,_engine_build_give,_engine_build_take,_engine_build_end,_malloc,_free
# What runs for each pixel, star or quad is made fast, the rest small.
ENGINE_FAST := $(foreach d,src/base src/image src/stars src/match src/health src/sky index-build,$(WEB)/$(d)/%)
# The linker puts short functions of these into those that call them.
ENGINE_OPTIMISE = $(if $(filter $(ENGINE_FAST),$@),$(WEB_OPTIMISE) -flto,$(WEB_SMALL))
$(WEB)/%.o: %.c | $(LIBRARY)
	@mkdir -p $(@D)
	@printf '  %-8s %s\n' compile $<
	@$(WASM_CC) -c -std=c11 $(ENGINE_OPTIMISE) -Wall -Wextra -Wno-unknown-warning-option $(ENGINE_CPP) -MMD -MP $< -o $@
$(WEB)/%.o: %.cc | $(LIBRARY)
	@mkdir -p $(@D)
	@printf '  %-8s %s\n' compile $<
	@$(WASM_CXX) -c -std=c++17 $(ENGINE_OPTIMISE) $(ENGINE_CPP) -MMD -MP $< -o $@
$(WEB)/engine.js $(WEB)/engine.wasm &: $(ENGINE_OBJ) $(LIBRARY) src/web/stand-ins/browser_letters.js src/web/engine/file_growth.js
	@printf '  %-8s %s\n' link $(WEB)/engine.wasm
	@em++ $(WEB_OPTIMISE) -flto $(ENGINE_LINK) --pre-js src/web/engine/file_growth.js --js-library src/web/stand-ins/browser_letters.js $(ENGINE_OBJ) $(LIBRARY) -o $(WEB)/engine.js
objects: $(ENGINE_OBJ)
engine: $(WEB)/engine.js
-include $(ENGINE_OBJ:.o=.d)

# The page: what it is made of, in one file.
PAGE_SRC := $(wildcard src/web/page/* src/web/worker/* src/web/assemble/*) $(wildcard catalogs/*.tsv)
$(WEB)/alidade.html: $(WEB)/engine.js $(WEB)/engine.wasm $(PAGE_SRC)
	@node src/web/assemble/make_page.js $(WEB) catalogs $(VERSION)
page: $(WEB)/alidade.html
