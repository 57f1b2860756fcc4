#include "solver/study/optimise.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/study/sampling.h"

enum {
    LIST = 32,      /* points of a search that may have to be excluded */
    EXCLUDED = 150, /* kept for the surrogates of what is known without a run */
    PAIRS_OF = 6,   /* most factors that are moved two at a time */
    TRIES = 50      /* points of the sequence looked at for one of the first design */
};

static const double worth_of_spread = 1e-4;
static const double least_chance = 1e-4;  /* of keeping the constraints, to be worth a run */
static const double close_to_best = 0.02; /* of the spread: worth a step in two factors */

/* --- beginning and end --- */

static int compare_levels(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

static int sound(const struct optimise_options *options)
{
    if (options->factor_count == 0 || options->factor_count > SAMPLING_FACTORS ||
        options->output_count == 0 || options->runs == 0)
        return 0;
    for (size_t i = 0; i < options->factor_count; i++) {
        for (size_t k = 0; k < options->factors[i].level_count; k++) {
            double level = options->factors[i].levels[k];
            if (!(level >= 0.0 && level <= 1.0))
                return 0;
        }
    }
    return 1;
}

static enum status copy_factors(const struct optimise_options *options, struct optimise *optimise)
{
    size_t count = 0;
    for (size_t i = 0; i < options->factor_count; i++)
        count += options->factors[i].level_count;
    struct seek_factor *factors = memory_zeroed(options->factor_count, sizeof *factors);
    double *levels = memory_doubles(count + 1);
    optimise->options.factors = factors;
    optimise->levels = levels;
    if (!factors || !levels)
        return STATUS_MEMORY;
    for (size_t i = 0; i < options->factor_count; i++) {
        size_t its = options->factors[i].level_count;
        factors[i] = (struct seek_factor){its, levels};
        if (its > 0) {
            memcpy(levels, options->factors[i].levels, its * sizeof *levels);
            qsort(levels, its, sizeof *levels, compare_levels);
        }
        levels += its;
    }
    return STATUS_OK;
}

static size_t first_runs(const struct optimise_options *options)
{
    size_t wanted = 5 * (options->factor_count + 1), third = options->runs / 3;
    if (options->first > 0)
        return options->first;
    wanted = wanted > third ? third : wanted;
    return wanted < 2 ? 2 : wanted;
}

enum status optimise_begin(const struct optimise_options *options, struct optimise *optimise)
{
    *optimise = (struct optimise){.improvement = NAN};
    if (!sound(options))
        return STATUS_COMPUTATION;
    optimise->options = *options;
    optimise->options.first = first_runs(options);
    optimise->options.batch = options->batch > 0 ? options->batch : 1;
    optimise->options.groups = NULL; /* the forecast has a copy */
    enum status status = copy_factors(options, optimise);
    if (status == STATUS_OK)
        status = forecast_begin(options->factor_count, options->output_count, options->groups,
                                options->group_count > 0 ? options->group_count : 1, &optimise->forecast);
    optimise->forecast.lump = options->lump;
    optimise->forecast.seed = options->seed;
    optimise->places = memory_zeroed(optimise_room(optimise) + 1, sizeof *optimise->places);
    status = optimise->places ? status : STATUS_MEMORY;
    if (status != STATUS_OK)
        optimise_free(optimise);
    return status;
}

void optimise_free(struct optimise *optimise)
{
    memory_free((void *)optimise->options.factors);
    memory_free(optimise->levels);
    memory_free(optimise->places);
    forecast_free(&optimise->forecast);
    *optimise = (struct optimise){0};
}

size_t optimise_room(const struct optimise *optimise)
{
    const struct optimise_options *options = &optimise->options;
    return options->first > options->batch ? options->first : options->batch;
}

/* --- what was tried --- */

static struct seek seek_of(struct optimise *optimise)
{
    return (struct seek){.factor_count = optimise->options.factor_count,
                         .factors = optimise->options.factors,
                         .seed = optimise->options.seed + optimise->used,
                         .context = optimise};
}

/* Whether a point is there already, run or excluded. */
static int is_there(void *context, const double *point)
{
    struct optimise *optimise = context;
    const struct forecast *forecast = &optimise->forecast;
    struct seek seek = seek_of(optimise);
    for (size_t i = 0; i < forecast->count; i++) {
        if (seek_same(&seek, point, forecast->points + i * forecast->factor_count))
            return 1;
    }
    return 0;
}

enum status optimise_add(struct optimise *optimise, const double *unit, const double *outputs)
{
    optimise->used++;
    return forecast_add(&optimise->forecast, unit, outputs, outputs ? FORECAST_TOLD : FORECAST_FAILED);
}

void optimise_tell(struct optimise *optimise, const double *outputs)
{
    struct forecast *forecast = &optimise->forecast;
    size_t count = forecast->output_count;
    assert(optimise->told < optimise->asked);
    size_t at = optimise->places[optimise->told++];
    forecast->states[at] = outputs ? FORECAST_TOLD : FORECAST_FAILED;
    for (size_t i = 0; i < count; i++)
        forecast->outputs[at * count + i] = outputs ? outputs[i] : NAN;
}

const double *optimise_best(const struct optimise *optimise, double *value)
{
    long best = forecast_best(&optimise->forecast, 0);
    *value = best < 0 ? NAN : forecast_value(&optimise->forecast, (size_t)best, 0);
    return best < 0 ? NULL : optimise->forecast.points + (size_t)best * optimise->options.factor_count;
}

/* --- one more point --- */

static int keeps(const struct forecast *forecast, const double *outputs)
{
    for (size_t i = 0; i < forecast->output_count; i++) {
        if (forecast->groups[i] > 0 && outputs[i] < 0.0)
            return 0;
    }
    return 1;
}

/* A point that is not to be run; the first of them teach the surrogates what is known of them. */
static enum status exclude(struct optimise *optimise, const double *point, const double *outputs)
{
    struct forecast *forecast = &optimise->forecast;
    if (optimise->excluded++ >= EXCLUDED)
        return STATUS_OK;
    return forecast_add(forecast, point, outputs, outputs ? FORECAST_PARTIAL : FORECAST_FAILED);
}

/* Takes a point into the question unless what is known of it forbids. */
static enum status admit(struct optimise *optimise, const double *point, double *unit, size_t *count)
{
    struct forecast *forecast = &optimise->forecast;
    const struct optimise_options *options = &optimise->options;
    enum status status = STATUS_OK;
    double *outputs = memory_doubles(forecast->output_count);
    if (!outputs)
        return STATUS_MEMORY;
    for (size_t i = 0; i < forecast->output_count; i++)
        outputs[i] = NAN;
    if (options->known)
        status = options->known(options->context, point, outputs);
    if (status == STATUS_COMPUTATION) {
        status = exclude(optimise, point, NULL);
    } else if (status == STATUS_OK && !keeps(forecast, outputs)) {
        status = exclude(optimise, point, outputs);
    } else if (status == STATUS_OK) {
        status = forecast_add(forecast, point, NULL, FORECAST_PENDING);
        optimise->places[*count] = forecast->count - 1;
        memcpy(unit + (*count)++ * options->factor_count, point, options->factor_count * sizeof *unit);
    }
    memory_free(outputs);
    return status;
}

/* --- the first design --- */

/* A place of the sequence as a value of a factor: each level has the same part of the way. */
static double place_of(const struct seek_factor *factor, double share)
{
    size_t level = (size_t)(share * (double)factor->level_count);
    if (factor->level_count == 0)
        return share;
    return factor->levels[level < factor->level_count ? level : factor->level_count - 1];
}

/* Goes on in the sequence until so many points are in the question. */
static enum status design(struct optimise *optimise, size_t wanted, double *unit, size_t *count)
{
    const struct optimise_options *options = &optimise->options;
    size_t factors = options->factor_count, end = optimise->drawn + TRIES * (wanted + factors);
    double *points = memory_doubles(end * factors);
    enum status status = points ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK)
        sampling_sobol(end, factors, options->seed + 1, points);
    for (; status == STATUS_OK && *count < wanted && optimise->drawn < end; optimise->drawn++) {
        double *point = points + optimise->drawn * factors;
        for (size_t i = 0; i < factors; i++)
            point[i] = place_of(&options->factors[i], point[i]);
        if (!is_there(optimise, point))
            status = admit(optimise, point, unit, count);
    }
    memory_free(points);
    return status;
}

