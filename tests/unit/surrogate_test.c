/*
 * solver/study/surrogate against scikit-learn (surrogate_reference.py beside this file wrote the values and
 * says with which version), against finite differences, against leaving points out in earnest, and at its
 * edges.
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/isa.h"
#include "solver/base/memory.h"
#include "solver/study/surrogate.h"
#include "tests/support/random.h"
#include "tests/support/sanitized.h"

enum { FACTORS = 3, MOST = 200 };

/* --- against scikit-learn --- */

/* Rows of one kind in surrogate_reference.csv. */
struct rows {
    size_t count;
    double x[MOST * FACTORS], a[MOST], b[MOST];
};

static void read_rows(const char *kind, struct rows *rows)
{
    FILE *file = fopen(FOAMPULSE_SOURCE "/tests/unit/surrogate_reference.csv", "r");
    char line[512], name[32];
    cr_assert(file, "no surrogate_reference.csv");
    rows->count = 0;
    while (fgets(line, sizeof line, file)) {
        double x[FACTORS], a, b;
        if (sscanf(line, "%31[a-z],%lf,%lf,%lf,%lf,%lf", name, x, x + 1, x + 2, &a, &b) == 6 &&
            strcmp(name, kind) == 0) {
            cr_assert_lt(rows->count, MOST);
            memcpy(rows->x + FACTORS * rows->count, x, sizeof x);
            rows->a[rows->count] = a;
            rows->b[rows->count++] = b;
        }
    }
    fclose(file);
    cr_assert_gt(rows->count, 0, "no row of kind %s", kind);
}

Test(surrogate, predicts_as_the_reference)
{
    struct rows given, overall, point, query;
    double mean[MOST], deviation[MOST], off_mean = 0, off_deviation = 0;
    struct surrogate surrogate;
    read_rows("given", &given);
    read_rows("overall", &overall);
    read_rows("point", &point);
    read_rows("query", &query);
    cr_assert_eq(surrogate_condition(point.count, FACTORS, point.x, point.a, given.x, given.a[0], given.b[0],
                                     &surrogate),
                 STATUS_OK);
    surrogate_predict(&surrogate, query.count, query.x, mean, deviation);
    for (size_t i = 0; i < query.count; i++) {
        off_mean = fmax(off_mean, fabs(mean[i] - query.a[i]) / fabs(query.a[i]));
        off_deviation = fmax(off_deviation, fabs(deviation[i] - query.b[i]) / query.b[i]);
    }
    double off_likelihood = fabs(surrogate_log_likelihood(&surrogate) / overall.a[0] - 1);
    printf(
        "figure: surrogate beside the reference, mean off by %.1e, deviation %.1e, likelihood %.1e (at most "
        "1e-6)\n",
        off_mean, off_deviation, off_likelihood);
    cr_assert(off_mean < 1e-6 && off_deviation < 1e-6 && off_likelihood < 1e-6);
    cr_assert_float_eq(surrogate.mean, overall.b[0], 1e-6 * overall.b[0]);
    surrogate_free(&surrogate);
}

/* The reference's own fit takes the sample's mean, so ours, with the best mean, may only be better; and the
 * best that SciPy finds over all of it is the same. */
Test(surrogate, fits_as_well_as_the_reference)
{
    struct rows fitted, profile, point;
    struct surrogate surrogate;
    read_rows("fitted", &fitted);
    read_rows("profile", &profile);
    read_rows("point", &point);
    cr_assert_eq(surrogate_fit(point.count, FACTORS, point.x, point.a, NULL, &surrogate), STATUS_OK);
    double likelihood = surrogate_log_likelihood(&surrogate);
    printf("figure: fitted likelihood %.6f (at least %.6f; best known %.6f)\n", likelihood, fitted.a[0],
           profile.a[0]);
    cr_assert_geq(likelihood, fitted.a[0]);
    cr_assert_float_eq(likelihood, profile.a[0], 1e-5);
    for (size_t k = 0; k < FACTORS; k++)
        cr_assert_float_eq(surrogate.lengths[k], profile.x[k], 1e-3 * profile.x[k]);
    surrogate_free(&surrogate);
}

