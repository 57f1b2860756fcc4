/*
 * solver/study/sensitivity on the function of Ishigami and Homma (1990), directly and through a surrogate.
 * Base points: the Sobol sequence of GSL.
 *
 * y = sin x1 + a sin^2 x2 + b x3^4 sin x1, each x even in -pi .. pi, a = 7, b = 0.1. With E[sin] = 0,
 * E[sin^2] = 1/2, E[sin^4] = 3/8, E[x^4] = pi^4/5, E[x^8] = pi^8/9:
 *   E[y | x1] = (1 + b pi^4/5) sin x1 + a/2    V1  = (1 + b pi^4/5)^2 / 2
 *   E[y | x2] = a sin^2 x2                     V2  = a^2 (3/8 - 1/4) = a^2/8
 *   E[y | x3] = a/2                            V3  = 0
 *   the rest, b (x3^4 - pi^4/5) sin x1:        V13 = b^2 (pi^8/9 - pi^8/25) / 2 = 8 b^2 pi^8 / 225
 * first = V1, V2, 0 and total = V1 + V13, V2, V13 over V = V1 + V2 + V13.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "solver/study/sampling.h"
#include "solver/study/sensitivity.h"
#include "solver/study/surrogate.h"
#include "tests/support/sanitized.h"

enum { FACTORS = 3, COUNT = 8192 };

static const double a = 7, b = 0.1;

static double angle(double x)
{
    return (2 * x - 1) * acos(-1.0);
}

static double ishigami(const double *x)
{
    double first = sin(angle(x[0])), second = sin(angle(x[1])), third = pow(angle(x[2]), 4);
    return first + a * second * second + b * third * first;
}

static enum status evaluate(void *context, size_t count, const double *x, double *values)
{
    (void)context;
    for (size_t i = 0; i < count; i++)
        values[i] = ishigami(x + FACTORS * i);
    return STATUS_OK;
}

static const struct sensitivity_function truth = {.factors = FACTORS, .evaluate = evaluate};

struct shares {
    double variance, first[FACTORS], total[FACTORS];
};

static struct shares closed_form(void)
{
    double pi = acos(-1.0), slope = 1 + b * pow(pi, 4) / 5;
    double v1 = slope * slope / 2, v2 = a * a / 8, v13 = 8 * b * b * pow(pi, 8) / 225, v = v1 + v2 + v13;
    return (struct shares){v, {v1 / v, v2 / v, 0}, {(v1 + v13) / v, v2 / v, v13 / v}};
}

static double *base_points(void)
{
    static double base[2 * FACTORS * COUNT];
    sampling_sobol(COUNT, 2 * FACTORS, 1, base);
    return base;
}

/* Largest difference of an index, in shares of the variance. */
static double worst_index(const struct sensitivity_indices *found, const struct shares *exact)
{
    double worst = 0;
    for (size_t i = 0; i < FACTORS; i++) {
        worst = fmax(worst, fabs(found->first[i] - exact->first[i]));
        worst = fmax(worst, fabs(found->total[i] - exact->total[i]));
    }
    return worst;
}

/* Each index to 2 % of itself; the one that is 0 to 2 % of the variance. */
Test(sensitivity, of_the_function_itself)
{
    double first[FACTORS], total[FACTORS], worst = 0;
    struct sensitivity_indices found = {.first = first, .total = total};
    struct shares exact = closed_form();
    cr_assert_eq(sensitivity_find(&truth, COUNT, base_points(), &found), STATUS_OK);
    for (size_t i = 0; i < FACTORS; i++) {
        worst = fmax(worst, fabs(first[i] - exact.first[i]) / (i == 2 ? 1 : exact.first[i]));
        worst = fmax(worst, fabs(total[i] - exact.total[i]) / exact.total[i]);
    }
    printf("figure: Sobol indices of the function itself, %d points, off by %.2f %% (at most 2 %%)\n", COUNT,
           100 * worst);
    cr_assert(worst < 0.02);
    cr_assert_float_eq(found.mean, a / 2, 0.01 * a / 2);
    cr_assert_float_eq(found.variance, exact.variance, 0.01 * exact.variance);
}