/* --- the search --- */

static enum status score(void *context, size_t n, const double *points, double *scores)
{
    struct optimise *optimise = context;
    return forecast_expect(&optimise->forecast, n, points, scores, NULL, NULL);
}

/* What an expected improvement has to reach; with nothing that is allowed yet the chance of it. */
static double least_score(const struct optimise *optimise)
{
    const struct forecast *forecast = &optimise->forecast;
    if (isnan(forecast->best))
        return least_chance;
    return optimise->options.worth > 0.0 ? optimise->options.worth : worth_of_spread * forecast->spread;
}

/* Points found by a search, room for LIST. */
struct found {
    double *points, *scores;
    size_t count;
};

static enum status make_found(size_t factors, struct found *found)
{
    found->points = memory_doubles(LIST * (factors + 1));
    found->scores = found->points ? found->points + LIST * factors : NULL;
    return found->points ? STATUS_OK : STATUS_MEMORY;
}

/* One more point of the question, where the expected improvement is largest; none when it is too small. */
static enum status improve(struct optimise *optimise, struct found *found, double *unit, size_t *count)
{
    size_t factors = optimise->options.factor_count, before = *count;
    struct seek seek = seek_of(optimise);
    seek.score = score;
    seek.barred = is_there;
    seek.seed += 1000003 * *count;
    long at = forecast_best(&optimise->forecast, optimise->forecast.since);
    const double *best = at < 0 ? NULL : optimise->forecast.points + (size_t)at * factors;
    enum status status =
        seek_best(&seek, best, best != NULL, LIST, found->points, found->scores, &found->count);
    if (status == STATUS_OK && before == 0)
        optimise->improvement = found->count ? found->scores[0] : 0.0;
    for (size_t i = 0; i < found->count && status == STATUS_OK && *count == before; i++) {
        if (found->scores[i] < least_score(optimise) || found->scores[i] <= 0.0)
            break;
        status = admit(optimise, found->points + i * factors, unit, count);
    }
    return status;
}

