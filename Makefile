# foampulse: build, test, demo. `make help` lists the targets.

BUILD ?= release
PREFIX ?= /usr/local
CC ?= cc
VERSION := 0.1.0

OUT := .build/$(BUILD)

# Packages of Debian, all declared here.
PACKAGES_BUILD := gcc make pkg-config libc6-dev libhdf5-dev libopenblas-dev liblapacke-dev libyaml-dev libjansson-dev gnuplot-nox
PACKAGES_TEST  := libcriterion-dev libgsl-dev
PACKAGES_LINT  := clang-format clang-tidy cppcheck
PACKAGES_FRESH := debootstrap

WARNINGS := -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wpointer-arith \
            -Wwrite-strings -Wvla -Wformat=2 -Wno-format-nonliteral
ifeq ($(CI),true)
WARNINGS += -Werror
endif

NUMBERS := -ffp-contract=off -fno-math-errno -fno-trapping-math
CPPFLAGS += -I. -D_XOPEN_SOURCE=700 -DFOAMPULSE_VERSION='"$(VERSION)"' -DFOAMPULSE_PREFIX='"$(PREFIX)"' \
            -DFOAMPULSE_SOURCE='"$(CURDIR)"'

ifeq ($(BUILD),release)
MODE := -O3 -g -DNDEBUG
else ifeq ($(BUILD),debug)
MODE := -O1 -g
else ifeq ($(BUILD),asan)
MODE := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
else
$(error BUILD is release, debug or asan)
endif

PKG_CFLAGS := $(shell pkg-config --cflags hdf5-serial yaml-0.1 jansson 2>/dev/null)
PKG_LIBS := $(shell pkg-config --libs hdf5-serial yaml-0.1 jansson 2>/dev/null) -lhdf5_hl -llapacke -lopenblas

CFLAGS_ALL := -std=c17 $(MODE) $(NUMBERS) $(WARNINGS) -pthread -MMD -MP $(PKG_CFLAGS) $(CFLAGS)
LDFLAGS_ALL := -no-pie -pthread -Wl,--as-needed $(MODE) $(LDFLAGS)
LIBS := $(PKG_LIBS) -lm

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

TEST_SOURCES := $(sort $(wildcard tests/unit/*_test.c tests/verify/*_test.c))
TEST_PROGRAMS := $(TEST_SOURCES:%.c=$(OUT)/%)

.PHONY: all tests
.SECONDARY:
.DELETE_ON_ERROR:

all: $(PROGRAM)

$(OUT)/%.o: %.c
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(CFLAGS_ALL) -c $< -o $@

define kernel_rule
$(OUT)/%_kernel.$(1).o: %_kernel.c
	@mkdir -p $$(@D)
	$(CC) $(CPPFLAGS) $(CFLAGS_ALL) -DISA=$(1) $(MARCH_$(1)) -c $$< -o $$@
endef
$(foreach isa,$(ISAS),$(eval $(call kernel_rule,$(isa))))

$(LIBRARY): $(LIB_OBJECTS)
	@rm -f $@
	$(AR) rcs $@ $^

$(PROGRAM): $(CLI_OBJECTS) $(LIBRARY)
	$(CC) $(LDFLAGS_ALL) $^ $(LIBS) -o $@

$(OUT)/tests/%_test: tests/%_test.c $(LIBRARY)
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(CFLAGS_ALL) $(LDFLAGS_ALL) $< $(LIBRARY) $(LIBS) $(shell pkg-config --libs criterion gsl) -o $@

tests: $(TEST_PROGRAMS)

-include $(LIB_OBJECTS:.o=.d) $(CLI_OBJECTS:.o=.d)