/* A surrogate of `count` points: largest difference of an index; leave-one-out error over the standard
 * deviation of y into `error`. */
static double through_surrogate(size_t count, double *error)
{
    static double x[FACTORS * 400], y[400], mean[400], deviation[400];
    double first[FACTORS], total[FACTORS], squares = 0;
    struct sensitivity_indices found = {.first = first, .total = total};
    struct shares exact = closed_form();
    struct surrogate surrogate;
    sampling_sobol(count, FACTORS, 1, x);
    evaluate(NULL, count, x, y);
    cr_assert_eq(surrogate_fit(count, FACTORS, x, y, NULL, &surrogate), STATUS_OK);
    cr_assert_eq(surrogate_leave_one_out(&surrogate, mean, deviation), STATUS_OK);
    for (size_t i = 0; i < count; i++)
        squares += (mean[i] - y[i]) * (mean[i] - y[i]);
    *error = sqrt(squares / (double)count / exact.variance);
    struct sensitivity_function function = {FACTORS, surrogate_evaluate, &surrogate};
    cr_assert_eq(sensitivity_find(&function, COUNT, base_points(), &found), STATUS_OK);
    surrogate_free(&surrogate);
    return worst_index(&found, &exact);
}

/* Two percent of the variance from 256 points on; with fewer the surrogate is poor, and its leave-one-out
 * error says so. */
Test(sensitivity, through_a_surrogate)
{
    enum { SIZES = 5, GATED = 256 };
    const size_t counts[SIZES] = {64, 128, 200, GATED, 400};
    double error[SIZES];
    for (size_t i = SANITIZED ? 3 : 0; i < (SANITIZED ? 4 : SIZES); i++) {
        double off = through_surrogate(counts[i], error + i);
        printf(
            "figure: Sobol indices through a surrogate of %zu points, off by %.2f %% of the variance (%s), "
            "leave-one-out error %.0f %% of the standard deviation\n",
            counts[i], 100 * off, counts[i] < GATED ? "no limit" : "at most 2 %", 100 * error[i]);
        cr_assert(counts[i] < GATED || off < 0.02);
        cr_assert(SANITIZED || i == 0 || error[i] < error[i - 1]);
    }
    cr_assert(SANITIZED || error[0] > 4 * error[SIZES - 1]);
}

/* E[y | x1] = (1 + b pi^4/5) sin x1 + a/2, E[y | x2] = a sin^2 x2, E[y | x3] = a/2. */
Test(sensitivity, main_effects)
{
    enum { LEVELS = 11 };
    double at[LEVELS], curve[LEVELS], worst = 0, slope = 1 + b * pow(acos(-1.0), 4) / 5;
    for (size_t l = 0; l < LEVELS; l++)
        at[l] = (double)l / (LEVELS - 1);
    for (size_t i = 0; i < FACTORS; i++) {
        cr_assert_eq(sensitivity_main_effect(&truth, COUNT, base_points(), i, LEVELS, at, curve), STATUS_OK);
        for (size_t l = 0; l < LEVELS; l++) {
            double sine = sin(angle(at[l]));
            double exact = i == 0 ? slope * sine + a / 2 : i == 1 ? a * sine * sine : a / 2;
            worst = fmax(worst, fabs(curve[l] - exact) / sqrt(closed_form().variance));
        }
    }
    printf("figure: main effects off by %.2f %% of the standard deviation (at most 1 %%)\n", 100 * worst);
    cr_assert(worst < 0.01);
}

/* y = 1e6 + 3 x1 + 4 x2: Var x = 1/12 each, so that the shares are 9/25 and 16/25, first and total alike; a
 * large mean must not cost them their digits. */