/* --- against itself --- */

/* Smooth, with a bend along the first factor; `noise` is half the width of an even error. */
static void draw_sample(size_t count, double noise, double *x, double *y)
{
    struct random random = {7};
    for (size_t i = 0; i < count; i++) {
        double *point = x + FACTORS * i;
        for (size_t k = 0; k < FACTORS; k++)
            point[k] = random_between(&random, 0, 1);
        y[i] = 100 + 30 * fabs(point[0] - 0.4) + 10 * sin(4 * point[1]) + point[2] +
               random_between(&random, -noise, noise);
    }
}

static const double lengths[FACTORS] = {0.5, 0.9, 2};

enum { SMALL = 37 };

static double likelihood_at(const double *logs)
{
    double x[SMALL * FACTORS], y[SMALL], at[FACTORS];
    struct surrogate surrogate;
    draw_sample(SMALL, 0.5, x, y);
    for (size_t k = 0; k < FACTORS; k++)
        at[k] = exp(logs[k]);
    cr_assert_eq(surrogate_condition(SMALL, FACTORS, x, y, at, 80, 80 * exp(logs[FACTORS]), &surrogate),
                 STATUS_OK);
    double value = surrogate_log_likelihood(&surrogate);
    surrogate_free(&surrogate);
    return value;
}

/* Central differences at h and h/2, combined so that the error falls with h^4. */
static double difference(const double *logs, size_t k)
{
    double slope[2];
    for (int half = 0; half < 2; half++) {
        double h = half ? 5e-4 : 1e-3, up[FACTORS + 1], down[FACTORS + 1];
        memcpy(up, logs, sizeof up);
        memcpy(down, logs, sizeof down);
        up[k] += h;
        down[k] -= h;
        slope[half] = (likelihood_at(up) - likelihood_at(down)) / (2 * h);
    }
    return (4 * slope[1] - slope[0]) / 3;
}

Test(surrogate, slope_of_the_likelihood_is_that_of_differences)
{
    double x[SMALL * FACTORS], y[SMALL], slope[FACTORS + 1], logs[FACTORS + 1], worst = 0;
    struct surrogate surrogate;
    draw_sample(SMALL, 0.5, x, y);
    cr_assert_eq(surrogate_condition(SMALL, FACTORS, x, y, lengths, 80, 0.4, &surrogate), STATUS_OK);
    cr_assert_eq(surrogate_likelihood_slope(&surrogate, slope), STATUS_OK);
    for (size_t k = 0; k < FACTORS; k++)
        logs[k] = log(lengths[k]);
    logs[FACTORS] = log(0.4 / 80);
    for (size_t k = 0; k <= FACTORS; k++)
        worst = fmax(worst, fabs(slope[k] - difference(logs, k)) / fabs(slope[k]));
    printf("figure: slope of the likelihood off by %.1e (at most 1e-7)\n", worst);
    cr_assert(worst < 1e-7);
    surrogate_free(&surrogate);
}

/* Each point taken out, the process conditioned on the others with the same hyperparameters, and asked. */
Test(surrogate, leave_one_out_is_leaving_one_out)
{
    double x[SMALL * FACTORS], y[SMALL], mean[SMALL], deviation[SMALL], worst = 0;
    struct surrogate all, others;
    draw_sample(SMALL, 0.5, x, y);
    cr_assert_eq(surrogate_condition(SMALL, FACTORS, x, y, lengths, 80, 0.4, &all), STATUS_OK);
    cr_assert_eq(surrogate_leave_one_out(&all, mean, deviation), STATUS_OK);
    for (size_t out = 0; out < SMALL; out++) {
        double rest_x[SMALL * FACTORS], rest_y[SMALL], m, s;
        size_t count = 0;
        for (size_t i = 0; i < SMALL; i++) {
            if (i == out)
                continue;
            memcpy(rest_x + FACTORS * count, x + FACTORS * i, FACTORS * sizeof *x);
            rest_y[count++] = y[i];
        }
        cr_assert_eq(surrogate_condition(count, FACTORS, rest_x, rest_y, lengths, 80, 0.4, &others),
                     STATUS_OK);
        surrogate_predict(&others, 1, x + FACTORS * out, &m, &s);
        worst = fmax(worst, fabs(mean[out] / m - 1));
        worst = fmax(worst, fabs(deviation[out] / sqrt(s * s + 0.4) - 1));
        surrogate_free(&others);
    }
    printf("figure: leave-one-out off by %.1e (at most 1e-10)\n", worst);
    cr_assert(worst < 1e-10);
    surrogate_free(&all);
}

