#include "solver/study/surrogate.h"

#include <math.h>
#include <string.h>

#include "solver/base/isa.h"
#include "solver/base/linear.h"
#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/base/random.h"
#include "solver/study/descent.h"

#define ROOT_FIVE  2.23606797749979
#define GRID       8192.0 /* steps of a logarithm by one */
#define LOG_TWO_PI 1.8378770664093453

enum { LANES = 8, BATCH = 384 /* points whose deviations are solved for at once */ };

static void correlate(const struct surrogate *surrogate, size_t count, const double *point,
                      double *correlation)
{
    static void (*const kernel[ISA_COUNT])(size_t, size_t, size_t, const double *, const double *,
                                           double *) = {surrogate_correlate_base, surrogate_correlate_v3,
                                                        surrogate_correlate_v4};
    kernel[isa_chosen()](count, surrogate->factors, surrogate->stride, surrogate->scaled, point, correlation);
}

static void add_slopes(const struct surrogate *surrogate, size_t count, const double *point, double *share,
                       double *square, double *slope)
{
    static void (*const kernel[ISA_COUNT])(size_t, size_t, size_t, const double *, const double *, double *,
                                           double *, double *) = {surrogate_slopes_base, surrogate_slopes_v3,
                                                                  surrogate_slopes_v4};
    kernel[isa_chosen()](count, surrogate->factors, surrogate->stride, surrogate->scaled, point, share,
                         square, slope);
}

static size_t rounded(size_t count)
{
    return (count + LANES - 1) / LANES * LANES;
}

/* Eight partial sums: one alone would wait for each addition before the next. */
static double dot(size_t n, const double *a, const double *b)
{
    double lane[LANES] = {0}, sum = 0.0;
    size_t whole = n - n % LANES;
    for (size_t i = 0; i < whole; i += LANES) {
        for (size_t l = 0; l < LANES; l++)
            lane[l] += a[i + l] * b[i + l];
    }
    for (size_t i = whole; i < n; i++)
        lane[i - whole] += a[i] * b[i];
    for (size_t l = 0; l < LANES; l++)
        sum += lane[l];
    return sum;
}

static int finite(size_t count, const double *values)
{
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(values[i]))
            return 0;
    }
    return 1;
}

/* --- the process at given hyperparameters --- */

/* Takes memory, copies points and values. */
static enum status make(size_t count, size_t factors, const double *x, const double *y,
                        struct surrogate *surrogate)
{
    *surrogate = (struct surrogate){0};
    if (count == 0 || factors == 0 || !finite(count * factors, x) || !finite(count, y))
        return STATUS_COMPUTATION;
    size_t stride = rounded(count);
    /* a row of the matrix is written in eights, past its end into the next and the last into the spare */
    size_t sizes[] = {count * factors, count, factors, factors * stride, count * count + LANES, count, count};
    size_t total = 0, i = 0;
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++)
        total += sizes[k];
    double *next = memory_doubles(total);
    if (!next)
        return STATUS_MEMORY;
    *surrogate = (struct surrogate){.count = count, .factors = factors, .stride = stride, .block = next};
    double **arrays[] = {&surrogate->points, &surrogate->values,  &surrogate->lengths, &surrogate->scaled,
                         &surrogate->factor, &surrogate->weights, &surrogate->ones};
    for (; i < sizeof arrays / sizeof *arrays; next += sizes[i], i++)
        *arrays[i] = next;
    memcpy(surrogate->points, x, count * factors * sizeof *x);
    memcpy(surrogate->values, y, count * sizeof *y);
    return STATUS_OK;
}

static void scale_point(const struct surrogate *surrogate, const double *point, double *scaled, size_t apart)
{
    for (size_t k = 0; k < surrogate->factors; k++)
        scaled[k * apart] = ROOT_FIVE * point[k] / surrogate->lengths[k];
}

