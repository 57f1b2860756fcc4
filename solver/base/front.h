#ifndef FOAMPULSE_BASE_FRONT_H
#define FOAMPULSE_BASE_FRONT_H

#include <stddef.h>

/*
 * Trade-offs of two costs, both of which are to be small. A point is dominated when another is no worse in
 * both and better in one; those that are not make the front.
 */

/* Indices of the points of the front by rising `a`, so by falling `b`; of equal points the first. Points with
 * a NaN take no part. `front` has room for `count`, and `count` more for the search. Returns how many. */
size_t front_find(const double *a, const double *b, size_t count, size_t *front);

/* Area between a front, as found, and a reference point that is worse than all of it: what the front
 * dominates there; points that do not dominate the reference count nothing. It grows with a better front
 * (hypervolume, E. Zitzler and L. Thiele, PPSN V, 1998). */
double front_area(const double *a, const double *b, const size_t *front, size_t count, double reference_a,
                  double reference_b);

#endif