/* At a point without noise the process knows the value; far from all points (R = 0) the mean alone, whose own
 * variance is variance / 1'C^-1 1. */
Test(surrogate, knows_its_points_and_nothing_far_away)
{
    double x[SMALL * FACTORS], y[SMALL], mean[SMALL], deviation[SMALL], far[FACTORS] = {500, 500, 500};
    struct surrogate surrogate;
    draw_sample(SMALL, 0.5, x, y);
    cr_assert_eq(surrogate_condition(SMALL, FACTORS, x, y, lengths, 80, 0, &surrogate), STATUS_OK);
    surrogate_predict(&surrogate, SMALL, x, mean, deviation);
    for (size_t i = 0; i < SMALL; i++) {
        cr_assert_float_eq(mean[i], y[i], 1e-9);
        cr_assert_lt(deviation[i], 1e-5);
    }
    surrogate_predict(&surrogate, 1, far, mean, deviation);
    cr_assert_float_eq(mean[0], surrogate.mean, 1e-10);
    cr_assert_float_eq(deviation[0], sqrt(80 * (1 + 1 / surrogate.ones_total)), 1e-10);
    surrogate_free(&surrogate);
}

/* More points than are solved for at once, and the mean alone: the same, whatever comes along. */
Test(surrogate, predicts_each_point_by_itself)
{
    enum { MANY = 700 };
    static double query[MANY * FACTORS], spare[MANY], mean[MANY], alone[MANY], deviation[MANY];
    double x[SMALL * FACTORS], y[SMALL], m, s;
    struct surrogate surrogate;
    draw_sample(SMALL, 0.5, x, y);
    draw_sample(MANY, 0, query, spare);
    cr_assert_eq(surrogate_condition(SMALL, FACTORS, x, y, lengths, 80, 0.4, &surrogate), STATUS_OK);
    surrogate_predict(&surrogate, MANY, query, mean, deviation);
    surrogate_predict(&surrogate, MANY, query, alone, NULL);
    for (size_t i = 0; i < MANY; i++) {
        surrogate_predict(&surrogate, 1, query + FACTORS * i, &m, &s);
        cr_assert_eq(mean[i], alone[i]);
        cr_assert_eq(mean[i], m);
        cr_assert_float_eq(deviation[i], s, 1e-10);
    }
    surrogate_free(&surrogate);
}

/* The kernels have the same bits with every instruction set, and LAPACK is the same on one machine. */
Test(surrogate, has_the_same_bits_with_every_instruction_set)
{
    double x[SMALL * FACTORS], y[SMALL], slope[ISA_COUNT][FACTORS + 1], mean[ISA_COUNT][SMALL];
    double deviation[ISA_COUNT][SMALL], query[SMALL * FACTORS], spare[SMALL];
    draw_sample(SMALL, 0.5, x, y);
    draw_sample(SMALL, 0.1, query, spare);
    query[0] = 3;
    for (int isa = 0; isa < ISA_COUNT; isa++) {
        struct surrogate surrogate;
        if (isa_force((enum isa)isa) != (enum isa)isa)
            continue;
        cr_assert_eq(surrogate_condition(SMALL, FACTORS, x, y, lengths, 80, 0.4, &surrogate), STATUS_OK);
        surrogate_predict(&surrogate, SMALL, query, mean[isa], deviation[isa]);
        cr_assert_eq(surrogate_likelihood_slope(&surrogate, slope[isa]), STATUS_OK);
        cr_assert_arr_eq(mean[isa], mean[0], sizeof mean[0]);
        cr_assert_arr_eq(deviation[isa], deviation[0], sizeof deviation[0]);
        cr_assert_arr_eq(slope[isa], slope[0], sizeof slope[0]);
        surrogate_free(&surrogate);
    }
}

