#include "solver/study/tolerance.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/binomial.h"
#include "solver/base/linear.h"
#include "solver/base/memory.h"
#include "solver/study/judge.h"

void tolerance_moments(const double *values, size_t count, double *mean, double *deviation)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < count; i++)
        sum += values[i];
    *mean = count > 0 ? sum / (double)count : NAN;
    for (size_t i = 0; i < count; i++)
        squares += (values[i] - *mean) * (values[i] - *mean);
    *deviation = count > 1 ? sqrt(squares / (double)(count - 1)) : NAN;
}

static struct tolerance_chance chance_of(size_t exceeding, size_t count)
{
    struct tolerance_chance chance = {exceeding, count, NAN, 0, 1};
    if (count > 0)
        chance.share = (double)exceeding / (double)count;
    binomial_interval(exceeding, count, TOLERANCE_CONFIDENCE, &chance.low, &chance.high);
    return chance;
}

/* --- where the variance comes from --- */

/* The plane through the runs: `x` (sources + 1), the constant last; `residual` is the sum of squares left. */
static enum status fit_plane(size_t count, size_t sources, const double *standard, const double *values,
                             double *x, double *residual)
{
    size_t columns = sources + 1;
    double *a = memory_doubles(count * columns), *b = memory_doubles(count);
    enum status status = a && b ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        memcpy(a + i * columns, standard + i * sources, sources * sizeof *a);
        a[i * columns + sources] = 1;
        b[i] = values[i];
    }
    if (status == STATUS_OK)
        status = linear_least_squares(count, columns, a, b, 1e-10, x, NULL);
    *residual = 0;
    for (size_t i = 0; i < count && status == STATUS_OK; i++) {
        double left = values[i] - x[sources];
        for (size_t k = 0; k < sources; k++)
            left -= x[k] * standard[i * sources + k];
        *residual += left * left;
    }
    memory_free(a);
    memory_free(b);
    return status;
}

/* Shares from the slopes: causes are independent and of variance 1, so their variances add up. */
static void share_out(size_t sources, const double *values, double residual, double factor,
                      struct tolerance_variance *variance)
{
    double mean, deviation, left = residual / (double)(variance->count - sources - 1), sum = left;
    tolerance_moments(values, variance->count, &mean, &deviation);
    double squares = deviation * deviation * (double)(variance->count - 1);
    for (size_t k = 0; k < sources; k++)
        sum += variance->slope[k] * variance->slope[k];
    variance->r2 = squares > 0 ? 1 - residual / squares : NAN;
    variance->slope_error = sqrt(left / (double)variance->count);
    variance->unexplained = sum > 0 ? left / sum : NAN;
    for (size_t k = 0; k < sources; k++) {
        variance->share[k] = sum > 0 ? variance->slope[k] * variance->slope[k] / sum : NAN;
        variance->halved[k] = mean + factor * deviation * sqrt(1 - 0.75 * variance->share[k]);
    }
}

enum status tolerance_explain(size_t count, size_t sources, const double *standard, const double *values,
                              double factor, struct tolerance_variance *variance)
{
    double residual;
    *variance = (struct tolerance_variance){.share = memory_doubles(sources + 1),
                                            .slope = memory_doubles(sources + 1),
                                            .halved = memory_doubles(sources + 1)};
    enum status status = variance->share && variance->slope && variance->halved ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK && count >= 2 * (sources + 1)) {
        status = fit_plane(count, sources, standard, values, variance->slope, &residual);
        if (status == STATUS_OK) {
            variance->count = count;
            share_out(sources, values, residual, factor, variance);
        } else if (status == STATUS_COMPUTATION) {
            status = STATUS_OK; /* no plane: count stays 0 */
        }
    }
    if (status != STATUS_OK)
        tolerance_variance_free(variance);
    return status;
}

void tolerance_variance_free(struct tolerance_variance *variance)
{
    memory_free(variance->share);
    memory_free(variance->slope);
    memory_free(variance->halved);
    *variance = (struct tolerance_variance){0};
}

