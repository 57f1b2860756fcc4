# foampulse: build, test, demo. `make help` lists the targets.

BUILD ?= release
PREFIX ?= /usr/local
CC ?= cc
VERSION := 0.1.0

OUT := .build/$(BUILD)

# Packages of Debian, all declared here.
PACKAGES_BUILD := gcc make pkg-config libc6-dev libhdf5-dev libopenblas-serial-dev liblapacke-dev libyaml-dev \
                  libjansson-dev gnuplot-nox
PACKAGES_TEST  := libcriterion-dev libgsl-dev
PACKAGES_LINT  := clang-format clang-tidy cppcheck
PACKAGES_FRESH := debootstrap git
PACKAGES_FUZZ  := clang libclang-rt-14-dev
PACKAGES_COVERAGE := gcovr
PACKAGES_VALGRIND := valgrind
PACKAGES_PEERS := libsundials-dev python3-numpy
PACKAGES_REFERENCES := python3-sklearn

WARNINGS := -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wpointer-arith \
            -Wwrite-strings -Wvla -Wformat=2 -Wno-format-nonliteral
ifeq ($(CI),true)
WARNINGS += -Werror
endif

NUMBERS := -ffp-contract=off -fno-math-errno -fno-trapping-math
DEFINES := -I. -D_XOPEN_SOURCE=700 -DFOAMPULSE_VERSION='"$(VERSION)"' -DFOAMPULSE_PREFIX='"$(PREFIX)"' \
           -DFOAMPULSE_SOURCE='"$(CURDIR)"'

ifeq ($(BUILD),release)
MODE := -O3 -g -DNDEBUG
else ifeq ($(BUILD),debug)
MODE := -O1 -g
else ifeq ($(BUILD),asan)
MODE := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
else ifeq ($(BUILD),threads)
MODE := -O1 -g -fsanitize=thread -fno-omit-frame-pointer
else ifeq ($(BUILD),coverage)
MODE := -O1 -g -DNDEBUG --coverage
DEFINES += -include tests/support/leave.h
else ifeq ($(BUILD),fuzz)
MODE := -O1 -g -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
# What clang 14 warns of and gcc does not.
WARNINGS += -Wno-format-zero-length -Wno-pass-failed
else
$(error BUILD is release, debug, asan, threads, coverage or fuzz)
endif

# The serial HDF5 by its Debian name: plain `hdf5` can be the MPI build there.
HDF5 := $(shell pkg-config --exists hdf5-serial 2>/dev/null && echo hdf5-serial || echo hdf5)
PKG_CFLAGS := $(shell pkg-config --cflags $(HDF5) yaml-0.1 jansson 2>/dev/null)
# OpenBLAS without threads, by name and for the libraries that LAPACKE loads too, whichever the system prefers: the
# other one starts a thread in every command, and a process with little memory then never ends.
comma := ,
OPENBLAS := $(wildcard /usr/lib/$(shell $(CC) -print-multiarch 2>/dev/null)/openblas-serial)
PKG_LIBS := $(shell pkg-config --libs $(HDF5) yaml-0.1 jansson 2>/dev/null) -lhdf5_hl -llapacke \
	$(if $(OPENBLAS),-L$(OPENBLAS) -Wl$(comma)--disable-new-dtags$(comma)-rpath$(comma)$(OPENBLAS)) -lopenblas

CFLAGS_ALL := -std=c17 $(MODE) $(NUMBERS) $(WARNINGS) -pthread $(PKG_CFLAGS) $(CFLAGS)
LDFLAGS_ALL := -no-pie -pthread -Wl,--as-needed $(MODE) $(LDFLAGS)
LIBS := $(PKG_LIBS) -lm
TEST_LIBS = $(shell pkg-config --libs criterion gsl)
COMPILE = $(CC) $(DEFINES) $(CPPFLAGS) $(CFLAGS_ALL)