/* One scaled point out of the columns. */
static void take_point(const struct surrogate *surrogate, size_t i, double *point)
{
    for (size_t k = 0; k < surrogate->factors; k++)
        point[k] = surrogate->scaled[k * surrogate->stride + i];
}

/* C, row by row: what a row writes past its end is overwritten by the next. `point` (factors). */
static void fill(struct surrogate *surrogate, double ratio, double *point)
{
    size_t n = surrogate->count;
    memset(surrogate->scaled, 0, surrogate->factors * surrogate->stride * sizeof *surrogate->scaled);
    for (size_t i = 0; i < n; i++)
        scale_point(surrogate, surrogate->points + i * surrogate->factors, surrogate->scaled + i,
                    surrogate->stride);
    for (size_t i = 0; i < n; i++) {
        take_point(surrogate, i, point);
        correlate(surrogate, rounded(i + 1), point, surrogate->factor + i * n);
        surrogate->factor[i * n + i] = 1.0 + ratio;
    }
}

/* The mean of least squares, 1' C^-1 y / 1' C^-1 1, and the weights. Values count from the first one, so that
 * a large mean costs no digits. */
static void weigh(struct surrogate *surrogate)
{
    size_t n = surrogate->count;
    double first = surrogate->values[0], along = 0.0;
    surrogate->ones_total = 0.0;
    for (size_t i = 0; i < n; i++)
        surrogate->ones[i] = 1.0;
    linear_solve(n, surrogate->factor, 1, surrogate->ones);
    for (size_t i = 0; i < n; i++) {
        surrogate->ones_total += surrogate->ones[i];
        along += surrogate->ones[i] * (surrogate->values[i] - first);
    }
    along /= surrogate->ones_total;
    surrogate->mean = first + along;
    for (size_t i = 0; i < n; i++)
        surrogate->weights[i] = surrogate->values[i] - first - along;
    linear_solve(n, surrogate->factor, 1, surrogate->weights);
}

/* (y - mean)' C^-1 (y - mean) */
static double misfit(const struct surrogate *surrogate)
{
    double sum = 0.0;
    for (size_t i = 0; i < surrogate->count; i++)
        sum += (surrogate->values[i] - surrogate->mean) * surrogate->weights[i];
    return sum;
}

/* All that follows from the lengths and the noise's share of the variance; variance 0: the most likely one.
 * `point` (factors). */
static enum status settle(struct surrogate *surrogate, double ratio, double variance, double *point)
{
    size_t n = surrogate->count;
    fill(surrogate, ratio, point);
    if (linear_factor(n, surrogate->factor) != STATUS_OK)
        return STATUS_COMPUTATION;
    weigh(surrogate);
    double rest = misfit(surrogate);
    surrogate->variance = variance > 0 ? variance : rest / (double)n;
    surrogate->noise = ratio * surrogate->variance;
    surrogate->log_likelihood =
        -0.5 * (rest / surrogate->variance + linear_log_determinant(n, surrogate->factor) +
                (double)n * (LOG_TWO_PI + numeric_log(surrogate->variance)));
    return surrogate->variance > 0 && isfinite(surrogate->log_likelihood) ? STATUS_OK : STATUS_COMPUTATION;
}

enum status surrogate_condition(size_t count, size_t factors, const double *x, const double *y,
                                const double *lengths, double variance, double noise,
                                struct surrogate *surrogate)
{
    double *point = NULL;
    enum status status = make(count, factors, x, y, surrogate);
    if (status != STATUS_OK)
        return status;
    status = STATUS_COMPUTATION;
    if (!finite(factors, lengths) || !(variance > 0) || !(noise >= 0) || !isfinite(noise / variance))
        goto done;
    for (size_t k = 0; k < factors; k++) {
        if (!(lengths[k] > 0))
            goto done;
    }
    status = STATUS_MEMORY;
    point = memory_doubles(factors);
    if (!point)
        goto done;
    memcpy(surrogate->lengths, lengths, factors * sizeof *lengths);
    status = settle(surrogate, noise / variance, variance, point);
done:
    memory_free(point);
    if (status != STATUS_OK)
        surrogate_free(surrogate);
    return status;
}

