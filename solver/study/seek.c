#include "solver/study/seek.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/base/random.h"
#include "solver/study/sampling.h"

enum { ANYWHERE = 600, NEAR = 100, CLIMBS = 6, CLIMB_STEPS = 40 };

static const double apart = 1e-4;      /* of two points, factors without levels */
static const double same_level = 1e-9; /* of one level and itself */
static const double far_apart = 0.1;   /* of two starts of a climb, in some factor */

/* Sizes of the steps of a climb, in levels and in widths of the range. */
enum { SIZES = 5 };
static const long level_sizes[SIZES] = {1, 2, 4, 8, 16};
static const double way_sizes[SIZES] = {0.1, 0.02, 0.004, 0.0008, 0.0002};

/* --- points --- */

size_t seek_grid(const struct seek *seek)
{
    size_t levels[SAMPLING_FACTORS];
    for (size_t i = 0; i < seek->factor_count; i++) {
        levels[i] = seek->factors[i].level_count;
        if (levels[i] == 0)
            return SIZE_MAX;
    }
    return sampling_grid_count(levels, seek->factor_count);
}

int seek_same(const struct seek *seek, const double *a, const double *b)
{
    for (size_t i = 0; i < seek->factor_count; i++) {
        double limit = seek->factors[i].level_count ? same_level : apart;
        if (numeric_absolute(a[i] - b[i]) > limit)
            return 0;
    }
    return 1;
}

/* The level next to a place, from 0. */
static size_t level_at(const struct seek_factor *factor, double place)
{
    size_t low = 0, high = factor->level_count - 1;
    while (high > low + 1) {
        size_t middle = low + (high - low) / 2;
        if (factor->levels[middle] <= place)
            low = middle;
        else
            high = middle;
    }
    return place - factor->levels[low] <= factor->levels[high] - place ? low : high;
}

double seek_snap(const struct seek *seek, size_t at, double place)
{
    const struct seek_factor *factor = &seek->factors[at];
    return factor->level_count ? factor->levels[level_at(factor, place)] : place;
}

int seek_move(const struct seek *seek, double *point, size_t at, long levels, double way)
{
    const struct seek_factor *factor = &seek->factors[at];
    double before = point[at];
    if (factor->level_count == 0) {
        point[at] = numeric_larger(0.0, numeric_smaller(1.0, before + way));
    } else {
        long last = (long)factor->level_count - 1, to = (long)level_at(factor, before) + levels;
        point[at] = factor->levels[to < 0 ? 0 : to > last ? last : to];
    }
    return point[at] != before;
}

/* --- the list of the best --- */

struct search {
    const struct seek *seek;
    struct random random;
    size_t most, found;
    double *points, *scores; /* (most x factors), (most): the list */
    double *batch, *values;  /* what is scored together */
    enum status status;
};

/* Puts a point into the list where it belongs. */
static void offer(struct search *search, const double *point, double score)
{
    const struct seek *seek = search->seek;
    size_t factors = seek->factor_count, to = search->found;
    if (isnan(score) || (to == search->most && score <= search->scores[to - 1]))
        return;
    for (size_t i = 0; i < search->found; i++) {
        if (seek_same(seek, point, search->points + i * factors))
            return;
    }
    if (seek->barred && seek->barred(seek->context, point))
        return;
    to = to == search->most ? to - 1 : to;
    for (; to > 0 && search->scores[to - 1] < score; to--) {
        search->scores[to] = search->scores[to - 1];
        memcpy(search->points + to * factors, search->points + (to - 1) * factors, factors * sizeof *point);
    }
    search->scores[to] = score;
    memcpy(search->points + to * factors, point, factors * sizeof *point);
    search->found += search->found < search->most;
}

/* Scores the first `count` points of the batch and offers them. */
static void score_batch(struct search *search, size_t count)
{
    const struct seek *seek = search->seek;
    if (count == 0 || search->status != STATUS_OK)
        return;
    search->status = seek->score(seek->context, count, search->batch, search->values);
    for (size_t i = 0; i < count && search->status == STATUS_OK; i++)
        offer(search, search->batch + i * seek->factor_count, search->values[i]);
}

/* --- where to look --- */

static void look_everywhere(struct search *search, size_t count)
{
    const struct seek *seek = search->seek;
    size_t levels[SAMPLING_FACTORS], index[SAMPLING_FACTORS];
    for (size_t i = 0; i < seek->factor_count; i++)
        levels[i] = seek->factors[i].level_count;
    for (size_t p = 0; p < count; p++) {
        sampling_grid_index(levels, seek->factor_count, p, index);
        for (size_t i = 0; i < seek->factor_count; i++)
            search->batch[p * seek->factor_count + i] = seek->factors[i].levels[index[i]];
    }
    score_batch(search, count);
}

