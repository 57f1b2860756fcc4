/*
 * solver/study/rank on made-up sweeps whose margins are known functions.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/study/rank.h"
#include "solver/study/sampling.h"
#include "tests/support/sample_sweep.h"

enum { MOST = 1024 };

/* A factor of any number from 0 to 1. */
static void number_factor(struct factor *factor, const char *path)
{
    snprintf(factor->path, sizeof factor->path, "%s", path);
    snprintf(factor->unit, sizeof factor->unit, "mm");
    factor->low = 0;
    factor->high = 1;
}

typedef double margin_of(const double *values, size_t hit);

/* `points` of a Sobol sequence over `factors` numbers in 0..1; margins by the function, mass 1 kg + 0.1 kg x
 * the first. */
static void make_sweep(struct sweep *sweep, size_t factors, size_t hits, size_t points, margin_of *margin)
{
    double unit[MOST * 8];
    *sweep = (struct sweep){
        .title = memory_text("Made up"), .case_text = memory_text(""), .factor_count = factors};
    sweep->target = sweep->helmet_mass_limit = NAN;
    sweep->factors = memory_zeroed(factors, sizeof *sweep->factors);
    for (size_t i = 0; i < factors; i++) {
        char path[32];
        snprintf(path, sizeof path, "x.%zu", i + 1);
        number_factor(&sweep->factors[i], path);
    }
    sample_hits(sweep, hits);
    sweep_extend(sweep, points);
    sampling_sobol(points, factors, 3, unit);
    memcpy(sweep->values, unit, points * factors * sizeof *unit);
    for (size_t p = 0; p < points; p++) {
        struct sweep_point *point = &sweep->points[p];
        *point = (struct sweep_point){
            .number = (long)p + 1, .worst_margin = INFINITY, .worst_metric = METRIC_peak};
        point->mass.helmet = 1 + 0.1 * sweep_values(sweep, p)[0];
        for (size_t k = 0; k < hits; k++) {
            double value = margin(sweep_values(sweep, p), k);
            sweep_margins(sweep, p)[k] = value;
            sweep_metrics(sweep, p, k)[METRIC_peak] = 100 * (1 - value);
            sweep->states[p * hits + k] = HIT_COMPUTED;
            point->worst_hit = value < point->worst_margin ? (int)k : point->worst_hit;
            point->worst_margin = fmin(point->worst_margin, value);
        }
    }
}

static void rank_it(const struct sweep *sweep, struct rank *rank)
{
    struct errors errors = {0};
    cr_assert_eq(rank_make(sweep, rank, &errors), STATUS_OK, "%s", errors.kept[0].text);
}

/* --- indices --- */

/* Sobol's product function G = prod (|4 x - 2| + a)/(1 + a) has a kink; its smooth kin here:
 * y = x1 + x2 x2 + x1 x3. With x even in 0..1:
 *   Var(E[y|x1]) = (3/2)^2/12, since E[y|x1] = 3/2 x1 + c
 *   Var(E[y|x2]) = Var(x2^2) = 1/5 - 1/9 = 4/45
 *   Var(E[y|x3]) = (1/2)^2/12
 *   joint part of x1 and x3: Var((x1 - 1/2)(x3 - 1/2)) = 1/144. */
static double polynomial(const double *x, size_t hit)
{
    (void)hit;
    return 0.1 * (x[0] + x[1] * x[1] + x[0] * x[2]) - 0.1;
}