/* --- fits --- */

/* An even error of half width 1.5 has a standard deviation of 1.5 / sqrt 3; of 200 points the estimate is
 * known to 1 / sqrt(2 (200 - some)) = 5 to 6 %, of which three are allowed. */
Test(surrogate, finds_the_noise)
{
    static double x[MOST * FACTORS], y[MOST];
    struct surrogate surrogate;
    draw_sample(MOST, 1.5, x, y);
    cr_assert_eq(surrogate_fit(MOST, FACTORS, x, y, NULL, &surrogate), STATUS_OK);
    double off = sqrt(surrogate.noise) / (1.5 / sqrt(3)) - 1;
    printf("figure: noise found off by %.1f %% (at most 18 %%)\n", 100 * off);
    cr_assert(fabs(off) < 0.18);
    cr_assert_gt(surrogate.lengths[2], 2 * surrogate.lengths[0],
                 "the factor of least effect is not the longest");
    surrogate_free(&surrogate);
}

/* A fit is where the likelihood has no slope, but towards a bound; on all points, whatever the searches
 * before it used; and again the same bits for the same seed. */
Test(surrogate, fit_with_a_subsample_ends_on_all_points)
{
    static double x[MOST * FACTORS], y[MOST];
    double slope[FACTORS + 1];
    struct surrogate whole, part, again;
    struct surrogate_options options = {.subsample = 60, .seed = 5, .starts = SANITIZED ? 2 : 0};
    draw_sample(MOST, 0.5, x, y);
    cr_assert_eq(surrogate_fit(MOST, FACTORS, x, y, NULL, &whole), STATUS_OK);
    cr_assert_eq(surrogate_fit(MOST, FACTORS, x, y, &options, &part), STATUS_OK);
    cr_assert_eq(surrogate_fit(MOST, FACTORS, x, y, &options, &again), STATUS_OK);
    cr_assert_eq(part.count, MOST);
    cr_assert_leq(part.evaluations, SURROGATE_EVALUATIONS);
    cr_assert_float_eq(part.log_likelihood, whole.log_likelihood, 1e-5);
    cr_assert_eq(part.log_likelihood, again.log_likelihood);
    cr_assert_arr_eq(part.lengths, again.lengths, FACTORS * sizeof *part.lengths);
    cr_assert_eq(surrogate_likelihood_slope(&part, slope), STATUS_OK);
    for (size_t k = 0; k <= FACTORS; k++) /* half a step of the grid of logarithms times the curvature */
        cr_assert(fabs(slope[k]) < 0.5 / 8192 * MOST, "slope %zu is %g", k, slope[k]);
    surrogate_free(&whole);
    surrogate_free(&part);
    surrogate_free(&again);
}

/* Stopped early, a search still shows where it began: the seed, and nothing else, decides. */
Test(surrogate, keeps_to_its_budget_and_seed)
{
    double x[SMALL * FACTORS], y[SMALL], likelihood[3];
    const uint64_t seeds[3] = {5, 5, 6};
    draw_sample(SMALL, 0.5, x, y);
    for (int i = 0; i < 3; i++) {
        struct surrogate surrogate;
        struct surrogate_options options = {.starts = 3, .evaluations = 4, .subsample = 20, .seed = seeds[i]};
        cr_assert_eq(surrogate_fit(SMALL, FACTORS, x, y, &options, &surrogate), STATUS_OK);
        cr_assert_eq(surrogate.evaluations, 4);
        likelihood[i] = surrogate.log_likelihood;
        surrogate_free(&surrogate);
    }
    cr_assert_eq(likelihood[0], likelihood[1]);
    cr_assert_neq(likelihood[0], likelihood[2]);
}