# --- objects: kernels are compiled once for each instruction set -------------------------------------------
ALL_SOURCES := $(sort $(wildcard solver/*/*.c materials/*.c cases/*.c plots/*.c))
KERNELS := $(filter %_kernel.c,$(ALL_SOURCES))
CLI := $(filter solver/cli/%,$(ALL_SOURCES))
PLAIN := $(filter-out $(KERNELS) $(CLI),$(ALL_SOURCES))

ISAS := base v3 v4
ifeq ($(shell uname -m),x86_64)
MARCH_base := -march=x86-64
MARCH_v3 := -march=x86-64-v3
MARCH_v4 := -march=x86-64-v4 -mprefer-vector-width=512
endif

LIB_OBJECTS := $(PLAIN:%.c=$(OUT)/%.o) $(foreach isa,$(ISAS),$(KERNELS:%.c=$(OUT)/%.$(isa).o))
CLI_OBJECTS := $(CLI:%.c=$(OUT)/%.o)
LIBRARY := $(OUT)/libfoampulse.a
PROGRAM := $(OUT)/foampulse

# --- programs of the tests: *_test.c hold Criterion tests, the others are run by validate, bench and kills ---------
TEST_SOURCES := $(sort $(wildcard tests/unit/*_test.c tests/verify/*_test.c tests/fuzz/*_test.c))
VALIDATE_SOURCES := $(sort $(wildcard tests/validate/*.c))
PEERS := tests/bench/peers
BENCH_SOURCES := $(filter-out $(PEERS).c,$(sort $(wildcard tests/bench/*.c)))
FAULT_SOURCES := $(filter-out tests/faults/calls.c,$(sort $(wildcard tests/faults/*.c)))
SUPPORT_SOURCES := $(sort $(wildcard tests/support/*.c))
TEST_PROGRAMS := $(TEST_SOURCES:%.c=$(OUT)/%)
VALIDATE_PROGRAMS := $(VALIDATE_SOURCES:%.c=$(OUT)/%)
BENCH_PROGRAMS := $(BENCH_SOURCES:%.c=$(OUT)/%)
FAULT_PROGRAMS := $(FAULT_SOURCES:%.c=$(OUT)/%)
PEERS_PROGRAM := $(OUT)/$(PEERS)
SUPPORT_OBJECTS := $(SUPPORT_SOURCES:%.c=$(OUT)/%.o)
FUZZ_TARGETS := case csv result
FUZZ_SOURCES := tests/fuzz/target.c tests/fuzz/recipe.c tests/fuzz/mutate.c tests/fuzz/apart.c $(FUZZ_TARGETS:%=tests/fuzz/%_target.c)
FUZZ_PROGRAMS := $(FUZZ_TARGETS:%=$(OUT)/tests/fuzz/%_fuzz)
FUZZ_OBJECTS := $(FUZZ_SOURCES:%.c=$(OUT)/%.o)
# What `show` prints is part of a target; gnuplot is not started for each input.
FUZZ_PARTS := $(FUZZ_OBJECTS) $(filter-out %/main.o,$(CLI_OBJECTS))
FUZZ_LINK := -Wl,--wrap=gnuplot_draw
# Without Criterion: it ends a process in its own way, not so that the fuzzer sees where.
FUZZ_SUPPORT := $(OUT)/tests/support/random.o
# The program and the sweep to be killed once more, with every call of these going through tests/faults/calls.c.
WRAPPED := open close read pread write pwrite fsync fdatasync ftruncate flock fstat rename unlink pipe fork fopen fclose \
           tmpfile posix_spawn
CALLS_OBJECT := $(OUT)/tests/faults/calls.o
CALLS_PROGRAMS := $(OUT)/tests/faults/foampulse_calls $(OUT)/tests/faults/points_calls
TEST_OBJECTS := $(CALLS_OBJECT) $(PEERS_PROGRAM).o $(patsubst %,%.o,$(TEST_PROGRAMS) $(VALIDATE_PROGRAMS) $(BENCH_PROGRAMS) $(FAULT_PROGRAMS)) \
                $(SUPPORT_OBJECTS) $(FUZZ_OBJECTS)

C_FILES := $(sort $(wildcard $(foreach d,solver/* materials cases plots tests/*,$(d)/*.c $(d)/*.h)))
DATA := $(sort $(shell find materials cases -type f ! -name '*.[ch]' ! -name '*.sh' 2>/dev/null))

# Recipes that call make build with all processors unless -j was given.
JOBS = $(if $(findstring j,$(filter -j% --jobserver%,$(MAKEFLAGS))),,-j$(shell nproc))
SUBMAKE = +@$(MAKE) --no-print-directory $(JOBS)

.PHONY: all tests programs deps demo test validate lint layers bench peers references kills calls threads coverage valgrind fuzz mutations random fresh install uninstall clean help FORCE
.SECONDARY:
.DELETE_ON_ERROR:
.DEFAULT_GOAL := all

all: $(PROGRAM) ## the program, .build/release/foampulse (BUILD=release, debug or asan)

# Rebuild when a flag, the compiler or the version changes.
$(OUT)/flags: FORCE
	@mkdir -p $(@D)
	@printf '%s\n' $(call quote,$(COMPILE) $(LDFLAGS_ALL) $(LIBS) $(MARCH_base) $(MARCH_v3) $(MARCH_v4)) >$@.new
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi
quote = '$(subst ','\'',$(1))'

# The commit goes into result files, a checksum of the sources into journals; only the object that holds them is compiled
# again for new ones.
REVISION := $(shell git describe --always --dirty --abbrev=12 2>/dev/null)
FINGERPRINT := $(shell cat Makefile $(ALL_SOURCES) $(sort $(wildcard solver/*/*.h materials/*.h cases/*.h plots/*.h)) | \
                       sha256sum | cut -c1-16)
$(OUT)/revision: FORCE
	@mkdir -p $(@D)
	@echo '$(REVISION) $(FINGERPRINT)' >$@.new
	@if cmp -s $@.new $@; then rm $@.new; else mv $@.new $@; fi
$(OUT)/solver/base/version.o: private DEFINES += -DFOAMPULSE_REVISION='"$(REVISION)"' -DFOAMPULSE_SOURCES='"$(FINGERPRINT)"'
$(OUT)/solver/base/version.o: $(OUT)/revision

$(OUT)/%.o: %.c $(OUT)/flags
	@mkdir -p $(@D)
	$(COMPILE) -MMD -MP -c $< -o $@

define kernel_rule
$(OUT)/%_kernel.$(1).o: %_kernel.c $(OUT)/flags
	@mkdir -p $$(@D)
	$$(COMPILE) -MMD -MP -DISA=$(1) $$(MARCH_$(1)) -c $$< -o $$@
endef
$(foreach isa,$(ISAS),$(eval $(call kernel_rule,$(isa))))

$(LIBRARY): $(LIB_OBJECTS)
	@rm -f $@
	$(AR) rcs $@ $^

$(PROGRAM): $(CLI_OBJECTS) $(LIBRARY)
	$(CC) $(LDFLAGS_ALL) $^ $(LIBS) -o $@

$(TEST_PROGRAMS) $(VALIDATE_PROGRAMS) $(BENCH_PROGRAMS) $(FAULT_PROGRAMS): %: %.o $(SUPPORT_OBJECTS) $(LIBRARY)
	$(CC) $(LDFLAGS_ALL) $(filter %.o,$^) $(filter %.a,$^) $(LIBS) $(TEST_LIBS) -o $@

# Needs packages that nothing else does, so it is no part of the programs.
$(PEERS_PROGRAM): private TEST_LIBS += -lsundials_arkode -lsundials_cvode -lsundials_sunlinsolspgmr \
                                       -lsundials_sunnonlinsolfixedpoint -lsundials_nvecserial
$(PEERS_PROGRAM): $(PEERS_PROGRAM).o $(SUPPORT_OBJECTS) $(LIBRARY)
	$(CC) $(LDFLAGS_ALL) $(filter %.o,$^) $(filter %.a,$^) $(LIBS) $(TEST_LIBS) -o $@

$(CALLS_PROGRAMS): private LDFLAGS_ALL += $(WRAPPED:%=-Wl,--wrap=%)
$(OUT)/tests/faults/foampulse_calls: $(CLI_OBJECTS) $(CALLS_OBJECT) $(LIBRARY)
$(OUT)/tests/faults/points_calls: $(OUT)/tests/faults/points.o $(CALLS_OBJECT) $(LIBRARY)
$(CALLS_PROGRAMS):
	$(CC) $(LDFLAGS_ALL) $^ $(LIBS) -o $@

FUZZ_TESTS := $(filter $(OUT)/tests/fuzz/%,$(TEST_PROGRAMS))
$(FUZZ_TESTS): $(FUZZ_PARTS)
$(FUZZ_TESTS): private LDFLAGS_ALL += $(FUZZ_LINK)

# libFuzzer lives in this process, and so does what the program does in a child: a crash must be seen.
$(OUT)/tests/fuzz/%_entry.o: tests/fuzz/entry.c $(OUT)/flags
	@mkdir -p $(@D)
	$(COMPILE) -DFUZZ_TARGET=$*_target -MMD -MP -c $< -o $@
$(FUZZ_PROGRAMS): %_fuzz: %_entry.o $(OUT)/tests/fuzz/in_process.o $(FUZZ_PARTS) $(FUZZ_SUPPORT) $(LIBRARY)
	$(CC) $(LDFLAGS_ALL) $(FUZZ_LINK) -Wl,--wrap=probe_try -fsanitize=fuzzer $^ $(LIBS) -o $@

tests: $(TEST_PROGRAMS) $(FAULT_PROGRAMS) $(CALLS_PROGRAMS) ## the test programs of this BUILD, not run
programs: $(PROGRAM) $(TEST_PROGRAMS) $(FAULT_PROGRAMS) $(CALLS_PROGRAMS)
validate-programs: $(VALIDATE_PROGRAMS)
bench-programs: $(BENCH_PROGRAMS)
peers-program: $(PEERS_PROGRAM)
fault-programs: $(FAULT_PROGRAMS) $(CALLS_PROGRAMS)
fuzz-programs: $(FUZZ_PROGRAMS)

# Goals that call make again: one after the other when several are typed, or two would write the same files.
previous :=
$(foreach goal,$(filter clean all tests deps demo test validate bench peers references kills calls threads coverage valgrind fuzz mutations random lint fresh install,$(MAKECMDGOALS)), \
    $(eval $(goal): | $(previous))$(eval previous := $(goal)))

# --- what is typed -------------------------------------------------------------------------------------------
deps: ## install what the build needs, where something is missing (Debian)
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD)

demo: ## install what is missing, build, run invented helmets side by side; files in .build/demo/
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD)
	$(SUBMAKE) BUILD=release all
	@cases/demo/demo.sh

test: ## install what the tests need, build, run everything; ends on "N passed, N failed"
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release programs
	$(SUBMAKE) BUILD=asan programs
	@tests/run release asan

validate: ## predictions beside published results
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release all validate-programs
	@for program in $(VALIDATE_PROGRAMS); do echo "== $$program"; $$program || exit 1; done

bench: ## speed: medians of several runs
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release all bench-programs
	@for program in $(BENCH_PROGRAMS); do echo "== $$program"; $$program || exit 1; done

peers: ## speed beside general integrators: SUNDIALS, GSL, NumPy on the same equations
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST) $(PACKAGES_PEERS)
	$(SUBMAKE) BUILD=release peers-program
	@$(OUT)/$(PEERS)

# The Python of Debian, whose packages these are.
references: ## write the tests' reference values from scikit-learn again
	@CC='$(CC)' tests/deps $(PACKAGES_REFERENCES)
	/usr/bin/python3 tests/unit/surrogate_reference.py

SECONDS_EACH ?= 20
fuzz: ## coverage-guided fuzzing of the three readers, SECONDS_EACH=20 each (clang)
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_FUZZ)
	$(SUBMAKE) BUILD=fuzz CC=clang fuzz-programs
	@SECONDS_EACH='$(SECONDS_EACH)' tests/fuzz/fuzz $(FUZZ_TARGETS)

mutations: ## 1,000 random mutations of each shipped case
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release .build/release/tests/fuzz/mutations_test
	@FOAMPULSE_CASES=1000 .build/release/tests/fuzz/mutations_test -j1

random: ## 1,500 random valid cases: pads, helmets by columns and by zones
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release .build/release/tests/fuzz/random_test
	@FOAMPULSE_CASES=500 .build/release/tests/fuzz/random_test -j1

KILLS ?= 300
kills: ## kills a journalled run and a sweep KILLS (300) times each and goes on
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release all fault-programs
	@FOAMPULSE=$(CURDIR)/.build/release/foampulse sh tests/faults/kills.sh $(KILLS) $(SEED)

calls: ## lets every call of the system go wrong once, in turn, in commands that read, solve, write and draw
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST)
	$(SUBMAKE) BUILD=release all fault-programs
	@FOAMPULSE=$(CURDIR)/.build/release/foampulse sh tests/faults/calls.sh

threads: ## the thread sanitizer over runs of several threads; ends on "N runs, N failed"
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD)
	$(SUBMAKE) BUILD=threads all
	@tests/threads

coverage: ## lines of the sources that the tests reach, by room; files below 90 % with the lines they miss
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST) $(PACKAGES_COVERAGE)
	$(SUBMAKE) BUILD=coverage programs
	@tests/coverage

valgrind: ## quick test programs under valgrind; ends on "N programs, N failed"
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST) $(PACKAGES_VALGRIND)
	$(SUBMAKE) BUILD=release tests
	@tests/valgrind

layers: ## check that the rooms know each other only in their order
	@tests/layers .

lint: ## formatter, clang-tidy, cppcheck, the analyzer of gcc
	@CC='$(CC)' tests/deps $(PACKAGES_BUILD) $(PACKAGES_TEST) $(PACKAGES_LINT)
	$(SUBMAKE) -k lint-format lint-cppcheck $(addprefix lint-tidy/,$(ALL_SOURCES)) \
	    $(addprefix lint-analyzer/,$(ALL_SOURCES))

.PHONY: lint-format lint-cppcheck
# What gcc 12 cannot follow through pointers in struct members and through status codes: the sanitizers watch these
# while the tests run (.clang-tidy leaves the like out too).
FALSE_ALARMS := $(addprefix -Wno-analyzer-,shift-count-overflow use-of-uninitialized-value null-dereference \
                malloc-leak file-leak)
lint-format:
	clang-format --dry-run -Werror $(C_FILES)
lint-cppcheck:
	cppcheck --quiet --std=c11 --error-exitcode=1 --enable=warning,portability,performance --inline-suppr \
	    -j2 -I. -DISA=base -DFOAMPULSE_VERSION='""' -DFOAMPULSE_PREFIX='""' -DFOAMPULSE_SOURCE='""' $(ALL_SOURCES)
lint-tidy/%: FORCE
	@clang-tidy --quiet $* -- $(DEFINES) -std=c17 -DISA=base $(PKG_CFLAGS) 2>/dev/null
lint-analyzer/%: FORCE
	@$(CC) $(DEFINES) -std=c17 -O1 $(NUMBERS) -DISA=base $(PKG_CFLAGS) -fanalyzer -Werror $(FALSE_ALARMS) \
	    -c $* -o /dev/null

fresh: ## `make demo` and `make test` of the committed tree in a new Debian 12 (root; into .build/fresh/)
	@CC='$(CC)' tests/deps $(PACKAGES_FRESH)
	@tests/fresh .build/fresh

install: all ## into $(DESTDIR)$(PREFIX): bin/foampulse, share/foampulse/
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/share/foampulse
	install -m 755 $(PROGRAM) $(DESTDIR)$(PREFIX)/bin/foampulse
	@for file in $(DATA); do \
	    install -D -m 644 $$file $(DESTDIR)$(PREFIX)/share/foampulse/$$file || exit 1; done

uninstall: ## remove what install wrote
	rm -f $(DESTDIR)$(PREFIX)/bin/foampulse
	rm -rf $(DESTDIR)$(PREFIX)/share/foampulse

clean: ## remove .build/
	rm -rf .build

help: ## this list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "  make %-10s %s\n", $$1, $$2}' $(firstword $(MAKEFILE_LIST))

FORCE:

-include $(LIB_OBJECTS:.o=.d) $(CLI_OBJECTS:.o=.d) $(TEST_OBJECTS:.o=.d)
