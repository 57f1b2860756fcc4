#ifndef FOAMPULSE_PLOTS_CONTOUR_H
#define FOAMPULSE_PLOTS_CONTOUR_H

#include <stddef.h>

/*
 * Where values on a grid of two axes change their sign.
 */

struct contour_segment {
    double x[2], y[2];
};

/* Straight pieces of the line on which values (ny, nx) are 0, linear along the sides of each mesh; a mesh
 * with a NaN corner has none, a saddle is parted by the mean of its corners. At most 2 a mesh: `segments` has
 * room for 2 (nx - 1) (ny - 1). The axes rise. Returns how many. */
size_t contour_zero(const double *x, size_t nx, const double *y, size_t ny, const double *values,
                    struct contour_segment *segments);

/* The same for cells with `nx` + 1 and `ny` + 1 edges, along the edges between cells of different sign. Room
 * for 2 nx ny. */
size_t contour_edges(const double *x, size_t nx, const double *y, size_t ny, const double *values,
                     struct contour_segment *segments);

#endif
