#include "solver/study/forecast.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/normal.h"
#include "solver/base/numeric.h"

enum { CHUNK = 256, STARTS = 3, EVALUATIONS = 60, PANELS = 6, NODES = 5 };

/* Shares of the signal's variance. Near the best, deviations have to become small for a search to end. Runs
 * repeat to the bit: what looks like noise in few points is what they do not resolve yet. Left free, it
 * explains them all, and nothing is expected anywhere. */
static const double noise_least = 1e-8, noise_most = 1e-3;

/* --- points --- */

static size_t column_count(const struct forecast *forecast)
{
    return forecast->output_count + forecast->group_count + 1;
}

static void copy_groups(size_t outputs, const int *groups, int *to)
{
    for (size_t i = 0; i < outputs; i++)
        to[i] = groups ? groups[i] : 0;
}

enum status forecast_begin(size_t factors, size_t outputs, const int *groups, size_t group_count,
                           struct forecast *forecast)
{
    *forecast =
        (struct forecast){.factor_count = factors, .output_count = outputs, .group_count = group_count};
    size_t columns = column_count(forecast);
    forecast->groups = memory_zeroed(outputs + 1, sizeof *forecast->groups);
    forecast->single = memory_zeroed(outputs + 1, 1);
    forecast->models = memory_zeroed(columns, sizeof *forecast->models);
    forecast->kept = memory_zeroed(columns, sizeof *forecast->kept);
    forecast->lengths = memory_doubles(columns * factors + 1);
    if (!forecast->groups || !forecast->single || !forecast->models || !forecast->kept ||
        !forecast->lengths) {
        forecast_free(forecast);
        return STATUS_MEMORY;
    }
    copy_groups(outputs, groups, forecast->groups);
    for (size_t i = 0; i < columns; i++)
        forecast->kept[i].lengths = forecast->lengths + i * factors;
    return STATUS_OK;
}

static int resize(void *array, size_t before, size_t count, size_t size)
{
    void **block = array;
    void *longer = memory_resized(*block, before, count, size);
    if (longer)
        *block = longer;
    return longer != NULL;
}

static enum status make_room(struct forecast *forecast)
{
    size_t before = forecast->room, after = 2 * before + 16;
    size_t factors = forecast->factor_count, outputs = forecast->output_count;
    if (forecast->count < before)
        return STATUS_OK;
    if (!resize(&forecast->points, before * factors, after * factors, sizeof(double)) ||
        !resize(&forecast->outputs, before * outputs, after * outputs, sizeof(double)) ||
        !resize(&forecast->states, before, after, sizeof *forecast->states))
        return STATUS_MEMORY;
    forecast->room = after;
    return STATUS_OK;
}

enum status forecast_add(struct forecast *forecast, const double *point, const double *outputs,
                         enum forecast_state state)
{
    enum status status = make_room(forecast);
    size_t at = forecast->count, factors = forecast->factor_count, columns = forecast->output_count;
    if (status != STATUS_OK)
        return status;
    memcpy(forecast->points + at * factors, point, factors * sizeof *point);
    for (size_t i = 0; i < columns; i++)
        forecast->outputs[at * columns + i] = outputs ? outputs[i] : NAN;
    forecast->states[at] = state;
    forecast->count++;
    return STATUS_OK;
}

/* The least output of a group at a point; `rest`: of those without a surrogate of their own. */
static double least(const struct forecast *forecast, size_t at, int group, int rest)
{
    const double *outputs = forecast->outputs + at * forecast->output_count;
    double value = NAN;
    for (size_t i = 0; i < forecast->output_count; i++) {
        if (forecast->groups[i] != group || (rest && forecast->single[i]) || isnan(outputs[i]))
            continue;
        value = isnan(value) || outputs[i] < value ? outputs[i] : value;
    }
    return value;
}

double forecast_value(const struct forecast *forecast, size_t at, int group)
{
    return least(forecast, at, group, 0);
}

int forecast_allowed(const struct forecast *forecast, size_t at)
{
    if (forecast->states[at] != FORECAST_TOLD || isnan(forecast_value(forecast, at, 0)))
        return 0;
    for (int group = 1; (size_t)group < forecast->group_count; group++) {
        if (forecast_value(forecast, at, group) < 0.0)
            return 0;
    }
    return 1;
}

long forecast_best(const struct forecast *forecast, size_t since)
{
    long best = -1;
    double most = 0.0;
    for (size_t i = since; i < forecast->count; i++) {
        double value = forecast_allowed(forecast, i) ? forecast_value(forecast, i, 0) : NAN;
        if (isnan(value) || (best >= 0 && value <= most))
            continue;
        best = (long)i;
        most = value;
    }
    return best;
}

void forecast_forget(struct forecast *forecast)
{
    forecast->since = forecast->count;
    for (size_t i = 0; i < column_count(forecast); i++)
        forecast->kept[i].count = 0;
}