static double anywhere(struct search *search, size_t at)
{
    const struct seek_factor *factor = &search->seek->factors[at];
    return factor->level_count ? factor->levels[random_below(&search->random, factor->level_count)]
                               : random_uniform(&search->random);
}

static void look_anywhere(struct search *search)
{
    size_t factors = search->seek->factor_count;
    for (size_t p = 0; p < ANYWHERE; p++) {
        for (size_t i = 0; i < factors; i++)
            search->batch[p * factors + i] = anywhere(search, i);
    }
    score_batch(search, ANYWHERE);
}

/* Every other factor moved, by small steps more often than by large ones. */
static void look_near(struct search *search, const double *start)
{
    const struct seek *seek = search->seek;
    size_t factors = seek->factor_count;
    for (size_t p = 0; p < NEAR; p++) {
        double *point = search->batch + p * factors;
        memcpy(point, start, factors * sizeof *point);
        for (size_t i = 0; i < factors; i++) {
            double u = 2.0 * random_uniform(&search->random) - 1.0, way = 0.3 * u * u * u;
            long levels = (long)(way * (double)seek->factors[i].level_count) + (u > 0.0 ? 1 : -1);
            if (random_below(&search->random, 2))
                seek_move(seek, point, i, levels, way);
        }
    }
    score_batch(search, NEAR);
}

/* All steps from a point into the batch; their count. */
static size_t make_steps(struct search *search, const double *point)
{
    size_t factors = search->seek->factor_count, count = 0;
    for (size_t i = 0; i < 2 * SIZES * factors; i++) {
        double *to = search->batch + count * factors;
        size_t at = i / (2 * SIZES), size = i / 2 % SIZES;
        long sign = i % 2 ? -1 : 1;
        memcpy(to, point, factors * sizeof *to);
        count +=
            (size_t)seek_move(search->seek, to, at, sign * level_sizes[size], (double)sign * way_sizes[size]);
    }
    return count;
}

/* Steepest ascent from a point. */
static void climb(struct search *search, double *point, double score)
{
    size_t factors = search->seek->factor_count;
    for (int step = 0; step < CLIMB_STEPS && search->status == STATUS_OK; step++) {
        size_t count = make_steps(search, point), best = count;
        score_batch(search, count);
        for (size_t i = 0; i < count && search->status == STATUS_OK; i++) {
            if (search->values[i] > score) {
                score = search->values[i];
                best = i;
            }
        }
        if (best == count)
            return;
        memcpy(point, search->batch + best * factors, factors * sizeof *point);
    }
}

/* Whether a point is far from all of `count` others in some factor. */
static int far_from(size_t factors, const double *point, const double *others, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double most = 0.0;
        for (size_t k = 0; k < factors; k++)
            most = numeric_larger(most, numeric_absolute(point[k] - others[i * factors + k]));
        if (most < far_apart)
            return 0;
    }
    return 1;
}

/* From the best of the list that lie apart, as it is at the start of the climbs. */
static void climb_all(struct search *search, double *tops)
{
    size_t factors = search->seek->factor_count, count = 0;
    double *scores = tops + CLIMBS * factors;
    for (size_t i = 0; i < search->found && count < CLIMBS; i++) {
        const double *point = search->points + i * factors;
        if (!far_from(factors, point, tops, count))
            continue;
        memcpy(tops + count * factors, point, factors * sizeof *tops);
        scores[count++] = search->scores[i];
    }
    for (size_t i = 0; i < count; i++)
        climb(search, tops + i * factors, scores[i]);
}

enum status seek_best(const struct seek *seek, const double *starts, size_t start_count, size_t most,
                      double *points, double *scores, size_t *found)
{
    size_t factors = seek->factor_count, grid = seek_grid(seek), steps = 2 * SIZES * factors;
    size_t batch = steps > SEEK_ALL ? steps : SEEK_ALL;
    struct search search = {
        .seek = seek, .random = {seek->seed}, .most = most, .points = points, .scores = scores};
    *found = 0;
    search.batch = memory_doubles(batch * factors);
    search.values = memory_doubles(batch);
    double *tops = memory_doubles(CLIMBS * (factors + 1));
    search.status = search.batch && search.values && tops ? STATUS_OK : STATUS_MEMORY;
    if (search.status == STATUS_OK && grid <= SEEK_ALL) {
        look_everywhere(&search, grid);
    } else if (search.status == STATUS_OK) {
        look_anywhere(&search);
        for (size_t i = 0; i < start_count; i++)
            look_near(&search, starts + i * factors);
        climb_all(&search, tops);
    }
    *found = search.status == STATUS_OK ? search.found : 0;
    memory_free(tops);
    memory_free(search.values);
    memory_free(search.batch);
    return search.status;
}
