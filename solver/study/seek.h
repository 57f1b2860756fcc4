#ifndef FOAMPULSE_STUDY_SEEK_H
#define FOAMPULSE_STUDY_SEEK_H

#include <stddef.h>
#include <stdint.h>

#include "solver/base/status.h"

/*
 * The points of the unit cube where a cheap function is largest, factors with levels on them: all points
 * where there are few, otherwise many at random, some of them near given points, and from the best of these
 * on steps along one factor at a time as long as they lead upwards.
 */

enum { SEEK_ALL = 2000 /* points of a grid that are all looked at */ };

struct seek_factor {
    size_t level_count;   /* 0: any number in 0..1 */
    const double *levels; /* (level_count) in 0..1, ascending */
};

struct seek {
    size_t factor_count;
    const struct seek_factor *factors;
    uint64_t seed;
    /* Fills scores (n) of points (n x factors). */
    enum status (*score)(void *context, size_t n, const double *points, double *scores);
    int (*barred)(void *context, const double *point); /* not to be found; NULL: none is */
    void *context;
};

/* Points of the grid of all levels; SIZE_MAX with a factor without, or when there are so many. */
size_t seek_grid(const struct seek *seek);

/* The `most` best points found (found x factors) with their scores, the best first, no two equal, none barred
 * and no score NaN. `starts` (start_count x factors) are where to look closely. STATUS_MEMORY, or that of
 * `score`. */
enum status seek_best(const struct seek *seek, const double *starts, size_t start_count, size_t most,
                      double *points, double *scores, size_t *found);

/* Whether two points are the same layout: no factor with levels on different ones, no other further apart
 * than 1e-4. */
int seek_same(const struct seek *seek, const double *a, const double *b);

/* Moves factor `at` of a point by so many levels, or by `way` where it has none, within its range; 0 when
 * that leads nowhere else. */
int seek_move(const struct seek *seek, double *point, size_t at, long levels, double way);

/* The level next to `place`; `place` for a factor without. */
double seek_snap(const struct seek *seek, size_t at, double place);

#endif