/* --- what is fitted --- */

static int compare_numbers(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

/* Median and spread of the objective, and the best that is allowed. */
static enum status find_scale(struct forecast *forecast)
{
    size_t count = 0;
    double *values = memory_doubles(forecast->count + 1);
    if (!values)
        return STATUS_MEMORY;
    long best = forecast_best(forecast, forecast->since);
    forecast->best = best < 0 ? NAN : forecast_value(forecast, (size_t)best, 0);
    for (size_t i = forecast->since; i < forecast->count; i++) {
        double value = forecast->states[i] == FORECAST_TOLD ? forecast_value(forecast, i, 0) : NAN;
        if (!isnan(value))
            values[count++] = value;
    }
    qsort(values, count, sizeof *values, compare_numbers);
    forecast->median = count ? values[count / 2] : 0.0;
    forecast->spread = count ? values[count - 1] - forecast->median : 0.0;
    memory_free(values);
    return count < 2 ? STATUS_COMPUTATION : STATUS_OK;
}

/* Draws values of the objective below the median together; the slope is steady there. */
static double drawn(const struct forecast *forecast, double value)
{
    double below = forecast->median - value;
    if (below <= 0.0 || forecast->spread <= 0.0)
        return value;
    return forecast->median - forecast->spread * numeric_log(1.0 + below / forecast->spread);
}

/* How often each output was the least of its group. */
static void count_least(const struct forecast *forecast, size_t *often)
{
    size_t outputs = forecast->output_count;
    for (size_t i = forecast->since; i < forecast->count; i++) {
        const double *values = forecast->outputs + i * outputs;
        for (int group = 0; (size_t)group < forecast->group_count; group++) {
            double value = forecast_value(forecast, i, group);
            for (size_t k = 0; k < outputs; k++)
                often[k] += forecast->groups[k] == group && values[k] == value;
        }
    }
}

/* Gives the outputs of a group that govern most often a surrogate of their own. */
static void choose_group(struct forecast *forecast, int group, size_t *often)
{
    for (int chosen = 0; chosen < FORECAST_SINGLE; chosen++) {
        size_t most = forecast->output_count;
        for (size_t k = 0; k < forecast->output_count; k++) {
            if (forecast->groups[k] == group && often[k] > 0 &&
                (most == forecast->output_count || often[k] > often[most]))
                most = k;
        }
        if (most == forecast->output_count)
            return;
        forecast->single[most] = 1;
        often[most] = 0;
    }
}

static enum status choose_single(struct forecast *forecast)
{
    size_t *often = memory_zeroed(forecast->output_count + 1, sizeof *often);
    if (!often)
        return STATUS_MEMORY;
    memset(forecast->single, 0, forecast->output_count);
    count_least(forecast, often);
    for (int group = 0; (size_t)group < forecast->group_count && !forecast->lump; group++)
        choose_group(forecast, group, often);
    memory_free(often);
    return STATUS_OK;
}

/* What a model is fitted to at a point; NaN for nothing. */
static double target(const struct forecast *forecast, const struct forecast_model *model, size_t at)
{
    enum forecast_state state = forecast->states[at];
    if ((size_t)model->group == forecast->group_count)
        return state == FORECAST_TOLD ? 1.0 : state == FORECAST_FAILED ? -1.0 : NAN;
    if (state != FORECAST_TOLD && (state != FORECAST_PARTIAL || model->group == 0))
        return NAN;
    double value = model->output == SIZE_MAX ? least(forecast, at, model->group, 1)
                                             : forecast->outputs[at * forecast->output_count + model->output];
    return model->group == 0 ? drawn(forecast, value) : value;
}

/* --- surrogates --- */

static void free_models(struct forecast *forecast)
{
    for (size_t i = 0; i < forecast->model_count; i++)
        surrogate_free(&forecast->models[i].surrogate);
    forecast->model_count = 0;
}

static struct forecast_kept *kept_of(const struct forecast *forecast, const struct forecast_model *model)
{
    size_t column = model->output == SIZE_MAX ? forecast->output_count + (size_t)model->group : model->output;
    return &forecast->kept[column];
}

/* Lengths and variances as they were, while there are few new points. */
static enum status condition(const struct forecast *forecast, struct forecast_model *model, size_t count,
                             const double *points, const double *values)
{
    const struct forecast_kept *kept = kept_of(forecast, model);
    if (kept->count == 0 || 10 * count > 11 * kept->count)
        return STATUS_COMPUTATION;
    return surrogate_condition(count, forecast->factor_count, points, values, kept->lengths, kept->variance,
                               kept->noise, &model->surrogate);
}

static enum status fit(const struct forecast *forecast, struct forecast_model *model, size_t count,
                       const double *points, const double *values)
{
    struct surrogate_options options = {.starts = STARTS,
                                        .evaluations = EVALUATIONS,
                                        .seed = forecast->seed,
                                        .noise_floor = noise_least,
                                        .noise_most = noise_most};
    struct forecast_kept *kept = kept_of(forecast, model);
    enum status status =
        surrogate_fit(count, forecast->factor_count, points, values, &options, &model->surrogate);
    if (status != STATUS_OK)
        return status;
    kept->count = count;
    kept->variance = model->surrogate.variance;
    kept->noise = model->surrogate.noise;
    memcpy(kept->lengths, model->surrogate.lengths, forecast->factor_count * sizeof(double));
    return STATUS_OK;
}

/* Fits one model; it is dropped where there is nothing to fit. */
static enum status add_model(struct forecast *forecast, int group, size_t output, double *points,
                             double *values)
{
    struct forecast_model *model = &forecast->models[forecast->model_count];
    size_t count = 0, factors = forecast->factor_count;
    *model = (struct forecast_model){.group = group, .output = output};
    for (size_t i = forecast->since; i < forecast->count; i++) {
        double value = target(forecast, model, i);
        if (!isfinite(value))
            continue;
        memcpy(points + count * factors, forecast->points + i * factors, factors * sizeof *points);
        values[count++] = value;
    }
    if (count == 0)
        return STATUS_OK;
    enum status status = condition(forecast, model, count, points, values);
    if (status == STATUS_COMPUTATION)
        status = fit(forecast, model, count, points, values);
    forecast->model_count += status == STATUS_OK;
    return status;
}

static int any_failed(const struct forecast *forecast)
{
    for (size_t i = forecast->since; i < forecast->count; i++) {
        if (forecast->states[i] == FORECAST_FAILED)
            return 1;
    }
    return 0;
}

static enum status add_models(struct forecast *forecast, double *points, double *values)
{
    enum status status = STATUS_OK;
    for (size_t k = 0; k < forecast->output_count && status == STATUS_OK; k++) {
        if (forecast->single[k])
            status = add_model(forecast, forecast->groups[k], k, points, values);
    }
    for (int group = 0; (size_t)group < forecast->group_count && status == STATUS_OK; group++)
        status = add_model(forecast, group, SIZE_MAX, points, values);
    if (status == STATUS_OK && any_failed(forecast))
        status = add_model(forecast, (int)forecast->group_count, SIZE_MAX, points, values);
    return status;
}

enum status forecast_fit(struct forecast *forecast)
{
    double *points = memory_doubles(forecast->count * forecast->factor_count + 1);
    double *values = memory_doubles(forecast->count + 1);
    free_models(forecast);
    enum status status = points && values ? find_scale(forecast) : STATUS_MEMORY;
    if (status == STATUS_OK)
        status = choose_single(forecast);
    if (status == STATUS_OK)
        status = add_models(forecast, points, values);
    if (status != STATUS_OK)
        free_models(forecast);
    memory_free(values);
    memory_free(points);
    return status;
}

/* The surrogate with one point more, where it says what it expects. */
static enum status extend(struct surrogate *surrogate, const double *point)
{
    size_t count = surrogate->count, factors = surrogate->factors;
    struct surrogate longer = {0};
    double *points = memory_doubles((count + 1) * factors), *values = memory_doubles(count + 1);
    enum status status = points && values ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        memcpy(points, surrogate->points, count * factors * sizeof *points);
        memcpy(points + count * factors, point, factors * sizeof *points);
        memcpy(values, surrogate->values, count * sizeof *values);
        surrogate_predict(surrogate, 1, point, &values[count], NULL);
        status = surrogate_condition(count + 1, factors, points, values, surrogate->lengths,
                                     surrogate->variance, surrogate->noise, &longer);
    }
    if (status == STATUS_OK) {
        surrogate_free(surrogate);
        *surrogate = longer;
    }
    memory_free(values);
    memory_free(points);
    return status == STATUS_COMPUTATION ? STATUS_OK : status;
}