static enum status improve_all(struct optimise *optimise, size_t wanted, struct found *found, double *unit,
                               size_t *count)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < wanted && status == STATUS_OK && *count == i; i++) {
        if (i > 0)
            status = forecast_believe(&optimise->forecast, optimise->places[i - 1]);
        if (status == STATUS_OK)
            status = improve(optimise, found, unit, count);
    }
    return status;
}

/* --- about the best --- */

struct neighbours {
    double *points; /* (count x factors) */
    double *values; /* (count) expected; NaN: taken */
    size_t count;
};

static void add_neighbour(struct optimise *optimise, struct neighbours *neighbours, const double *point)
{
    size_t factors = optimise->options.factor_count;
    if (is_there(optimise, point))
        return;
    memcpy(neighbours->points + neighbours->count++ * factors, point, factors * sizeof *point);
}

/* All points one step away in one factor, or (`pairs`) in two, that have not been tried. */
static void find_neighbours(struct optimise *optimise, const double *best, int pairs,
                            struct neighbours *neighbours)
{
    size_t factors = optimise->options.factor_count;
    struct seek seek = seek_of(optimise);
    double point[SAMPLING_FACTORS], second[SAMPLING_FACTORS];
    neighbours->count = 0;
    for (size_t i = 0; i < 2 * factors; i++) {
        memcpy(point, best, factors * sizeof *point);
        if (!seek_move(&seek, point, i / 2, i % 2 ? -1 : 1, 0.0))
            continue;
        if (!pairs)
            add_neighbour(optimise, neighbours, point);
        for (size_t k = 2 * (i / 2 + 1); pairs && k < 2 * factors; k++) {
            memcpy(second, point, factors * sizeof *point);
            if (seek_move(&seek, second, k / 2, k % 2 ? -1 : 1, 0.0))
                add_neighbour(optimise, neighbours, second);
        }
    }
}