static enum status plane(void *context, size_t count, const double *x, double *values)
{
    (void)context;
    for (size_t i = 0; i < count; i++)
        values[i] = 1e6 + 3 * x[FACTORS * i] + 4 * x[FACTORS * i + 1];
    return STATUS_OK;
}

Test(sensitivity, of_a_plane)
{
    double first[FACTORS], total[FACTORS];
    const double exact[FACTORS] = {9.0 / 25, 16.0 / 25, 0};
    struct sensitivity_function function = {FACTORS, plane, NULL};
    struct sensitivity_indices found = {.first = first, .total = total};
    cr_assert_eq(sensitivity_find(&function, COUNT, base_points(), &found), STATUS_OK);
    for (size_t i = 0; i < FACTORS; i++) {
        cr_assert_float_eq(first[i], exact[i], 2e-3);
        cr_assert_float_eq(total[i], exact[i], 2e-3);
    }
    cr_assert_float_eq(found.variance, 25.0 / 12, 2e-3 * 25 / 12);
}

/* A value for all points, of which one may be something else; a status; what the value grows by from call to
 * call. */
struct answer {
    double value, last;
    enum status status;
    double growth;
};

static enum status answer(void *context, size_t count, const double *x, double *values)
{
    struct answer *given = context;
    (void)x;
    given->value += given->growth;
    for (size_t i = 0; i < count; i++)
        values[i] = given->value;
    values[count - 1] = given->last;
    return given->status;
}

static enum status ask(struct answer *given, size_t count, struct sensitivity_indices *found)
{
    struct sensitivity_function function = {FACTORS, answer, given};
    return sensitivity_find(&function, count, base_points(), found);
}

/* Values that differ in their last bits alone do not vary. */
Test(sensitivity, of_what_does_not_vary)
{
    const double values[] = {0, 0.1, 82.7, -1.0 / 3, 1e-9};
    for (size_t k = 0; k < sizeof values / sizeof *values; k++) {
        double first[FACTORS] = {1, 1, 1}, total[FACTORS] = {1, 1, 1};
        struct sensitivity_indices found = {.first = first, .total = total};
        struct answer constant = {values[k], values[k], STATUS_OK, 4.5e-16 * values[k]};
        cr_assert_eq(ask(&constant, 1000, &found), STATUS_OK);
        cr_assert_float_eq(found.mean, values[k], 2000 * fabs(values[k]) * 2.3e-16);
        for (size_t i = 0; i < FACTORS; i++)
            cr_assert(first[i] == 0 && total[i] == 0);
    }
}

Test(sensitivity, refuses_and_passes_on)
{
    double first[FACTORS], total[FACTORS] = {1, 1, 1}, level = 0.5, curve = 1;
    struct sensitivity_indices found = {.mean = 1, .first = first, .total = total};
    struct answer missing = {1, NAN, STATUS_OK, 0}, interrupted = {1, 2, STATUS_INTERRUPTED, 0};
    struct sensitivity_function function = {FACTORS, answer, &missing};
    cr_assert_eq(ask(&missing, 10, &found), STATUS_COMPUTATION);
    cr_assert(found.mean == 0 && total[2] == 0);
    cr_assert_eq(sensitivity_main_effect(&function, 10, base_points(), 1, 1, &level, &curve),
                 STATUS_COMPUTATION);
    cr_assert_eq(curve, 0);
    cr_assert_eq(ask(&interrupted, 10, &found), STATUS_INTERRUPTED);
    cr_assert_eq(ask(&interrupted, 0, &found), STATUS_COMPUTATION);
    memory_fail_after(0);
    cr_assert_eq(ask(&interrupted, 10, &found), STATUS_MEMORY);
    memory_fail_after(0);
    cr_assert_eq(sensitivity_main_effect(&function, 10, base_points(), 1, 1, &level, &curve), STATUS_MEMORY);
    memory_fail_after(SIZE_MAX);
}
