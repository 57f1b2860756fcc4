#include "plots/contour.h"

#include <math.h>

/* A mesh: corners in turn from the lower left, its sides from corner k to k + 1. */
struct mesh {
    double x[4], y[4], value[4];
};

/* Where a side is crossed. */
static void cross(const struct mesh *mesh, int side, double *x, double *y)
{
    int next = (side + 1) % 4;
    double share = mesh->value[side] / (mesh->value[side] - mesh->value[next]);
    *x = mesh->x[side] + share * (mesh->x[next] - mesh->x[side]);
    *y = mesh->y[side] + share * (mesh->y[next] - mesh->y[side]);
}

static void join(const struct mesh *mesh, int from, int to, struct contour_segment *segment)
{
    cross(mesh, from, &segment->x[0], &segment->y[0]);
    cross(mesh, to, &segment->x[1], &segment->y[1]);
}

static size_t mesh_segments(const struct mesh *mesh, struct contour_segment *segments)
{
    int crossed[4], count = 0;
    double mean = 0;
    for (int k = 0; k < 4; k++) {
        if (isnan(mesh->value[k]))
            return 0;
        mean += mesh->value[k] / 4;
        if ((mesh->value[k] >= 0) != (mesh->value[(k + 1) % 4] >= 0))
            crossed[count++] = k;
    }
    if (count == 2)
        join(mesh, crossed[0], crossed[1], segments);
    if (count < 4)
        return count == 2;
    /* the first corner is of the side of the mean: the lines cut off its neighbours */
    int with = (mesh->value[0] >= 0) == (mean >= 0);
    join(mesh, 0, with ? 1 : 3, &segments[0]);
    join(mesh, 2, with ? 3 : 1, &segments[1]);
    return 2;
}

size_t contour_zero(const double *x, size_t nx, const double *y, size_t ny, const double *values,
                    struct contour_segment *segments)
{
    size_t count = 0;
    for (size_t j = 0; j + 1 < ny; j++) {
        for (size_t i = 0; i + 1 < nx; i++) {
            const double *low = values + j * nx + i, *high = low + nx;
            struct mesh mesh = {{x[i], x[i + 1], x[i + 1], x[i]},
                                {y[j], y[j], y[j + 1], y[j + 1]},
                                {low[0], low[1], high[1], high[0]}};
            count += mesh_segments(&mesh, segments + count);
        }
    }
    return count;
}

static int differ(double a, double b)
{
    return !isnan(a) && !isnan(b) && (a >= 0) != (b >= 0);
}

size_t contour_edges(const double *x, size_t nx, const double *y, size_t ny, const double *values,
                     struct contour_segment *segments)
{
    size_t count = 0;
    for (size_t j = 0; j < ny; j++) {
        for (size_t i = 0; i < nx; i++) {
            const double *value = values + j * nx + i;
            if (i + 1 < nx && differ(value[0], value[1]))
                segments[count++] = (struct contour_segment){{x[i + 1], x[i + 1]}, {y[j], y[j + 1]}};
            if (j + 1 < ny && differ(value[0], value[nx]))
                segments[count++] = (struct contour_segment){{x[i], x[i + 1]}, {y[j + 1], y[j + 1]}};
        }
    }
    return count;
}