/* The most promising neighbours go into the question, none below `least`. */
static enum status take_neighbours(struct optimise *optimise, size_t wanted, double least,
                                   struct neighbours *neighbours, double *unit, size_t *count)
{
    size_t factors = optimise->options.factor_count;
    enum status status = forecast_expect(&optimise->forecast, neighbours->count, neighbours->points, NULL,
                                         NULL, neighbours->values);
    while (status == STATUS_OK && *count < wanted) {
        size_t most = neighbours->count;
        for (size_t i = 0; i < neighbours->count; i++) {
            if (neighbours->values[i] >= least &&
                (most == neighbours->count || neighbours->values[i] > neighbours->values[most]))
                most = i;
        }
        if (most == neighbours->count)
            break;
        neighbours->values[most] = NAN;
        status = admit(optimise, neighbours->points + most * factors, unit, count);
    }
    return status;
}

/* Neighbours of the best in one factor, then in two. */
static enum status polish(struct optimise *optimise, size_t wanted, double *unit, size_t *count)
{
    size_t factors = optimise->options.factor_count, room = 2 * factors * (factors + 1);
    const struct forecast *forecast = &optimise->forecast;
    long at = forecast_best(forecast, forecast->since);
    if (at < 0)
        return STATUS_OK;
    double close = forecast->best - close_to_best * forecast->spread;
    struct neighbours neighbours = {memory_doubles(room * factors), memory_doubles(room), 0};
    double *best = memory_doubles(factors);
    enum status status = neighbours.points && neighbours.values && best ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        memcpy(best, forecast->points + (size_t)at * factors, factors * sizeof *best);
        find_neighbours(optimise, best, 0, &neighbours);
        status = take_neighbours(optimise, wanted, -(double)INFINITY, &neighbours, unit, count);
    }
    if (status == STATUS_OK && *count == 0 && factors <= PAIRS_OF) {
        find_neighbours(optimise, best, 1, &neighbours);
        status = take_neighbours(optimise, wanted, close, &neighbours, unit, count);
    }
    memory_free(best);
    memory_free(neighbours.values);
    memory_free(neighbours.points);
    return status;
}

/* --- questions --- */

/* Runs held back for the neighbours of the best: those with levels, at most a fifth of the budget. */
static size_t reserve(const struct optimise *optimise)
{
    size_t neighbours = 0, fifth = optimise->options.runs / 5;
    for (size_t i = 0; i < optimise->options.factor_count; i++)
        neighbours += 2 * (optimise->options.factors[i].level_count > 0);
    return neighbours < fifth ? neighbours : fifth;
}

static enum status search(struct optimise *optimise, size_t left, double *unit, size_t *count)
{
    size_t batch = optimise->options.batch, wanted = left < batch ? left : batch;
    struct found found;
    enum status status = make_found(optimise->options.factor_count, &found);
    if (status == STATUS_OK && left <= reserve(optimise))
        status = polish(optimise, wanted, unit, count);
    if (status == STATUS_OK && *count == 0)
        status = improve_all(optimise, wanted, &found, unit, count);
    if (status == STATUS_OK && *count == 0)
        status = polish(optimise, wanted, unit, count);
    memory_free(found.points);
    return status;
}

/* Another search, if there are runs for it. */
static enum status begin_again(struct optimise *optimise, size_t left, double *unit, size_t *count)
{
    const struct optimise_options *options = &optimise->options;
    if (optimise->search >= options->searches || left < 2 * options->first)
        return STATUS_OK;
    optimise->search++;
    forecast_forget(&optimise->forecast);
    return design(optimise, options->first, unit, count);
}

enum status optimise_ask(struct optimise *optimise, double *unit, size_t *count)
{
    const struct optimise_options *options = &optimise->options;
    size_t left = options->runs - (optimise->used < options->runs ? optimise->used : options->runs);
    enum status status = optimise->search ? forecast_fit(&optimise->forecast) : STATUS_COMPUTATION;
    assert(optimise->told == optimise->asked);
    *count = optimise->asked = optimise->told = 0;
    if (left > 0 && status == STATUS_COMPUTATION)
        status = design(optimise, options->first < left ? options->first : left, unit, count);
    else if (left > 0 && status == STATUS_OK)
        status = search(optimise, left, unit, count);
    optimise->search += optimise->search == 0;
    if (left > 0 && status == STATUS_OK && *count == 0)
        status = begin_again(optimise, left, unit, count);
    optimise->asked = *count;
    optimise->used += *count;
    return left > 0 ? status : STATUS_OK;
}