double surrogate_log_likelihood(const struct surrogate *surrogate)
{
    return surrogate->log_likelihood;
}

void surrogate_free(struct surrogate *surrogate)
{
    memory_free(surrogate->block);
    *surrogate = (struct surrogate){0};
}

/* --- what it says --- */

/* Variance of f in units of the signal's, from v = L^-1 k and 1' C^-1 k. */
static double spread(const struct surrogate *surrogate, const double *solved, double along)
{
    double short_of_one = 1.0 - along;
    double left =
        1.0 - dot(surrogate->count, solved, solved) + short_of_one * short_of_one / surrogate->ones_total;
    return numeric_larger(left, 0.0);
}

/* Predicts at most BATCH points. `rows` (n x count, eight more), `point` (factors). */
static void predict_batch(const struct surrogate *surrogate, size_t n, const double *x, double *mean,
                          double *deviation, double *rows, double *point)
{
    size_t count = surrogate->count;
    for (size_t i = 0; i < n; i++) {
        double *row = deviation ? rows + i * count : rows;
        scale_point(surrogate, x + i * surrogate->factors, point, 1);
        correlate(surrogate, surrogate->stride, point, row);
        mean[i] = surrogate->mean + dot(count, row, surrogate->weights);
        if (deviation)
            deviation[i] = dot(count, row, surrogate->ones);
    }
    if (!deviation)
        return;
    linear_solve_lower(count, surrogate->factor, n, rows);
    for (size_t i = 0; i < n; i++)
        deviation[i] = sqrt(surrogate->variance * spread(surrogate, rows + i * count, deviation[i]));
}

void surrogate_predict(const struct surrogate *surrogate, size_t n, const double *x, double *mean,
                       double *deviation)
{
    size_t factors = surrogate->factors, at_once = deviation ? BATCH : 1;
    double *rows = memory_doubles(at_once * surrogate->count + LANES + factors);
    for (size_t i = 0; i < n && !rows; i++) {
        mean[i] = NAN;
        if (deviation)
            deviation[i] = NAN;
    }
    for (size_t from = 0; from < n && rows; from += BATCH) {
        size_t part = n - from < BATCH ? n - from : BATCH;
        predict_batch(surrogate, part, x + from * factors, mean + from, deviation ? deviation + from : NULL,
                      rows, rows + at_once * surrogate->count + LANES);
    }
    memory_free(rows);
}

enum status surrogate_evaluate(void *surrogate, size_t n, const double *x, double *mean)
{
    surrogate_predict(surrogate, n, x, mean, NULL);
    return n > 0 && isnan(mean[0]) ? STATUS_MEMORY : STATUS_OK;
}

/* C^-1, lower triangle, into `inverse` (count x count). */
static void invert(const struct surrogate *surrogate, double *inverse)
{
    size_t n = surrogate->count;
    for (size_t i = 0; i < n; i++)
        memcpy(inverse + i * n, surrogate->factor + i * n, (i + 1) * sizeof *inverse);
    linear_invert(n, inverse);
}

enum status surrogate_leave_one_out(const struct surrogate *surrogate, double *mean, double *deviation)
{
    size_t n = surrogate->count;
    double *inverse = NULL;
    enum status status = STATUS_COMPUTATION;
    if (n < 2)
        goto done;
    status = STATUS_MEMORY;
    inverse = memory_doubles(n * n);
    if (!inverse)
        goto done;
    invert(surrogate, inverse);
    for (size_t i = 0; i < n; i++) {
        double one = surrogate->ones[i];
        double precision = inverse[i * n + i] - one * one / surrogate->ones_total;
        mean[i] = surrogate->values[i] - surrogate->weights[i] / precision;
        deviation[i] = sqrt(surrogate->variance / precision);
    }
    status = STATUS_OK;
done:
    for (size_t i = 0; i < n && status != STATUS_OK; i++)
        mean[i] = deviation[i] = 0.0;
    memory_free(inverse);
    return status;
}

