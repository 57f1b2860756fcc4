/*
 * solver/study/descent on functions whose minimum is known.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "solver/study/descent.h"

struct last {
    double x, y;
};

/* 100 (y - x^2)^2 + (1 - x)^2 (Rosenbrock, Computer Journal 3, 1960): both squares vanish at (1, 1) alone. */
static double valley(void *context, const double *x)
{
    *(struct last *)context = (struct last){x[0], x[1]};
    double off = x[1] - x[0] * x[0];
    return 100 * off * off + (1 - x[0]) * (1 - x[0]);
}

static void valley_slope(void *context, double *slope)
{
    const struct last *at = context;
    double off = at->y - at->x * at->x;
    slope[0] = -400 * at->x * off - 2 * (1 - at->x);
    slope[1] = 200 * off;
}

static enum status descend(double upper, int evaluations, double *x, double *value, int *used)
{
    struct last last;
    double lower[2] = {-2, -2}, above[2] = {upper, 2};
    struct descent descent = {.count = 2,
                              .lower = lower,
                              .upper = above,
                              .evaluations = evaluations,
                              .tolerance = 1e-9,
                              .longest = 0.5,
                              .value = valley,
                              .gradient = valley_slope,
                              .context = &last};
    return descent_minimize(&descent, x, value, used);
}

/* The start is the one of the paper. Quasi-Newton methods are published with some 40 values there; steepest
 * descent takes thousands. */
Test(descent, follows_a_bent_valley)
{
    double x[2] = {-1.2, 1}, value = 1;
    int used = 0;
    cr_assert_eq(descend(2, 200, x, &value, &used), STATUS_OK);
    printf("figure: bent valley, values asked for %d (at most 100)\n", used);
    cr_assert_float_eq(x[0], 1, 1e-7);
    cr_assert_float_eq(x[1], 1, 1e-7);
    cr_assert(value < 1e-14 && used <= 100);
}

/* With x <= 1/2: for each x the best y is x^2, where (1 - x)^2 is left, which falls up to the bound. */
Test(descent, stops_at_a_bound)
{
    double x[2] = {-1.2, 1}, value = 0;
    cr_assert_eq(descend(0.5, 200, x, &value, NULL), STATUS_OK);
    cr_assert_eq(x[0], 0.5);
    cr_assert_float_eq(x[1], 0.25, 1e-9);
    cr_assert_float_eq(value, 0.25, 1e-12);
}

/* A start on the bound that has to be left, and one outside, which is brought in. */
Test(descent, leaves_a_bound)
{
    double x[2] = {-2, -2}, outside[2] = {9, -9};
    cr_assert_eq(descend(2, 200, x, NULL, NULL), STATUS_OK);
    cr_assert_float_eq(x[0], 1, 1e-7);
    cr_assert_eq(descend(2, 200, outside, NULL, NULL), STATUS_OK);
    cr_assert_float_eq(outside[0], 1, 1e-7);
}

Test(descent, asks_no_more_than_allowed)
{
    for (int allowed = 1; allowed < 30; allowed++) {
        double x[2] = {-1.2, 1}, value = 0;
        int used = 0;
        struct last last;
        cr_assert_eq(descend(2, allowed, x, &value, &used), STATUS_OK);
        cr_assert_eq(used, allowed);
        cr_assert_eq(value, valley(&last, x), "the value is not that of x");
        cr_assert_leq(value, 24.2, "worse than the start");
    }
}

/* 1000 (x - ln x) has its minimum at x = 1 and no value from 0 down. From x = 9 the first step, a third of
 * the longest, would go to -1: it must be shortened. */
static double with_edge(void *context, const double *x)
{
    *(double *)context = x[0];
    return x[0] > 0 ? 1000 * (x[0] - log(x[0])) : NAN;
}

static void with_edge_slope(void *context, double *slope)
{
    slope[0] = 1000 - 1000 / *(double *)context;
}

static enum status descend_edge(double *x, double *value)
{
    double last, lower = -50, upper = 50;
    struct descent descent = {.count = 1,
                              .lower = &lower,
                              .upper = &upper,
                              .evaluations = 60,
                              .tolerance = 1e-9,
                              .longest = 30,
                              .value = with_edge,
                              .gradient = with_edge_slope,
                              .context = &last};
    return descent_minimize(&descent, x, value, NULL);
}

Test(descent, turns_back_where_there_is_no_value)
{
    double x = 9, value = 0;
    cr_assert_eq(descend_edge(&x, &value), STATUS_OK);
    cr_assert_float_eq(x, 1, 1e-8);
    x = -1;
    cr_assert_eq(descend_edge(&x, &value), STATUS_COMPUTATION);
    cr_assert(x == -1 && isinf(value));
}

Test(descent, out_of_memory)
{
    double x[2] = {-1.2, 1}, value = 0;
    memory_fail_after(0);
    enum status status = descend(2, 200, x, &value, NULL);
    memory_fail_after(SIZE_MAX);
    cr_assert_eq(status, STATUS_MEMORY);
    cr_assert(x[0] == -1.2 && isinf(value));
}