Test(rank, indices_of_a_polynomial)
{
    struct sweep sweep;
    struct rank rank;
    double one = 2.25 / 12, two = 4.0 / 45, three = 0.25 / 12, joint = 1.0 / 144;
    double all = one + two + three + joint, off = 0;
    double first[] = {one / all, two / all, three / all};
    double total[] = {(one + joint) / all, two / all, (three + joint) / all};
    make_sweep(&sweep, 3, 1, 64, polynomial);
    rank_it(&sweep, &rank);
    for (size_t i = 0; i < 3; i++) {
        off = fmax(off, fabs(rank.first[i] - first[i]));
        off = fmax(off, fabs(rank.total[i] - total[i]));
        cr_expect_eq(rank_direction(&rank, i), 1);
    }
    printf("figure: indices through a surrogate of 64 layouts off by %.4f (at most 0.01), Q2 %.5f\n", off,
           rank.models[0].q2);
    cr_assert_lt(off, 0.01);
    cr_assert_gt(rank.models[0].q2, 0.999);
    cr_assert_float_eq(rank.variance, 0.01 * all, 0.01 * 0.01 * all);
    /* E[y|x1] rises by 3/2, times 0.1 */
    cr_assert_float_eq(rank.effects[0].margins[RANK_EFFECT - 1] - rank.effects[0].margins[0], 0.15, 0.002);
    cr_assert(rank.mass_varies && rank.mass.q2 > 0.9999);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* --- two hits, the best between them --- */

/* Crown and brow: one rises with x1, the other falls; both have their best at x2 = 0.4. The least of the two
 * is largest where they cross, x1 = 0.6, with 0.32 - 0 = 0.2 + 0.2 * 0.6. */
static double crossing(const double *x, size_t hit)
{
    double bowl = 0.5 * (x[1] - 0.4) * (x[1] - 0.4);
    return (hit == 0 ? 0.2 + 0.2 * x[0] : hit == 1 ? 0.62 - 0.5 * x[0] : 1.5) - bowl;
}

/* No step of a thousandth along one factor makes it better; predictions of smooth bowls are bowls. */
static void expect_top(const struct rank *rank)
{
    struct rank_layout layout;
    for (size_t i = 0; i < 2 * rank->sweep->factor_count; i++) {
        double at[2] = {rank->best[0].values[0], rank->best[0].values[1]};
        at[i / 2] += i % 2 ? -0.001 : 0.001;
        cr_assert_eq(rank_predict(rank, at, &layout, NULL, NULL), STATUS_OK);
        cr_assert_leq(layout.margin, rank->best[0].margin);
    }
}

Test(rank, best_of_two_hits)
{
    struct sweep sweep;
    struct rank rank;
    struct rank_layout layout;
    double at[2] = {0.25, 0.7}, each[RANK_MODELS], deviations[RANK_MODELS];
    make_sweep(&sweep, 2, 3, 64, crossing);
    rank_it(&sweep, &rank);
    cr_assert_eq(rank.model_count, 2, "the third never comes near");
    cr_assert_eq(rank.far_count, 1);
    cr_assert_eq(rank.silent_count, 0);
    cr_assert_eq(rank.models[0].hit, 0, "it governs where x1 < 0.6");
    printf("figure: best of two crossing margins at %.4f, %.4f (0.6, 0.4), %.5f (0.32)\n",
           rank.best[0].values[0], rank.best[0].values[1], rank.best[0].margin);
    cr_assert_float_eq(rank.best[0].values[0], 0.6, 0.01);
    cr_assert_float_eq(rank.best[0].values[1], 0.4, 0.02);
    cr_assert_float_eq(rank.best[0].margin, 0.32, 0.001);
    expect_top(&rank);
    cr_assert_eq(rank.best[0].row, SIZE_MAX);
    cr_assert(!rank.whole_grid && rank.best_count == RANK_BEST);
    cr_assert_eq(rank_direction(&rank, 0), 0, "up, then down");
    /* x1 is all that lifts or lowers the first; x2 acts on both alike */
    cr_assert_gt(rank.models[1].total[0], rank.models[0].total[0]);
    cr_assert_eq(rank_predict(&rank, at, &layout, each, deviations), STATUS_OK);
    cr_assert_float_eq(each[0], crossing(at, 0), 1e-3);
    cr_assert_float_eq(each[1], crossing(at, 1), 1e-3);
    cr_assert_float_eq(layout.margin, crossing(at, 0), 1e-3);
    cr_assert_float_eq(layout.mass, 1.025, 1e-5);
    cr_assert(layout.deviation > 0 && layout.deviation < 0.01);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* Without the limit of mass the best is at x1 = 0.6, 1.06 kg. */
Test(rank, limit_of_mass)
{
    struct sweep sweep;
    struct rank rank;
    make_sweep(&sweep, 2, 2, 64, crossing);
    sweep.helmet_mass_limit = 1.03;
    rank_it(&sweep, &rank);
    cr_assert_float_eq(rank.best[0].values[0], 0.3, 0.01);
    cr_assert_leq(rank.best[0].mass, 1.03);
    cr_assert_gt(rank.over_mass, rank.searched / 2);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* Two hits that are equally good, each with the deviation s: the least of two independent normals has the
 * variance s^2 (1 - 1/pi) (the standard deviation of the larger of two; mean -s/sqrt pi). */
Test(rank, deviation_of_the_least)
{
    struct sweep sweep;
    struct rank rank;
    struct rank_layout layout;
    double at[2] = {0.6, 0.4}, each[RANK_MODELS], own[RANK_MODELS];
    make_sweep(&sweep, 2, 2, 12, crossing);
    for (size_t p = 0; p < sweep.point_count; p++) /* the same margins for both */
        sweep_margins(&sweep, p)[1] = sweep_margins(&sweep, p)[0];
    rank_it(&sweep, &rank);
    cr_assert_eq(rank_predict(&rank, at, &layout, each, own), STATUS_OK);
    cr_assert_eq(own[0], own[1]);
    cr_assert_float_eq(layout.deviation / own[0], sqrt(1 - 1 / 3.14159265358979), 0.02);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* --- a grid, names, rows that failed --- */

Test(rank, grid_with_names)
{
    struct sweep sweep;
    struct rank rank;
    sample_sweep(&sweep, 3, 2);
    for (size_t p = 0; p < 3; p++)
        sweep.points[15 * p].status = p == 1 ? SWEEP_REFUSED : SWEEP_FAILED;
    sweep.points[12].worst_margin = NAN; /* density 50, thickness 30, the best */
    rank_it(&sweep, &rank);
    cr_assert_eq(rank.computed, 36);
    cr_assert_eq(rank.left_out, 4);
    cr_assert_eq(rank.input_count, 3, "two names are one column");
    cr_assert(rank.whole_grid && rank.searched == 40);
    /* hit 1 is the worse of the two nearly everywhere; at 50, 30 and foam 0: 0.3 - 0.05 - 0.01 = 0.24 */
    printf("figure: the best of a grid, left out of the fit, %.4f (0.24) +- %.4f\n", rank.best[0].margin,
           rank.best[0].deviation);
    cr_assert_eq(rank.best[0].values[0], 50);
    cr_assert_eq(rank.best[0].values[1], 30);
    cr_assert_eq(rank.best[0].values[2], 0);
    cr_assert_eq(rank.best[0].row, SIZE_MAX);
    cr_assert_float_eq(rank.best[0].margin, 0.24, 0.02);
    cr_assert_float_eq(rank.effects[2].margins[0] - rank.effects[2].margins[1], 0.1, 0.02);
    cr_assert_eq(rank_direction(&rank, 2), 0, "names have no direction");
    cr_assert_eq(rank.effects[0].values[1], 35, "effects of numbers are even, levels or not");
    for (size_t b = 1; b < rank.best_count; b++)
        cr_assert(rank.best[b].row != SIZE_MAX && rank.best[b].margin <= rank.best[b - 1].margin);
    /* mass grows with both numbers, the margin is best in the middle: the front ends at the best solved */
    size_t *order = sweep_order(&sweep);
    cr_assert_gt(rank.front_count, 1);
    cr_assert_eq(rank.front[rank.front_count - 1], order[0]);
    memory_free(order);
    /* the peak is 100 (1 - margin) */
    cr_assert_eq(rank.peak_count, rank.front_count);
    cr_assert_eq(memcmp(rank.front, rank.peak_front, rank.front_count * sizeof *rank.front), 0);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* A layout that lacks a hit is no better than it is known to be: it takes no part in the trade-offs. */
Test(rank, layout_without_a_hit)
{
    struct sweep sweep;
    struct rank rank;
    sample_sweep(&sweep, 3, 2); /* row 0 is the lightest */
    sweep.states[1] = HIT_NOT_COMPUTED;
    sweep_margins(&sweep, 0)[0] = sweep.points[0].worst_margin = 0.9;
    sweep_margins(&sweep, 0)[1] = NAN;
    rank_it(&sweep, &rank);
    cr_assert_eq(rank.models[0].rows + rank.models[1].rows, 2 * sweep.point_count - 1);
    cr_assert_gt(rank.front_count, 1);
    cr_assert_neq(rank.front[0], 0);
    cr_assert_neq(rank.peak_front[0], 0);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* Three names or more are a column each. */
Test(rank, three_names)
{
    struct sweep sweep;
    struct rank rank;
    static const double shift[] = {0, 0.3, 0.1};
    make_sweep(&sweep, 2, 1, 48, crossing);
    factor_free(&sweep.factors[1]);
    sample_factor(&sweep.factors[1], "liner.foam", "", 0, 1, 3, 1);
    for (size_t p = 0; p < sweep.point_count; p++) {
        double *values = sweep_values(&sweep, p);
        values[1] = (double)(p % 3);
        sweep_margins(&sweep, p)[0] = sweep.points[p].worst_margin = 0.2 * values[0] + shift[p % 3];
    }
    rank_it(&sweep, &rank);
    cr_assert_eq(rank.input_count, 4);
    for (size_t k = 0; k < 3; k++)
        cr_assert_float_eq(rank.effects[1].margins[k], 0.1 + shift[k], 0.002);
    /* variances: 0.2^2/12 and of 0, 0.3, 0.1 alike */
    double names = (0.09 + 0.01) / 3 - 0.16 / 9, number = 0.04 / 12;
    cr_assert_float_eq(rank.first[1], names / (names + number), 0.01);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* --- edges --- */

static double constant(const double *x, size_t hit)
{
    (void)x;
    return 0.1 + (double)hit;
}

Test(rank, what_does_not_vary)
{
    struct sweep sweep;
    struct rank rank;
    make_sweep(&sweep, 2, 1, 16, constant);
    rank_it(&sweep, &rank);
    cr_assert(isnan(rank.models[0].q2));
    cr_assert(rank.first[0] == 0 && rank.total[1] == 0);
    cr_assert_float_eq(rank.best[0].margin, 0.1, 1e-12);
    cr_assert_eq(rank_direction(&rank, 0), 0);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* Noise is no function of the factors: the surrogate has to say so. */
static double scrambled(const double *x, size_t hit)
{
    double at = 43758.5453 * sin(12.9898 * x[0] + 78.233 * x[1] + (double)hit);
    return at - floor(at);
}

Test(rank, what_cannot_be_predicted)
{
    struct sweep sweep;
    struct rank rank;
    make_sweep(&sweep, 2, 1, 64, scrambled);
    rank_it(&sweep, &rank);
    cr_assert_lt(rank.models[0].q2, 0.3);
    rank_free(&rank);
    sweep_free(&sweep);
}

static void expect_refused(const struct sweep *sweep, const char *text)
{
    struct rank rank;
    struct errors errors = {0};
    cr_assert_eq(rank_make(sweep, &rank, &errors), STATUS_INPUT);
    cr_assert(strstr(errors.kept[0].text, text), "%s", errors.kept[0].text);
    cr_assert(!rank.models && !rank.block);
}

Test(rank, too_little_to_go_by)
{
    struct sweep sweep;
    struct rank rank;
    make_sweep(&sweep, 2, 1, 6, crossing);
    rank_it(&sweep, &rank);
    rank_free(&rank);
    sweep.points[2].status = SWEEP_FAILED;
    expect_refused(&sweep, "5 of 6 layouts have a margin; to predict others at least 6 are needed");
    for (size_t i = 0; i < METRIC_COUNT; i++)
        sweep.limits[i] = NAN;
    expect_refused(&sweep, "no limit decides");
    sweep_free(&sweep);
}

Test(rank, more_layouts_than_a_process_takes)
{
    struct sweep sweep;
    struct rank rank;
    make_sweep(&sweep, 2, 1, RANK_ROWS + 50, crossing);
    rank_it(&sweep, &rank);
    cr_assert_eq(rank.computed, RANK_ROWS + 50);
    cr_assert_eq(rank.models[0].rows, RANK_ROWS);
    cr_assert_gt(rank.models[0].q2, 0.9999);
    rank_free(&rank);
    sweep_free(&sweep);
}

/* Every allocation may fail; nothing is left behind. */
Test(rank, out_of_memory)
{
    struct sweep sweep;
    struct rank rank;
    struct errors errors = {0};
    enum status status = STATUS_MEMORY;
    size_t met = 0;
    make_sweep(&sweep, 2, 2, 8, crossing);
    for (size_t n = 0; n < 4000 && status != STATUS_OK; n++) {
        size_t failures = memory_failures();
        memory_fail_after(n);
        status = rank_make(&sweep, &rank, &errors);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || (status == STATUS_MEMORY && !rank.block), "allocation %zu", n);
        cr_assert_eq(status == STATUS_OK, memory_failures() == failures, "allocation %zu is passed over", n);
        met = n;
    }
    cr_assert_eq(status, STATUS_OK, "%zu allocations", met);
    rank_free(&rank);
    sweep_free(&sweep);
}