enum status forecast_believe(struct forecast *forecast, size_t at)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < forecast->model_count && status == STATUS_OK; i++)
        status = extend(&forecast->models[i].surrogate, forecast->points + at * forecast->factor_count);
    return status;
}

/* --- expectations --- */

/* P(all variables > t) */
static double chance_above(size_t count, const double *mean, const double *deviation, double t)
{
    double chance = 1.0;
    for (size_t i = 0; i < count; i++) {
        double above = mean[i] - t;
        chance *= deviation[i] > 0.0 ? normal_cumulative(above / deviation[i]) : above > 0.0;
    }
    return chance;
}

/* Gauss's rule of five nodes on equal parts of where the integrand is not settled: below, the chance is 1 for
 * all variables; above, one of them is sure to be less. */
double forecast_improvement(size_t count, const double *mean, const double *deviation, double best)
{
    static const double node[NODES] = {-0.9061798459386640, -0.5384693101056831, 0.0, 0.5384693101056831,
                                       0.9061798459386640};
    static const double weight[NODES] = {0.2369268850561891, 0.4786286704993665, 0.5688888888888889,
                                         0.4786286704993665, 0.2369268850561891};
    double from = (double)INFINITY, to = (double)INFINITY, sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        from = numeric_smaller(from, mean[i] - 8.0 * deviation[i]);
        to = numeric_smaller(to, mean[i] + 8.0 * deviation[i]);
    }
    if (count == 0 || to <= best)
        return 0.0;
    double start = numeric_larger(best, numeric_smaller(from, to));
    double width = (to - start) / PANELS;
    for (int panel = 0; panel < PANELS && width > 0.0; panel++) {
        for (int k = 0; k < NODES; k++) {
            double t = start + width * (panel + 0.5 + 0.5 * node[k]);
            sum += 0.5 * width * weight[k] * chance_above(count, mean, deviation, t);
        }
    }
    return start - best + sum;
}

