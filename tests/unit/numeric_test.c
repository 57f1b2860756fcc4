/*
 * solver/base/numeric against the C library in long double (64-bit significand), on random input and at the
 * ends of the ranges; and the same bits under three instruction sets.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "solver/base/isa.h"
#include "solver/base/numeric.h"
#include "tests/support/random.h"

static struct random chance;

/* Difference in units in the last place of the exact value; denormals count in their own spacing. */
static double units_off(double value, long double exact)
{
    double nearest = (double)exact;
    double spacing = nextafter(fabs(nearest), INFINITY) - fabs(nearest);
    return (double)(fabsl((long double)value - exact) / (long double)spacing);
}

static double any_positive(void)
{
    return ldexp(random_between(&chance, 1.0, 2.0), (int)random_between(&chance, -1022, 1023));
}

struct function {
    const char *name;
    double (*own)(double);
    long double (*exact)(long double);
    double low, high; /* equal: any positive double */
    double limit;     /* units in the last place */
};

static const struct function functions[] = {
    {"exp", numeric_exp, expl, -708, 709.7, 2},  {"exp", numeric_exp, expl, -1, 1, 2},
    {"exp", numeric_exp, expl, -745, -708, 2},   {"log", numeric_log, logl, 0, 0, 2},
    {"log", numeric_log, logl, 0.5, 2, 2},       {"log2", numeric_log2, log2l, 0, 0, 2},
    {"log2", numeric_log2, log2l, 0.5, 2, 2},    {"log10", numeric_log10, log10l, 0, 0, 2},
    {"log10", numeric_log10, log10l, 0.5, 2, 2}, {"sin", numeric_sin, sinl, -4, 4, 2},
    {"sin", numeric_sin, sinl, -1e6, 1e6, 2},    {"cos", numeric_cos, cosl, -4, 4, 2},
    {"cos", numeric_cos, cosl, -1e6, 1e6, 2},
};

Test(numeric, agrees_with_the_c_library)
{
    chance = random_begin();
    for (size_t f = 0; f < sizeof functions / sizeof *functions; f++) {
        const struct function *function = &functions[f];
        double worst = 0, at = 0;
        for (int i = 0; i < 300000; i++) {
            double x = function->low < function->high ? random_between(&chance, function->low, function->high)
                                                      : any_positive();
            double off = units_off(function->own(x), function->exact(x));
            at = off > worst ? x : at;
            worst = off > worst ? off : worst;
        }
        printf("figure: %-5s %10g .. %-10g: %.3f units at %.17g\n", function->name, function->low,
               function->high, worst, at);
        cr_assert(worst < function->limit, "%s off by %g units at %.17g", function->name, worst, at);
    }
}

Test(numeric, atan2_agrees_with_the_c_library)
{
    chance = random_begin();
    double worst = 0;
    for (int i = 0; i < 600000; i++) {
        double x = random_between(&chance, -1, 1) * (i % 3 ? 1 : 1e9),
               y = random_between(&chance, -1, 1) * (i % 5 ? 1 : 1e-7);
        worst = fmax(worst, units_off(numeric_atan2(y, x), atan2l(y, x)));
    }
    printf("figure: atan2: %.3f units\n", worst);
    cr_assert(worst < 3);
    const double ends[] = {-INFINITY, -2, -1, -0.0, 0.0, 1, 2, INFINITY};
    for (int i = 0; i < 64; i++) {
        double own = numeric_atan2(ends[i / 8], ends[i % 8]), exact = atan2(ends[i / 8], ends[i % 8]);
        cr_assert(fabs(own - exact) <= 4.5e-16 && signbit(own) == signbit(exact), "atan2(%g, %g) = %g",
                  ends[i / 8], ends[i % 8], own);
    }
}

Test(numeric, ends_of_the_ranges)
{
    cr_assert(numeric_exp(0.0) == 1.0 && numeric_exp(-INFINITY) == 0.0 && numeric_exp(-746) == 0.0);
    cr_assert(isinf(numeric_exp(710)) && isinf(numeric_exp(INFINITY)) && isnan(numeric_exp(NAN)));
    cr_assert(numeric_log(1.0) == 0.0 && numeric_log2(1.0) == 0.0 && numeric_log10(1.0) == 0.0);
    cr_assert(numeric_log(0.0) == -INFINITY && numeric_log2(-0.0) == -INFINITY && isnan(numeric_log(-1.0)));
    cr_assert(numeric_log2(INFINITY) == INFINITY && isnan(numeric_log10(NAN)));
    cr_assert(numeric_sin(0.0) == 0.0 && numeric_cos(0.0) == 1.0 && isnan(numeric_cos(NAN)));
    for (int n = -1074; n < 1024; n++)
        cr_assert(numeric_log2(ldexp(1.0, n)) == n, "log2 of 2^%d", n);
    for (int n = 0; n < 40; n++) {
        double turn = n * 1.5707963267948966;
        cr_assert(units_off(numeric_sin(turn), sinl((long double)turn)) < 2, "sin near a zero, %d", n);
        cr_assert(units_off(numeric_cos(turn), cosl((long double)turn)) < 2, "cos near a zero, %d", n);
    }
}

enum { LOOP = 4096 };

static inline void every_function(const double *x, double *out)
{
    for (int i = 0; i < LOOP; i++) {
        double a = numeric_exp(x[i]), b = numeric_log(x[i] * x[i]), c = numeric_sin(x[i]);
        out[i] =
            a + b * c + numeric_cos(x[i]) * numeric_atan2(c, x[i]) + numeric_log10(a) - numeric_log2(c * c);
    }
}

#if defined(__x86_64__)
__attribute__((target("avx2,bmi,bmi2,fma"))) static void every_function_v3(const double *x, double *out)
{
    every_function(x, out);
}

__attribute__((target("avx512f,avx512dq,avx512vl,avx512bw,avx2,bmi,bmi2,fma"))) static void
every_function_v4(const double *x, double *out)
{
    every_function(x, out);
}
#else
#define every_function_v3 every_function
#define every_function_v4 every_function
#endif

__attribute__((noinline)) static void every_function_base(const double *x, double *out)
{
    every_function(x, out);
}

Test(numeric, same_bits_with_every_instruction_set)
{
    static double x[LOOP], out[3][LOOP];
    chance = random_begin();
    for (int i = 0; i < LOOP; i++)
        x[i] = random_between(&chance, -30, 30);
    enum isa best = isa_chosen();
    every_function_base(x, out[0]);
    for (enum isa isa = ISA_V3; isa <= best; isa++) {
        (isa == ISA_V3 ? every_function_v3 : every_function_v4)(x, out[isa]);
        cr_assert(memcmp(out[0], out[isa], sizeof out[0]) == 0, "%s differs", isa_name(isa));
    }
    printf("figure: instruction sets compared: %d\n", (int)best + 1);
}