/* --- slope of the likelihood --- */

/* Memory of a search. */
struct work {
    double *inverse; /* (count x count), owns the others */
    double *share;   /* (stride) */
    double *square;  /* (stride) */
    double *point;   /* (factors) */
};

static enum status make_work(size_t count, size_t factors, struct work *work)
{
    work->inverse = memory_doubles(count * count + 2 * rounded(count) + factors);
    if (!work->inverse)
        return STATUS_MEMORY;
    work->share = work->inverse + count * count;
    work->square = work->share + rounded(count);
    work->point = work->square + rounded(count);
    return STATUS_OK;
}

/* RW 5.9, 1/2 sum_ij (w_i w_j / variance - (C^-1)_ij) dC_ij; a pair counts twice. */
static void find_slope(const struct surrogate *surrogate, struct work *work, double *slope)
{
    size_t n = surrogate->count;
    const double *weights = surrogate->weights;
    double ratio = surrogate->noise / surrogate->variance, diagonal = 0.0;
    invert(surrogate, work->inverse);
    memset(slope, 0, (surrogate->factors + 1) * sizeof *slope);
    for (size_t i = 0; i < n; i++) {
        const double *row = work->inverse + i * n;
        double weight = weights[i] / surrogate->variance;
        for (size_t j = 0; j < i; j++)
            work->share[j] = weight * weights[j] - row[j];
        for (size_t j = i; j < rounded(i); j++)
            work->share[j] = 0.0;
        take_point(surrogate, i, work->point);
        add_slopes(surrogate, rounded(i), work->point, work->share, work->square, slope);
        diagonal += weight * weights[i] - row[i];
    }
    slope[surrogate->factors] = 0.5 * ratio * diagonal;
}

enum status surrogate_likelihood_slope(const struct surrogate *surrogate, double *slope)
{
    struct work work;
    enum status status = make_work(surrogate->count, surrogate->factors, &work);
    memset(slope, 0, (surrogate->factors + 1) * sizeof *slope);
    if (status == STATUS_OK)
        find_slope(surrogate, &work, slope);
    memory_free(work.inverse);
    return status;
}

/* --- fitting: logarithms of the lengths and of the noise's share are the coordinates of a search --- */

struct fit {
    struct surrogate_options options; /* without zeros */
    struct surrogate *surrogate;
    struct work work;
    double *block;                        /* owns the arrays below */
    double *lower, *upper, *start, *best; /* (factors + 1) */
};

static enum status resolve(const struct surrogate_options *given, struct surrogate_options *options)
{
    *options = given ? *given : (struct surrogate_options){0};
    if (options->starts < 0 || options->evaluations < 0 || !(options->noise_floor >= 0) ||
        options->noise_floor > SURROGATE_NOISE_MAX || !(options->noise_most >= 0))
        return STATUS_COMPUTATION;
    options->starts = options->starts ? options->starts : SURROGATE_STARTS;
    options->evaluations = options->evaluations ? options->evaluations : SURROGATE_EVALUATIONS;
    options->subsample = options->subsample ? options->subsample : SURROGATE_SUBSAMPLE;
    options->noise_floor = options->noise_floor > 0 ? options->noise_floor : SURROGATE_NOISE_FLOOR;
    options->noise_most = options->noise_most > 0 ? options->noise_most : SURROGATE_NOISE_MAX;
    options->noise_most = numeric_larger(options->noise_most, options->noise_floor);
    return STATUS_OK;
}