/* Five waves through 40 points: noise about a line is a valley of the likelihood too, and the first start
 * lies in it. */
Test(surrogate, takes_the_best_of_its_starts)
{
    enum { WAVES = 40 };
    double x[WAVES], y[WAVES], likelihood[2];
    for (size_t i = 0; i < WAVES; i++) {
        x[i] = fmod(0.5 + ((double)i + 1) * 0.6180339887498949, 1);
        y[i] = sin(10 * acos(-1.0) * x[i]);
    }
    for (int several = 0; several < 2; several++) {
        struct surrogate surrogate;
        struct surrogate_options options = {.starts = several ? 0 : 1};
        cr_assert_eq(surrogate_fit(WAVES, 1, x, y, &options, &surrogate), STATUS_OK);
        likelihood[several] = surrogate.log_likelihood;
        surrogate_free(&surrogate);
    }
    cr_assert(likelihood[1] > likelihood[0] + 10, "%g after %g", likelihood[1], likelihood[0]);
}

/* --- edges --- */

Test(surrogate, of_equal_values_is_flat)
{
    double x[4 * FACTORS], y[4], query[FACTORS] = {0.3, 0.9, 0.1}, mean[4], deviation[4];
    const double values[] = {0, 82.7, -3e9, 1e-200};
    draw_sample(4, 0, x, y);
    for (size_t count = 1; count <= 4; count++) {
        for (size_t i = 0; i < 4; i++) {
            struct surrogate surrogate;
            for (size_t j = 0; j < 4; j++)
                y[j] = values[i];
            cr_assert_eq(surrogate_fit(count, FACTORS, x, y, NULL, &surrogate), STATUS_OK);
            surrogate_predict(&surrogate, 1, query, mean, deviation);
            cr_assert_float_eq(mean[0], y[0], 1e-12 * fabs(y[0]));
            cr_assert_leq(deviation[0], 1e-12 * fabs(y[0]) + 1e-140);
            enum status status = surrogate_leave_one_out(&surrogate, mean, deviation);
            cr_assert_eq(status, count > 1 ? STATUS_OK : STATUS_COMPUTATION);
            cr_assert_float_eq(mean[0], count > 1 ? y[0] : 0, 1e-12 * fabs(y[0]));
            surrogate_free(&surrogate);
        }
    }
}

/* Every point twice, with values 2 apart: no function of x goes through both, so that the rest is noise, of
 * which each pair shows (2/2)^2 + (2/2)^2 over one degree of freedom: variance 2 or a little off. */
Test(surrogate, of_repeated_points_has_noise)
{
    double x[2 * SMALL * FACTORS], y[2 * SMALL], mean[2 * SMALL];
    struct surrogate surrogate;
    draw_sample(SMALL, 0, x, y);
    memcpy(x + SMALL * FACTORS, x, SMALL * FACTORS * sizeof *x);
    for (size_t i = 0; i < SMALL; i++) {
        y[SMALL + i] = y[i] - 1;
        y[i] += 1;
    }
    cr_assert_eq(surrogate_condition(2 * SMALL, FACTORS, x, y, lengths, 80, 0, &surrogate),
                 STATUS_COMPUTATION);
    cr_assert(!surrogate.block && surrogate.count == 0);
    cr_assert_eq(surrogate_fit(2 * SMALL, FACTORS, x, y, NULL, &surrogate), STATUS_OK);
    cr_assert(surrogate.noise > 1.2 && surrogate.noise < 2.6, "noise %g", surrogate.noise);
    surrogate_predict(&surrogate, 2 * SMALL, x, mean, NULL);
    for (size_t i = 0; i < SMALL; i++)
        cr_assert_float_eq(mean[i], 0.5 * (y[i] + y[SMALL + i]), 1.5);
    surrogate_free(&surrogate);
    /* all points and all values but one the same, and all points the same */
    for (size_t i = 0; i < 6 * FACTORS; i++)
        x[i] = 0.5;
    for (size_t i = 0; i < 6; i++)
        y[i] = (double)i;
    cr_assert_eq(surrogate_fit(6, FACTORS, x, y, NULL, &surrogate), STATUS_OK);
    surrogate_predict(&surrogate, 1, x, mean, NULL);
    cr_assert_float_eq(mean[0], 2.5, 1e-9);
    surrogate_free(&surrogate);
}

