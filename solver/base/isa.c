#include "solver/base/isa.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

static const char *const names[ISA_COUNT] = {"base", "v3", "v4"};
static enum isa chosen;
static pthread_once_t once = PTHREAD_ONCE_INIT;

/* AVX2 level and AVX-512 level of the x86-64 psABI, asked feature by feature: gcc 12 and clang 14 do not
 * both know the level names. */
static enum isa best(void)
{
#if defined(__x86_64__)
    __builtin_cpu_init();
    int v3 = __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma") &&
             __builtin_cpu_supports("bmi") && __builtin_cpu_supports("bmi2");
    int v4 = v3 && __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512bw") &&
             __builtin_cpu_supports("avx512cd") && __builtin_cpu_supports("avx512dq") &&
             __builtin_cpu_supports("avx512vl");
    return v4 ? ISA_V4 : v3 ? ISA_V3 : ISA_BASE;
#else
    return ISA_BASE;
#endif
}

static void choose(void)
{
    chosen = best();
    const char *wish = getenv("FOAMPULSE_ISA");
    for (enum isa isa = ISA_BASE; wish && isa < chosen; isa++) {
        if (strcmp(wish, names[isa]) == 0)
            chosen = isa;
    }
}

enum isa isa_chosen(void)
{
    pthread_once(&once, choose);
    return chosen;
}

const char *isa_name(enum isa isa)
{
    return names[isa];
}

enum isa isa_force(enum isa isa)
{
    pthread_once(&once, choose);
    if (isa <= best())
        chosen = isa;
    return chosen;
}