/* --- limits --- */

/* The value that a limit is held against in one row; NaN where there is none. */
static double value_in(const struct sweep *sweep, const struct tolerance_limit *limit, size_t row)
{
    if (sweep->points[row].status == SWEEP_REFUSED)
        return NAN;
    return limit->hit == TOLERANCE_MASS ? sweep->points[row].mass.helmet
                                        : sweep_metrics(sweep, row, (size_t)limit->hit)[limit->metric];
}

static int hit_failed(const struct sweep *sweep, const struct tolerance_limit *limit, size_t row)
{
    const unsigned char *states = sweep->states + row * sweep->hit_count;
    return sweep->points[row].status != SWEEP_REFUSED && limit->hit != TOLERANCE_MASS &&
           states[limit->hit] == HIT_FAILED;
}

static int is_rotational(enum metric metric)
{
    return metric == METRIC_peak_rot_acc || metric == METRIC_peak_rot_vel || metric == METRIC_bric;
}

/* A limit on rotation decides nothing while the inertia of the head is assumed. */
static enum verdict state_of(const struct sweep *sweep, const struct tolerance_limit *limit)
{
    if (limit->count == 0)
        return limit->chance.count > 0 ? VERDICT_EXCEEDS : VERDICT_NOT_COMPUTED;
    if (limit->hit != TOLERANCE_MASS && sweep->hits[limit->hit].inertia_assumed &&
        is_rotational(limit->metric))
        return VERDICT_UNDECIDED;
    return judge_value(isnan(limit->bound) ? limit->mean : limit->bound, limit->limit, sweep->target);
}

/* `values` (points) is room. */
static void evaluate_limit(const struct sweep *sweep, double factor, double *values,
                           struct tolerance_limit *limit)
{
    size_t exceeding = 0, failed = 0;
    limit->nominal = sweep->point_count > 0 ? value_in(sweep, limit, 0) : NAN;
    for (size_t row = 0; row < sweep->point_count; row++) {
        if (sweep->points[row].number == 0)
            continue;
        double value = value_in(sweep, limit, row);
        failed += (size_t)hit_failed(sweep, limit, row);
        exceeding += value > limit->limit;
        if (!isnan(value))
            values[limit->count++] = value;
    }
    tolerance_moments(values, limit->count, &limit->mean, &limit->deviation);
    limit->bound = limit->mean + factor * limit->deviation;
    limit->margin = (limit->limit - limit->bound) / limit->limit;
    limit->chance = chance_of(exceeding + failed, limit->count + failed);
    limit->state = state_of(sweep, limit);
}

static void add_limit(const struct sweep *sweep, struct tolerance *tolerance, double *values, int hit,
                      enum metric metric, double value)
{
    struct tolerance_limit *limit = &tolerance->limits[tolerance->limit_count];
    if (isnan(value))
        return;
    *limit = (struct tolerance_limit){.hit = hit, .metric = metric, .limit = value};
    evaluate_limit(sweep, tolerance->factor, values, limit);
    tolerance->limit_count++;
}

/* 0 for what decides, 1 for what is undecided, 2 for what has no value. */
static int rank_of(const struct tolerance_limit *limit)
{
    return limit->state == VERDICT_NOT_COMPUTED ? 2 : limit->state == VERDICT_UNDECIDED;
}

static int compare_limits(const void *left, const void *right)
{
    const struct tolerance_limit *a = left, *b = right;
    if (rank_of(a) != rank_of(b))
        return rank_of(a) - rank_of(b);
    double x = isnan(a->margin) ? -INFINITY : a->margin, y = isnan(b->margin) ? -INFINITY : b->margin;
    if (x != y)
        return x < y ? -1 : 1;
    return a->hit != b->hit ? a->hit - b->hit : (int)a->metric - (int)b->metric;
}

