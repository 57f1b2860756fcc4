#ifndef FOAMPULSE_BASE_ISA_H
#define FOAMPULSE_BASE_ISA_H

/*
 * Instruction sets of the kernels.
 *
 * Each *_kernel.c is compiled three times, with -DISA=base, v3 and v4 (x86-64 micro-architecture levels;
 * elsewhere only base exists and the other two are built as base). Its functions are named ISA_NAME(name),
 * which gives name_base, name_v3, name_v4. The caller keeps a table of three pointers indexed by
 * isa_chosen(). All three give the same bits: no contraction, no reassociation.
 */

enum isa { ISA_BASE, ISA_V3, ISA_V4, ISA_COUNT };

/* The instruction set in use: the best the processor has, lowered by FOAMPULSE_ISA=base|v3|v4. Read once. */
enum isa isa_chosen(void);

/* "base", "v3" or "v4". */
const char *isa_name(enum isa isa);

/* For tests: uses this set from now on, if the processor has it; returns what is then in use. */
enum isa isa_force(enum isa isa);

#define ISA_JOIN_(a, b) a##_##b
#define ISA_JOIN(a, b)  ISA_JOIN_(a, b)
#define ISA_NAME(name)  ISA_JOIN(name, ISA)

/* For kernels. INDEPENDENT stands before a loop whose arrays do not overlap, so that it may become vector
 * code; a part of a kernel is INLINE, what must not be merged with its caller NOT_INLINE. */
#if defined(__clang__)
#define INDEPENDENT _Pragma("clang loop vectorize(assume_safety)")
#else
#define INDEPENDENT _Pragma("GCC ivdep")
#endif
#define INLINE     inline __attribute__((always_inline))
#define NOT_INLINE __attribute__((noinline))

#endif