static void refused(size_t count, size_t factors, const double *x, const double *y, const double *at,
                    double variance, double noise)
{
    struct surrogate surrogate = {.count = 9};
    cr_assert_eq(surrogate_condition(count, factors, x, y, at, variance, noise, &surrogate),
                 STATUS_COMPUTATION);
    cr_assert(!surrogate.block && surrogate.count == 0);
}

Test(surrogate, refuses)
{
    double x[SMALL * FACTORS], y[SMALL], bad[FACTORS] = {1, 0, 1}, missing[FACTORS] = {1, NAN, 1};
    const double wrong[] = {NAN, INFINITY, -INFINITY};
    struct surrogate surrogate = {.count = 9};
    draw_sample(SMALL, 0.5, x, y);
    refused(0, FACTORS, x, y, lengths, 1, 1);
    refused(SMALL, 0, x, y, lengths, 1, 1);
    refused(1, 1, missing + 1, y, lengths, 1, 1);
    refused(SMALL, FACTORS, x, y, bad, 1, 1);
    refused(SMALL, FACTORS, x, y, missing, 1, 1);
    refused(SMALL, FACTORS, x, y, lengths, 0, 1);
    refused(SMALL, FACTORS, x, y, lengths, 1, -1);
    refused(SMALL, FACTORS, x, y, lengths, NAN, 1);
    refused(SMALL, FACTORS, x, y, lengths, 1, NAN);
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        double *places[] = {x + 7, y + SMALL - 1};
        for (size_t k = 0; k < 2; k++) {
            double kept = *places[k];
            *places[k] = wrong[i];
            refused(SMALL, FACTORS, x, y, lengths, 1, 1);
            cr_assert_eq(surrogate_fit(SMALL, FACTORS, x, y, NULL, &surrogate), STATUS_COMPUTATION);
            cr_assert(!surrogate.block && surrogate.count == 0);
            *places[k] = kept;
        }
    }
    const struct surrogate_options options[] = {
        {.starts = -1}, {.evaluations = -1}, {.noise_floor = -1}, {.noise_floor = NAN}, {.noise_floor = 1e9}};
    for (size_t i = 0; i < sizeof options / sizeof *options; i++)
        cr_assert_eq(surrogate_fit(SMALL, FACTORS, x, y, options + i, &surrogate), STATUS_COMPUTATION);
}

Test(surrogate, out_of_memory)
{
    double x[SMALL * FACTORS], y[SMALL], mean = 0, deviation = 0;
    struct surrogate_options options = {.starts = 2, .evaluations = 3, .subsample = 20};
    struct surrogate surrogate;
    enum status status = STATUS_MEMORY;
    size_t failed = 0;
    draw_sample(SMALL, 0.5, x, y);
    for (; status == STATUS_MEMORY; failed++) {
        memory_fail_after(failed);
        status = surrogate_fit(SMALL, FACTORS, x, y, &options, &surrogate);
        memory_fail_after(SIZE_MAX);
        cr_assert(status == STATUS_OK || !surrogate.block);
    }
    cr_assert_eq(status, STATUS_OK);
    cr_assert_gt(failed, 8);
    memory_fail_after(0);
    surrogate_predict(&surrogate, 1, x, &mean, &deviation);
    cr_assert(isnan(mean) && isnan(deviation));
    memory_fail_after(0);
    cr_assert_eq(surrogate_evaluate(&surrogate, 1, x, &mean), STATUS_MEMORY);
    memory_fail_after(0);
    cr_assert_eq(surrogate_leave_one_out(&surrogate, x, y), STATUS_MEMORY);
    memory_fail_after(0);
    cr_assert_eq(surrogate_likelihood_slope(&surrogate, x), STATUS_MEMORY);
    memory_fail_after(SIZE_MAX);
    surrogate_free(&surrogate);
}
