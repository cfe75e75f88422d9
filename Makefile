# Alidade: build, test, measure. `make help` lists the targets.

VERSION  := 0.2.0
RELEASED := November 29, 2026
PREFIX   ?= /usr/local
DESTDIR  ?=
B        := build

CC       ?= cc
CXX      ?= c++
OPTIMISE ?= -O2 -g
# What a compiler and a linker can do against a slip that a damaged file would use; sanitizers look for
# more and go without. On another kind of processor there is no -fcf-protection.
HARDEN   ?= -D_FORTIFY_SOURCE=3 -fstack-protector-strong -fstack-clash-protection \
            $(if $(filter x86_64,$(shell uname -m)),-fcf-protection) -fPIE
HARDEN_LINK ?= -pie -Wl,-z,relro,-z,now,-z,noexecstack
# The same source makes the same programs, wherever it lies.
ANYWHERE := -ffile-prefix-map=$(CURDIR)=.
WARN     := -Wall -Wextra -Wpedantic -Wshadow -Wconversion
PACKAGES := cfitsio wcslib erfa libpng libjpeg libtiff-4 libraw_r libexif inih json-c cairo pangocairo zlib
# What the live page of watch needs besides.
PAGE_PACKAGES := libmicrohttpd libqrencode
# What reading in a cage needs besides.
CAGE_PACKAGES := libseccomp
# Deferred (=): looked up after `make deps` has put the packages in place.
PKG_CFLAGS = $(shell pkg-config --cflags $(PACKAGES) $(PAGE_PACKAGES) $(CAGE_PACKAGES) 2>/dev/null)
PKG_LIBS   = $(filter-out -fopenmp,$(shell pkg-config --libs $(PACKAGES) 2>/dev/null))
CPPFLAGS += -D_POSIX_C_SOURCE=200809L -Isrc -DALIDADE_VERSION='"$(VERSION)"' \
            -DALIDADE_DATA_DIR='"$(PREFIX)/share/alidade"' -MMD -MP
CFLAGS   += -std=c11 -ffp-contract=off $(OPTIMISE) $(HARDEN) $(ANYWHERE) $(WARN) $(EXTRA_CFLAGS)
CXXFLAGS += -std=c++17 $(OPTIMISE) $(HARDEN) $(ANYWHERE) -Wall -Wextra -Wshadow $(EXTRA_CFLAGS)
override LDFLAGS += $(HARDEN_LINK)
LDLIBS    = $(PKG_LIBS) -lm -lpthread -lstdc++
PAGE_LIBS = $(shell pkg-config --libs $(PAGE_PACKAGES) $(CAGE_PACKAGES) 2>/dev/null)
# What alidade-index and the tests need besides.
INDEX_LIBS = -lchealpix $(shell pkg-config --libs expat 2>/dev/null)