static enum status evaluate_limits(const struct sweep *sweep, struct tolerance *tolerance)
{
    double *values = memory_doubles(sweep->point_count + 1);
    tolerance->limits = memory_zeroed(sweep->hit_count * METRIC_COUNT + 1, sizeof *tolerance->limits);
    if (values && tolerance->limits) {
        add_limit(sweep, tolerance, values, TOLERANCE_MASS, METRIC_peak, sweep->helmet_mass_limit);
        for (size_t i = 0; i < sweep->hit_count * METRIC_COUNT; i++)
            add_limit(sweep, tolerance, values, (int)(i / METRIC_COUNT), (enum metric)(i % METRIC_COUNT),
                      sweep->limits[i]);
        qsort(tolerance->limits, tolerance->limit_count, sizeof *tolerance->limits, compare_limits);
    }
    memory_free(values);
    return values && tolerance->limits ? STATUS_OK : STATUS_MEMORY;
}

/* --- the sample --- */

/* Whether a row is past any limit that decides, or failed. */
static int exceeds_any(const struct sweep *sweep, const struct tolerance *tolerance, size_t row)
{
    for (size_t i = 0; i < tolerance->limit_count; i++) {
        const struct tolerance_limit *limit = &tolerance->limits[i];
        if (limit->state != VERDICT_UNDECIDED && value_in(sweep, limit, row) > limit->limit)
            return 1;
    }
    return sweep->points[row].status == SWEEP_FAILED;
}

static void count_rows(const struct sweep *sweep, struct tolerance *tolerance)
{
    size_t exceeding = 0;
    for (size_t row = 0; row < sweep->point_count; row++) {
        const struct sweep_point *point = &sweep->points[row];
        if (point->number == 0)
            continue;
        tolerance->runs++;
        tolerance->computed += point->status == SWEEP_COMPUTED;
        tolerance->failed += point->status == SWEEP_FAILED;
        tolerance->refused += point->status == SWEEP_REFUSED;
        tolerance->undecided += point->status == SWEEP_COMPUTED && point->verdict == VERDICT_UNDECIDED;
        exceeding += (size_t)exceeds_any(sweep, tolerance, row);
    }
    tolerance->any = chance_of(exceeding, tolerance->computed + tolerance->failed);
}

/* The causes of the first limit's scatter, over the rows that have a value. */
static enum status explain_worst(const struct sweep *sweep, size_t sources, const double *standard,
                                 struct tolerance *tolerance)
{
    const struct tolerance_limit *limit = &tolerance->limits[0];
    size_t count = 0;
    double *rows = memory_doubles(sweep->point_count * sources + 1);
    double *values = memory_doubles(sweep->point_count + 1);
    enum status status = rows && values ? STATUS_OK : STATUS_MEMORY;
    for (size_t row = 0; row < sweep->point_count && status == STATUS_OK; row++) {
        double value = value_in(sweep, limit, row);
        if (sweep->points[row].number == 0 || isnan(value))
            continue;
        memcpy(rows + count * sources, standard + (size_t)(sweep->points[row].number - 1) * sources,
               sources * sizeof *rows);
        values[count++] = value;
    }
    if (status == STATUS_OK)
        status = tolerance_explain(count, sources, rows, values, tolerance->factor, &tolerance->worst);
    memory_free(rows);
    memory_free(values);
    return status;
}

enum status tolerance_evaluate(const struct sweep *sweep, size_t sources, const double *standard,
                               double factor, struct tolerance *tolerance)
{
    *tolerance = (struct tolerance){.factor = factor};
    enum status status = evaluate_limits(sweep, tolerance);
    if (status == STATUS_OK) {
        count_rows(sweep, tolerance);
        if (tolerance->limit_count > 0)
            status = explain_worst(sweep, sources, standard, tolerance);
    }
    if (status != STATUS_OK)
        tolerance_free(tolerance);
    return status;
}

void tolerance_free(struct tolerance *tolerance)
{
    memory_free(tolerance->limits);
    tolerance_variance_free(&tolerance->worst);
    *tolerance = (struct tolerance){0};
}