static enum status settle_at(struct fit *fit, const double *logs)
{
    struct surrogate *surrogate = fit->surrogate;
    for (size_t k = 0; k < surrogate->factors; k++)
        surrogate->lengths[k] = numeric_exp(logs[k]);
    return settle(surrogate, numeric_exp(logs[surrogate->factors]), 0.0, fit->work.point);
}

static double unlikeliness(void *context, const double *logs)
{
    struct fit *fit = context;
    return settle_at(fit, logs) == STATUS_OK ? -fit->surrogate->log_likelihood : (double)INFINITY;
}

static void unlikeliness_slope(void *context, double *slope)
{
    struct fit *fit = context;
    find_slope(fit->surrogate, &fit->work, slope);
    for (size_t k = 0; k <= fit->surrogate->factors; k++)
        slope[k] = -slope[k];
}

/* Searches end where rounding lets them, which differs between processors by some 1e-7; on a grid all but a
 * few end alike, and the likelihood does not feel it. Bounds stay themselves. */
static void round_logs(const struct fit *fit, double *logs)
{
    for (size_t k = 0; k <= fit->surrogate->factors; k++) {
        double near = (logs[k] * GRID + NUMERIC_ROUND) - NUMERIC_ROUND;
        int inside = logs[k] > fit->lower[k] && logs[k] < fit->upper[k];
        logs[k] = inside ? near / GRID : logs[k];
    }
}

/* One search from `logs`, which it moves. */
static enum status search(struct fit *fit, double *logs, double *value)
{
    struct descent descent = {.count = fit->surrogate->factors + 1,
                              .lower = fit->lower,
                              .upper = fit->upper,
                              .evaluations = fit->options.evaluations,
                              .tolerance = 1e-5,
                              .longest = 1.5,
                              .value = unlikeliness,
                              .gradient = unlikeliness_slope,
                              .context = fit};
    int used = 0;
    enum status status = descent_minimize(&descent, logs, value, &used);
    fit->surrogate->evaluations += used;
    round_logs(fit, logs);
    return status;
}

/* Where a search starts: the first in the middle of what smooth results need, others at random about it. */
static void place(const struct fit *fit, int number, struct random *random, double *logs)
{
    size_t factors = fit->surrogate->factors;
    double middle = 0.5 * numeric_log((double)factors); /* points of a cube are sqrt(factors/6) apart */
    for (size_t k = 0; k < factors; k++)
        logs[k] = number == 0 ? middle : middle - 2.5 + 4.0 * random_uniform(random);
    logs[factors] = number == 0 ? -7.0 : -14.0 + 12.0 * random_uniform(random);
}

/* The best of all starts goes to `best`. */
static enum status search_all(struct fit *fit)
{
    struct random random = {fit->options.seed};
    enum status status = STATUS_COMPUTATION;
    double least = (double)INFINITY, value = 0.0;
    for (int number = 0; number < fit->options.starts; number++) {
        place(fit, number, &random, fit->start);
        enum status one = search(fit, fit->start, &value);
        if (one == STATUS_MEMORY)
            return one;
        if (one == STATUS_OK && value < least) {
            least = value;
            status = STATUS_OK;
            memcpy(fit->best, fit->start, (fit->surrogate->factors + 1) * sizeof *fit->best);
        }
    }
    return status;
}

static int constant(size_t count, const double *values)
{
    double low = values[0], high = values[0];
    for (size_t i = 1; i < count; i++) {
        low = numeric_smaller(low, values[i]);
        high = numeric_larger(high, values[i]);
    }
    double size = numeric_larger(numeric_absolute(low), numeric_absolute(high));
    return high - low <= 1e-13 * size;
}

