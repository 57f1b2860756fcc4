#ifndef FOAMPULSE_STUDY_SAMPLING_H
#define FOAMPULSE_STUDY_SAMPLING_H

#include <stddef.h>
#include <stdint.h>

/*
 * Where to look: points of a full grid, or spread over the unit cube.
 *
 * Pure mathematics of whole numbers and exact scalings, no memory of its own: the same arguments give the
 * same points on every machine. `unit` is (points x factors), a point after the other; the caller owns it.
 */

enum {
    SAMPLING_FACTORS = 256,    /* most factors of a Sobol sequence */
    SAMPLING_POINTS = 67108864 /* most points of a Latin hypercube or a Sobol sequence, 2^26 */
};

/* Points of the full grid: the product of `levels` (factors), SIZE_MAX when it is no smaller than that. */
size_t sampling_grid_count(const size_t *levels, size_t factors);

/* Which level each factor has in point number `point`, both from 0, into `index` (factors). The last factor
 * changes from point to point. `point` is below sampling_grid_count, which is below SIZE_MAX. */
void sampling_grid_index(const size_t *levels, size_t factors, size_t point, size_t *index);

/* Latin hypercube: of each factor each of the `points` equal parts of 0 .. 1 holds one point, at a random
 * place strictly within (a multiple of 2^-24 of the part, and a half); parts of different factors are paired
 * at random (McKay, Beckman and Conover, Technometrics 21 (1979) 239-245). One more factor leaves those
 * before it as they are; another number of points changes everything. */
void sampling_latin(size_t points, size_t factors, uint64_t seed, double *unit);

/* Sobol sequence with the direction numbers of Joe and Kuo (solver/study/sobol_table.h) in the order of the
 * Gray code, from its first point on: more points or factors leave those before as they are. Of 2^m points
 * each factor has one in each of 2^m equal parts, so powers of two are spread best, and only together with
 * the first point (Owen, "On dropping the first Sobol' point", MCQMC 2020).
 *
 * `seed` 0: the plain sequence, multiples of 2^-32 below 1. Its first point is the corner 0. Other seeds: a
 * digital shift, in each factor the binary digits of all points are flipped where those of one random number
 * are set. That moves every box of binary sides onto another such box, so that each still holds as many
 * points, and keeps points off 0 and 1. */
void sampling_sobol(size_t points, size_t factors, uint64_t seed, double *unit);

#endif