/* Means and deviations of all models at up to CHUNK points, each (models x CHUNK). */
struct outlook {
    double *mean, *deviation;
    double *one_mean, *one_deviation; /* (models) of one group at one point */
};

/* The models of a group at point k, gathered; their count. */
static size_t gather(const struct forecast *forecast, const struct outlook *outlook, size_t k, int group)
{
    size_t count = 0;
    for (size_t i = 0; i < forecast->model_count; i++) {
        if (forecast->models[i].group != group)
            continue;
        outlook->one_mean[count] = outlook->mean[i * CHUNK + k];
        outlook->one_deviation[count++] = outlook->deviation[i * CHUNK + k];
    }
    return count;
}

static double chance_at(const struct forecast *forecast, const struct outlook *outlook, size_t k)
{
    double chance = 1.0;
    for (int group = 1; (size_t)group <= forecast->group_count; group++) {
        size_t count = gather(forecast, outlook, k, group);
        chance *= chance_above(count, outlook->one_mean, outlook->one_deviation, 0.0);
    }
    return chance;
}

static void expect_one(const struct forecast *forecast, const struct outlook *outlook, size_t k,
                       double *improvement, double *chance, double *value)
{
    double hold = chance_at(forecast, outlook, k);
    size_t count = gather(forecast, outlook, k, 0);
    if (chance)
        *chance = hold;
    if (improvement)
        *improvement = isnan(forecast->best)
                           ? hold
                           : hold * forecast_improvement(count, outlook->one_mean, outlook->one_deviation,
                                                         drawn(forecast, forecast->best));
    if (!value)
        return;
    *value = (double)INFINITY;
    for (size_t i = 0; i < count; i++)
        *value = numeric_smaller(*value, outlook->one_mean[i]);
}

static int predict(const struct forecast *forecast, size_t n, const double *points, struct outlook *outlook)
{
    for (size_t i = 0; i < forecast->model_count; i++) {
        surrogate_predict(&forecast->models[i].surrogate, n, points, outlook->mean + i * CHUNK,
                          outlook->deviation + i * CHUNK);
        if (isnan(outlook->mean[i * CHUNK]))
            return 0;
    }
    return 1;
}

enum status forecast_expect(const struct forecast *forecast, size_t n, const double *points,
                            double *improvement, double *chance, double *value)
{
    size_t models = forecast->model_count;
    double *block = memory_doubles(2 * models * (CHUNK + 1) + 1);
    struct outlook outlook = {.mean = block};
    if (!block)
        return STATUS_MEMORY;
    outlook.deviation = outlook.mean + models * CHUNK;
    outlook.one_mean = outlook.deviation + models * CHUNK;
    outlook.one_deviation = outlook.one_mean + models;
    int sound = 1;
    for (size_t first = 0; first < n && sound; first += CHUNK) {
        size_t count = n - first < CHUNK ? n - first : CHUNK;
        sound = predict(forecast, count, points + first * forecast->factor_count, &outlook);
        for (size_t k = 0; k < count && sound; k++)
            expect_one(forecast, &outlook, k, improvement ? &improvement[first + k] : NULL,
                       chance ? &chance[first + k] : NULL, value ? &value[first + k] : NULL);
    }
    memory_free(block);
    return sound ? STATUS_OK : STATUS_MEMORY;
}

void forecast_free(struct forecast *forecast)
{
    free_models(forecast);
    memory_free(forecast->groups);
    memory_free(forecast->points);
    memory_free(forecast->outputs);
    memory_free(forecast->states);
    memory_free(forecast->single);
    memory_free(forecast->models);
    memory_free(forecast->kept);
    memory_free(forecast->lengths);
    *forecast = (struct forecast){0};
}