/* `wanted` of the points, by exchanging the front of a list with what is drawn from the rest. */
static enum status draw_subset(const struct surrogate *all, size_t wanted, uint64_t seed,
                               struct surrogate *subset)
{
    size_t factors = all->factors;
    struct random random = {~seed};
    enum status status = STATUS_MEMORY;
    size_t *order = memory_zeroed(all->count, sizeof *order);
    double *x = memory_doubles(wanted * factors), *y = memory_doubles(wanted);
    if (!order || !x || !y)
        goto done;
    for (size_t i = 0; i < all->count; i++)
        order[i] = i;
    for (size_t i = 0; i < wanted; i++) {
        size_t from = i + random_below(&random, all->count - i), taken = order[from];
        order[from] = order[i];
        memcpy(x + i * factors, all->points + taken * factors, factors * sizeof *x);
        y[i] = all->values[taken];
    }
    status = make(wanted, factors, x, y, subset);
done:
    memory_free(y);
    memory_free(x);
    memory_free(order);
    return status;
}

/* All starts on a subset; where it says nothing the last search begins at the first start. */
static enum status search_subset(struct fit *fit)
{
    struct surrogate *all = fit->surrogate, subset = {0};
    enum status status = draw_subset(all, fit->options.subsample, fit->options.seed, &subset);
    struct random random = {fit->options.seed};
    place(fit, 0, &random, fit->best);
    if (status == STATUS_OK && !constant(subset.count, subset.values)) {
        fit->surrogate = &subset;
        status = search_all(fit);
        fit->surrogate = all;
    }
    surrogate_free(&subset);
    return status == STATUS_MEMORY ? status : STATUS_OK;
}

static enum status make_fit(struct fit *fit)
{
    size_t factors = fit->surrogate->factors, coordinates = factors + 1;
    enum status status = make_work(fit->surrogate->count, factors, &fit->work);
    fit->block = memory_doubles(4 * coordinates);
    if (status != STATUS_OK || !fit->block)
        return STATUS_MEMORY;
    fit->lower = fit->block;
    fit->upper = fit->lower + coordinates;
    fit->start = fit->upper + coordinates;
    fit->best = fit->start + coordinates;
    for (size_t k = 0; k < factors; k++) {
        fit->lower[k] = numeric_log(SURROGATE_LENGTH_MIN);
        fit->upper[k] = numeric_log(SURROGATE_LENGTH_MAX);
    }
    fit->lower[factors] = numeric_log(fit->options.noise_floor);
    fit->upper[factors] = numeric_log(fit->options.noise_most);
    return STATUS_OK;
}

/* Equal values have no scale: the variance is what rounding leaves of them. */
static enum status settle_constant(struct fit *fit)
{
    struct surrogate *surrogate = fit->surrogate;
    for (size_t k = 0; k < surrogate->factors; k++)
        surrogate->lengths[k] = 1.0;
    double rounding = 1e-13 * surrogate->values[0];
    return settle(surrogate, fit->options.noise_floor, rounding * rounding + 0x1p-1000, fit->work.point);
}

static enum status find(struct fit *fit)
{
    struct surrogate *surrogate = fit->surrogate;
    if (constant(surrogate->count, surrogate->values))
        return settle_constant(fit);
    if (surrogate->count <= fit->options.subsample) {
        enum status status = search_all(fit);
        return status == STATUS_OK ? settle_at(fit, fit->best) : status;
    }
    enum status status = search_subset(fit);
    if (status == STATUS_OK)
        status = search(fit, fit->best, NULL);
    return status == STATUS_OK ? settle_at(fit, fit->best) : status;
}

enum status surrogate_fit(size_t count, size_t factors, const double *x, const double *y,
                          const struct surrogate_options *options, struct surrogate *surrogate)
{
    struct fit fit = {.surrogate = surrogate};
    *surrogate = (struct surrogate){0};
    enum status status = resolve(options, &fit.options);
    if (status == STATUS_OK)
        status = make(count, factors, x, y, surrogate);
    if (status == STATUS_OK)
        status = make_fit(&fit);
    if (status == STATUS_OK)
        status = find(&fit);
    memory_free(fit.block);
    memory_free(fit.work.inverse);
    if (status != STATUS_OK)
        surrogate_free(surrogate);
    return status;
}
