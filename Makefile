# Alidade: build, test, measure. `make help` lists the targets.

VERSION  := 0.1.0
PREFIX   ?= /usr/local
DESTDIR  ?=
B        := build

CC       ?= cc
CXX      ?= c++
OPTIMISE ?= -O2 -g
WARN     := -Wall -Wextra -Wpedantic -Wshadow -Wconversion
PACKAGES := cfitsio wcslib erfa chealpix libpng libjpeg libexif cairo zlib
# Deferred (=): looked up after `make deps` has put the packages in place.
PKG_CFLAGS = $(shell pkg-config --cflags $(PACKAGES) 2>/dev/null)
PKG_LIBS   = $(shell pkg-config --libs $(PACKAGES) 2>/dev/null)
CPPFLAGS += -D_POSIX_C_SOURCE=200809L -Isrc -DALIDADE_VERSION='"$(VERSION)"' \
            -DALIDADE_DATA_DIR='"$(PREFIX)/share/alidade"' -MMD -MP
CFLAGS   += -std=c11 $(OPTIMISE) $(WARN) $(EXTRA_CFLAGS)
CXXFLAGS += -std=c++17 $(OPTIMISE) -Wall -Wextra -Wshadow $(EXTRA_CFLAGS)
LDLIBS    = $(PKG_LIBS) -lsep -lm -lpthread -lstdc++

LIBRARY_DIRS := base image stars sky match framing draw
LIBRARY_SRC  := $(foreach d,$(LIBRARY_DIRS),$(wildcard src/$(d)/*.c src/$(d)/*.cc))
CLI_SRC      := $(wildcard src/cli/*.c)
INDEX_SRC    := $(wildcard index-build/*.c)
INDEX_LIB    := $(filter-out index-build/main.c index-build/command_%.c,$(INDEX_SRC))
INDEX_PROG   := $(filter index-build/main.c index-build/command_%.c,$(INDEX_SRC))
DEMO_LIB     := $(filter-out demo/%_main.c,$(wildcard demo/*.c))
UNIT_SRC     := $(wildcard tests/unit/*.c)
BENCH_SRC    := $(wildcard tests/bench/*.c)
objects       = $(addprefix $(B)/,$(addsuffix .o,$(basename $(1))))

LIB          := $(B)/libalidade.a
BUNDLED      := $(B)/hipparcos.alidx
PROGRAMS     := $(B)/alidade $(B)/alidade-index

.DEFAULT_GOAL := all
.PHONY: all help deps test demo bench check-asan check-headers catalogs install uninstall clean

all: $(PROGRAMS) $(BUNDLED)

$(B)/%.o: %.c | deps-once
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(PKG_CFLAGS) $(CFLAGS) $(if $(filter src/%,$<),,-Iindex-build -Idemo -Itests) -c $< -o $@
$(B)/%.o: %.cc | deps-once
	@mkdir -p $(@D)
	$(CXX) $(CPPFLAGS) $(CXXFLAGS) -c $< -o $@

$(LIB): $(call objects,$(LIBRARY_SRC))
	@rm -f $@
	$(AR) rcs $@ $^
$(B)/libindex-build.a: $(call objects,$(INDEX_LIB))
	@rm -f $@
	$(AR) rcs $@ $^
$(B)/libdemo.a: $(call objects,$(DEMO_LIB))
	@rm -f $@
	$(AR) rcs $@ $^

$(B)/alidade: $(call objects,$(CLI_SRC)) $(LIB)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) -o $@
$(B)/alidade-index: $(call objects,$(INDEX_PROG)) $(B)/libindex-build.a $(LIB)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) -o $@
$(B)/demo/render: $(B)/demo/render_main.o $(B)/libdemo.a $(LIB)
	@mkdir -p $(@D)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) -o $@
$(B)/tests/unit/run: $(call objects,$(UNIT_SRC)) $(B)/libindex-build.a $(B)/libdemo.a $(LIB)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) $(shell pkg-config --libs check) -o $@
$(B)/tests/bench/%: $(B)/tests/bench/%.o $(B)/libindex-build.a $(B)/libdemo.a $(LIB)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) -o $@

$(BUNDLED): catalogs/stars.tsv $(B)/alidade-index
	$(B)/alidade-index build catalogs/stars.tsv -o $@ --name Hipparcos

.PHONY: deps-once
deps-once:

-include $(shell find $(B) -name '*.d' 2>/dev/null)