LIBRARY_DIRS := base sky image image/guards stars match health objects rig tripod plan night draw stack jobs
LIBRARY_SRC  := $(foreach d,$(LIBRARY_DIRS),$(wildcard src/$(d)/*.c src/$(d)/*.cc))
PAGE_SRC     := $(wildcard src/page/*.c)
CAGE_SRC     := $(wildcard src/cage/*.c)
CLI_SRC      := $(filter-out src/cli/main.c,$(wildcard src/cli/*.c))
MANUAL_SRC   := $(filter-out src/manual/alidade_manual.c,$(wildcard src/manual/*.c))
INDEX_SRC    := $(wildcard index-build/*.c)
INDEX_PROG   := $(filter index-build/index_program.c index-build/command_%.c,$(INDEX_SRC))
INDEX_LIB    := $(filter-out index-build/index_m%.c $(INDEX_PROG),$(INDEX_SRC))
DEMO_LIB     := $(filter-out demo/%_main.c,$(wildcard demo/*.c))
UNIT_SRC     := $(wildcard tests/unit/*.c)
SUITES       := $(patsubst tests/unit/test_%.c,%,$(filter tests/unit/test_%,$(UNIT_SRC)))
# Programs that the scripts in tests/ run; each is one C file.
TEST_SRC     := $(wildcard tests/outside/*.c tests/end/*.c tests/bench/*.c tests/fuzz/fuzz_*.c)
TEST_PROGRAMS = $(addprefix $(B)/,$(basename $(TEST_SRC)))
objects       = $(addprefix $(B)/,$(addsuffix .o,$(basename $(1))))

LIB          := $(B)/libalidade.a
BUNDLED      := $(B)/hipparcos.alidx
SCHEMA       := $(B)/alidade.schema.json
PROGRAMS     := $(B)/alidade $(B)/alidade-index

# As many jobs as processors (a make within a make shares its parent's), one short line each;
# `make V=1` shows the commands.
ifeq ($(MAKELEVEL),0)
MAKEFLAGS += --jobs=$(shell nproc 2>/dev/null || echo 1)
endif
ifneq ($(V),1)
.SILENT:
endif
say = @printf '  %-8s %s\n' $(1) $@

.DEFAULT_GOAL := all
.PHONY: all help man completions test test-long analyse coverage test-faults test-threads test-page demo check-reproducible evening renew-readme sbom deb test-deb bench bench-usual bench-long check-asan check-headers check-thresholds catalogs fuzz install uninstall web web-sources test-web clean

all: $(PROGRAMS) $(BUNDLED) $(SCHEMA) man completions ## build the programs, the bundled index and the manual

help: ## list the targets
	@sed -nE 's/^([a-z-]+):.*## (.*)/\1\t\2/p' Makefile | expand -t 16

# Packages are looked for once; the stamps go away with `make clean`.
$(B)/.packages:
	@mkdir -p $(B)
	@bash .ci/packages
	@touch $@
$(B)/.packages-test: $(B)/.packages
	@bash .ci/packages test
	@touch $@

# Pixels are many: their loops are worth unrolling. No flag of an exception is ever looked at.
$(B)/src/image/%.o $(B)/src/stars/%.o $(B)/src/stack/%.o: OPTIMISE := -O3 -g -fno-trapping-math
COMPILE = $(CC) $(CPPFLAGS) $(PKG_CFLAGS) $(CFLAGS)
$(B)/src/%.o: src/%.c | $(B)/.packages
	@mkdir -p $(@D)
	$(call say,compile)
	$(COMPILE) -c $< -o $@
$(B)/src/%.o: src/%.cc | $(B)/.packages
	@mkdir -p $(@D)
	$(call say,compile)
	$(CXX) $(CPPFLAGS) $(CXXFLAGS) -c $< -o $@
$(B)/%.o: %.c | $(B)/.packages
	@mkdir -p $(@D)
	$(call say,compile)
	$(COMPILE) -I. -Iindex-build -Itests/unit -c $< -o $@
# Version and prefix are compiled in.
$(call objects,$(shell grep -rlE 'ALIDADE_(VERSION|DATA_DIR)' src index-build)): $(B)/.compiled-in
$(B)/.compiled-in: always
	@mkdir -p $(@D)
	@echo '$(VERSION) $(PREFIX)' | cmp -s - $@ || echo '$(VERSION) $(PREFIX)' > $@
.PHONY: always
# By name: a pattern without a recipe would say nothing.
$(call objects,$(UNIT_SRC) $(TEST_SRC) tests/fuzz/replay.c): | $(B)/.packages-test

$(LIB): $(call objects,$(LIBRARY_SRC))
	@rm -f $@
	$(AR) rcs $@ $^
$(B)/libindex-build.a: $(call objects,$(INDEX_LIB))
	@rm -f $@
	$(AR) rcs $@ $^
$(B)/libpage.a: $(call objects,$(PAGE_SRC) $(CAGE_SRC))
	@rm -f $@
	$(AR) rcs $@ $^
$(B)/libcli.a: $(call objects,$(CLI_SRC))
	@rm -f $@
	$(AR) rcs $@ $^
# The files of the page are numbers in the program.
LIVE_FILES := $(patsubst src/page/files/%,$(B)/src/page/%.inc,$(wildcard src/page/files/*))
$(LIVE_FILES): $(B)/src/page/%.inc: src/page/files/%
	@mkdir -p $(@D)
	@od -An -v -tu1 $< | sed -E 's/([0-9]+)/\1,/g' > $@
$(B)/src/page/live_files.o: $(LIVE_FILES)
$(B)/src/page/live_files.o: CPPFLAGS += -I$(B)/src/page
$(B)/libdemo.a: $(call objects,$(DEMO_LIB))
	@rm -f $@
	$(AR) rcs $@ $^

$(B)/alidade: $(B)/src/cli/main.o $(B)/libcli.a $(B)/libpage.a $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) $(PAGE_LIBS) -o $@
$(B)/alidade-index: $(B)/index-build/index_main.o $(call objects,$(INDEX_PROG)) $(B)/libindex-build.a $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) $(INDEX_LIBS) -o $@
# What writes manual pages and completions from the tables of the programs.
$(B)/manual-alidade: $(B)/src/manual/alidade_manual.o $(call objects,$(MANUAL_SRC)) $(B)/libcli.a \
    $(B)/libpage.a $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) $(PAGE_LIBS) -o $@
$(B)/manual-alidade-index: $(B)/index-build/index_manual.o $(call objects,$(MANUAL_SRC) $(INDEX_PROG)) \
    $(B)/libindex-build.a $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) $(INDEX_LIBS) -o $@
$(B)/demo/render: $(B)/demo/render_main.o $(B)/libdemo.a $(LIB)
	@mkdir -p $(@D)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) -o $@

# The unit tests are one program; the list of suites comes from the names of the files.
$(B)/tests/unit/suites.inc: $(UNIT_SRC) Makefile
	@mkdir -p $(@D)
	@printf 'SUITE(%s)\n' $(SUITES) > $@
$(B)/tests/unit/run.o: $(B)/tests/unit/suites.inc
$(B)/tests/unit/run.o: CPPFLAGS += -I$(B)
$(call objects,$(UNIT_SRC)): CPPFLAGS += -include tests/unit/quiet_check.h
$(B)/tests/unit/run: $(call objects,$(UNIT_SRC)) $(B)/libindex-build.a $(B)/libdemo.a $(B)/libcli.a $(B)/libpage.a \
    $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) $(PAGE_LIBS) $(shell pkg-config --libs check) -lsep $(INDEX_LIBS) -o $@

$(filter-out $(B)/tests/fuzz/%,$(TEST_PROGRAMS)): %: %.o $(B)/libindex-build.a $(B)/libdemo.a $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $^ $(LDLIBS) -lsep $(INDEX_LIBS) -o $@
# What is preloaded to have a run's memory fall short.
SHORT_MEMORY := $(B)/tests/faults/short_memory.so
$(SHORT_MEMORY): tests/faults/short_memory.c | $(B)/.packages
	@mkdir -p $(@D)
	$(call say,link)
	$(CC) -std=c11 -O1 -g $(WARN) -fPIC -shared $< -o $@
# A fuzz target gets its main from replay.c, or from libFuzzer under `make fuzz`.
FUZZ_MAIN ?= $(B)/tests/fuzz/replay.o
FUZZERS := $(filter $(B)/tests/fuzz/%,$(TEST_PROGRAMS))
$(FUZZERS): %: %.o $(FUZZ_MAIN) $(B)/libindex-build.a $(B)/libpage.a $(LIB)
	$(call say,link)
	$(CC) $(LDFLAGS) $(EXTRA_CFLAGS) $(FUZZ_LINK) $^ $(LDLIBS) $(PAGE_LIBS) $(INDEX_LIBS) -o $@

# The same program makes the same index: it is built again when the program is another one, not
# when that was linked again. Lines of the source, which only a debugger reads, do not count.
$(B)/.index-builder: $(B)/alidade-index
	@strip -g -R .note.gnu.build-id -o $@.new $<
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi
$(BUNDLED): catalogs/stars.tsv $(B)/.index-builder
	$(B)/alidade-index build catalogs/stars.tsv --output $@ --name Hipparcos

# A page comes from the program that its name begins with; so does a completion.
PAGES       := $(notdir $(basename $(wildcard src/manual/pages/*.mdoc)))
INDEX_PAGES := $(filter alidade-index.%,$(PAGES))
MAN         := $(foreach p,$(PAGES),$(B)/man/man$(subst .,,$(suffix $(p)))/$(p))
COMPLETION_FILES := $(foreach n,alidade alidade-index,bash/$(n) zsh/_$(n) fish/$(n).fish)
COMPLETIONS := $(addprefix $(B)/completions/,$(COMPLETION_FILES))
man: $(MAN) ## write the manual pages to build/man
completions: $(COMPLETIONS) ## write completions for bash, zsh and fish to build/completions
$(MAN): $(B)/.compiled-in $(B)/manual-alidade $(B)/manual-alidade-index
$(foreach p,$(PAGES),$(eval $(filter %/$(p),$(MAN)): src/manual/pages/$(p).mdoc))
$(MAN):
	@mkdir -p $(@D)
	$(call say,write)
	$(B)/manual-alidade$(if $(filter $(INDEX_PAGES),$(@F)),-index) page '$(RELEASED)' \
	    <src/manual/pages/$(@F).mdoc >$@.new && mv $@.new $@
$(COMPLETIONS): $(B)/manual-alidade $(B)/manual-alidade-index
	@mkdir -p $(@D)
	$(B)/manual-$(patsubst _%,%,$(basename $(@F))) $(notdir $(@D)) >$@.new && mv $@.new $@

# What --json prints and logs keep, for other programs.
$(SCHEMA): $(B)/manual-alidade
	@$< schema >$@.new && mv $@.new $@

FOR_TESTS := all $(B)/.packages-test $(B)/tests/unit/run $(TEST_PROGRAMS) $(B)/demo/render
test: $(FOR_TESTS) ## run the tests
	@bash tests/outside/fetch.sh $(B)
	@bash tests/run.sh $(B) tree outside bad-input end fuzz web
test-long: $(FOR_TESTS) ## those that draw their cases by lot again, with five times as many
	@bash tests/outside/fetch.sh $(B)
	@SAMPLE_TIMES=5 bash tests/run.sh $(B) --sampled tree outside bad-input end fuzz web

test-page: all $(B)/demo/render ## play a night through the live page in chromium, if that is installed
	@/usr/bin/python3 tests/page/check_page.py; code=$$?; [ $$code -eq 77 ] || exit $$code
test-page: export BUILD := $(B)

$(B)/.packages-scale: $(B)/.packages
	@bash .ci/packages test-scale
	@touch $@
test-scale: all $(B)/.packages-scale $(B)/demo/render ## spread a night by GNU parallel and Slurm, and kill tasks
	@bash tests/scale/check_cluster.sh $(B); code=$$?; [ $$code -eq 77 ] || exit $$code

test-faults: all $(SHORT_MEMORY) $(B)/demo/render ## let memory run short, disks fail, and kill; some minutes
	@bash tests/faults/run.sh $(B)

demo: all $(B)/demo/render ## render a night of our own and run the whole job on it
	@bash demo/run.sh $(B)

evening: all $(B)/demo/render ## render the frames of the evening in README.md into build/evening
	@bash demo/evening.sh $(B) $(B)/evening

renew-readme: all $(B)/demo/render ## have README.md show what its commands print now
	@/usr/bin/python3 tests/end/check_readme.py --renew

bench: bench-usual ## measure every number the project promises, in a quarter of an hour
bench-long: ## the same with the long statistics: hours
bench-usual bench-long: bench-%: all $(B)/.packages-test $(TEST_PROGRAMS) $(B)/demo/render
	@bash tests/outside/fetch.sh $(B)
	@bash tests/bench/run.sh $(B) $*

check-asan: ## the tests again with address and undefined-behaviour sanitizers
	@$(MAKE) B=build/asan OPTIMISE='-O1 -g' HARDEN= HARDEN_LINK= \
	    EXTRA_CFLAGS='$(EXTRA_CFLAGS) -fsanitize=address,undefined -fno-sanitize-recover=all' asan-run
.PHONY: asan-run
asan-run: all $(B)/.packages-test $(B)/tests/unit/run $(TEST_PROGRAMS) $(B)/demo/render
	@CK_FORK=no SAMPLE_TIMES=0.25 PATIENCE=1200 ASAN_OPTIONS=allocator_may_return_null=1 \
	    LSAN_OPTIONS=suppressions=$(CURDIR)/tests/leaks-elsewhere.txt:print_suppressions=0 \
	    bash tests/run.sh $(B) bad-input fuzz

MAKE_FUZZ = $(MAKE) B=build/fuzz CC='$(FUZZ_CC)' CXX='$(FUZZ_CXX)' HARDEN= HARDEN_LINK= FUZZ_MAIN= \
    FUZZ_LINK=-fsanitize=fuzzer EXTRA_CFLAGS='$(EXTRA_CFLAGS) -fsanitize=fuzzer-no-link,address,undefined \
        -fsanitize=float-cast-overflow -fno-sanitize=vptr -fno-sanitize-recover=all'
FUZZ_CC  ?= clang
FUZZ_CXX ?= clang++
fuzz: ## look for input that does harm, half a minute for each kind (READERS='...', SECONDS_EACH=); needs clang
	@command -v clang >/dev/null || { echo "make fuzz needs clang" >&2; exit 1; }
	@$(MAKE_FUZZ) fuzz-run
HOURS ?= 8
fuzz-long: ## the same for HOURS=8 on all processors; keeps what is worth replaying
	@command -v clang >/dev/null || { echo "make fuzz-long needs clang" >&2; exit 1; }
	@KEEP=64 AT_ONCE=$$(nproc) SECONDS_EACH=$$(awk 'BEGIN {print int($(HOURS) * 3600 * '$$(nproc)' / $(words $(FUZZERS)))}') \
	    $(MAKE_FUZZ) fuzz-run
.PHONY: fuzz-long fuzz-run
fuzz-run: $(FUZZERS)
	@bash tests/fuzz/let_loose.sh $(B) $(READERS)

check-thresholds: $(B)/tests/unit/run ## move each threshold by a fifth and see a unit test fail
	@COMPILE="$$CHECK_COMPILE" LINK="$$CHECK_LINK" python3 tests/thresholds/check_thresholds.py $(B) $(ONLY)
check-thresholds: export CHECK_COMPILE = $(COMPILE)
check-thresholds: export CHECK_LINK = $(CC) $(LDFLAGS) $(EXTRA_CFLAGS) OBJECTS $(B)/libindex-build.a \
    $(B)/libdemo.a $(B)/libcli.a $(B)/libpage.a $(LIB) $(LDLIBS) $(PAGE_LIBS) \
    $(shell pkg-config --libs check) $(INDEX_LIBS) -o OUT

test-threads: ## look for races under ThreadSanitizer, on 1 to 64 threads; some minutes
	@$(MAKE) B=build/threads OPTIMISE='-O1 -g' HARDEN= HARDEN_LINK= \
	    EXTRA_CFLAGS='$(EXTRA_CFLAGS) -fsanitize=thread' threads-run
.PHONY: threads-run
threads-run: all $(B)/demo/render
	@bash tests/threads/check_threads.sh $(B)

coverage: ## which lines the tests reach, by gcov, against goals; a quarter of an hour
	@$(MAKE) B=build/coverage OPTIMISE='-O0 -g' HARDEN= HARDEN_LINK= EXTRA_CFLAGS='$(EXTRA_CFLAGS) --coverage' \
	    coverage-run
.PHONY: coverage-run
coverage-run: all $(B)/.packages-test $(B)/tests/unit/run $(TEST_PROGRAMS) $(B)/demo/render
	@find $(B) -name '*.gcda' -delete
	-@PATIENCE=1200 bash tests/run.sh $(B) bad-input end fuzz
	@python3 tests/coverage/covered_lines.py $(B)

analyse: $(LIVE_FILES) ## what cppcheck, gcc -fanalyzer and clang --analyze find that is not explained
	@bash tests/analyse/run.sh $(B)

check-reproducible: | $(B)/.packages ## build what is committed twice, elsewhere, and compare byte by byte
	@bash tests/tree/reproducible.sh

check-headers: | $(B)/.packages ## each header compiles by itself, in C and in C++
	@for h in $$(find src index-build demo -name '*.h' -not -path 'src/web/stand-ins/*'); do \
	    printf '#include "%s"\nint alone;\n' $$h | $(CC) -std=c11 -D_POSIX_C_SOURCE=200809L $(WARN) \
	        -Isrc -Iindex-build -I. $(PKG_CFLAGS) -fsyntax-only -x c - || exit 1; \
	done; echo "every header stands alone"

catalogs: ## make the tables in catalogs/ again from the packages they come from
	@mkdir -p $(B)
	cd $(B) && npm pack --silent d3-celestial@0.7.35
	python3 catalogs/remake.py $(B)/d3-celestial-0.7.35.tgz catalogs
	cd $(B) && apt-get download -q liblensfun-data-v1=0.3.3-1
	dpkg-deb -x $(B)/liblensfun-data-v1_0.3.3-1_all.deb $(B)/lensfun
	python3 catalogs/remake_bodies.py $(B)/lensfun catalogs
ifdef OPENNGC
	python3 catalogs/remake_openngc.py "$(OPENNGC)" catalogs
else
	@echo "ngc.tsv and outlines.tsv stay as they are: OPENNGC=DIR names the folder of their source"
endif

# What the program reads; other tables are only needed to make these.
TABLES := $(filter-out catalogs/caldwell.tsv catalogs/supplement.tsv catalogs/usual-names.tsv,$(wildcard catalogs/*.tsv))
SHARE   = $(DESTDIR)$(PREFIX)/share
# Where each shell looks.
BASH_COMPLETIONS = $(SHARE)/bash-completion/completions
ZSH_COMPLETIONS  = $(SHARE)/zsh/site-functions
FISH_COMPLETIONS = $(SHARE)/fish/vendor_completions.d
install: all ## install into DESTDIR/PREFIX
	install -d $(DESTDIR)$(PREFIX)/bin $(SHARE)/alidade $(SHARE)/man/man1 $(SHARE)/man/man5 \
	    $(BASH_COMPLETIONS) $(ZSH_COMPLETIONS) $(FISH_COMPLETIONS)
	install -m 755 $(PROGRAMS) $(DESTDIR)$(PREFIX)/bin
	install -m 644 $(BUNDLED) $(SCHEMA) $(TABLES) $(SHARE)/alidade
	install -m 644 LICENSE $(wildcard catalogs/LICENSE.*) $(SHARE)/alidade
	install -m 644 $(filter %.1,$(MAN)) $(SHARE)/man/man1
	install -m 644 $(filter %.5,$(MAN)) $(SHARE)/man/man5
	install -m 644 $(B)/completions/bash/* $(BASH_COMPLETIONS)
	install -m 644 $(B)/completions/zsh/* $(ZSH_COMPLETIONS)
	install -m 644 $(B)/completions/fish/* $(FISH_COMPLETIONS)

sbom: all ## write the bill of materials, what the programs are made of, to build (SPDX)
	@/usr/bin/python3 .ci/bill.py $(B) $(VERSION) '$(RELEASED)' >$(B)/alidade.spdx.json.new && \
	    mv $(B)/alidade.spdx.json.new $(B)/alidade.spdx.json && echo $(B)/alidade.spdx.json

deb: all ## build a Debian package in build
	@bash .ci/deb/build.sh $(B) $(VERSION)

test-deb: deb $(B)/demo/render ## try it: lintian, and a bare Debian in a folder; as root, some minutes
	@bash .ci/deb/try.sh $(B) $(B)/alidade_$(VERSION)_$$(dpkg --print-architecture).deb

uninstall: ## take away what install put there
	rm -f $(addprefix $(DESTDIR)$(PREFIX)/bin/,$(notdir $(PROGRAMS)))
	rm -f $(MAN:$(B)/man/%=$(SHARE)/man/%) $(addprefix $(BASH_COMPLETIONS)/,alidade alidade-index)
	rm -f $(addprefix $(ZSH_COMPLETIONS)/,_alidade _alidade-index)
	rm -f $(addprefix $(FISH_COMPLETIONS)/,alidade.fish alidade-index.fish)
	rm -rf $(SHARE)/alidade

MAKE_WEB = $(MAKE) --no-print-directory -f src/web/web.mk WEB=$(B)/web LIBRARY_DIRS='$(LIBRARY_DIRS)' \
    SOURCES='$(SOURCES)' WEB_CACHE='$(WEB_CACHE)'
web: ## the page: build/web/alidade.html and build/web/app; WEB_CACHE=FOLDER keeps its libraries
	@bash .ci/packages web
	+@$(MAKE_WEB) page
web-sources: # of the page's libraries; fails where they are not to be had
	@bash .ci/packages web
	+@$(MAKE_WEB) sources
test-web: all web $(B)/demo/render ## the page in a real browser, its answers against the program's
	@bash .ci/packages test-web
	@bash tests/web/run.sh $(B)

clean: ## remove everything that was built
	rm -rf $(B) demo/out

-include $(shell find $(B) -type f -name '*.d' 2>/dev/null)
