#include "solver/impact/site.h"

#include <math.h>

#include "solver/impact/atlas.h"

static const double pi = 3.14159265358979323846;

int helmet_map_region(const struct helmet_map *map, double elevation, double azimuth)
{
    struct atlas atlas = atlas_of(map);
    double p[3];
    direction_vector(elevation, azimuth, p);
    return atlas_region(&atlas, p);
}

void ellipsoid_radii(const double half_axes[3], double elevation, double azimuth, double radii[2])
{
    double d[3], point[3], normal[3], east[3], north[3], size = 0, steep = 0, ee = 0, en = 0, nn = 0;
    direction_vector(elevation, azimuth, d);
    for (int k = 0; k < 3; k++)
        size += d[k] * d[k] / (half_axes[k] * half_axes[k]);
    for (int k = 0; k < 3; k++) {
        point[k] = d[k] / sqrt(size);
        normal[k] = point[k] / (half_axes[k] * half_axes[k]);
        steep += normal[k] * normal[k];
    }
    steep = sqrt(steep);
    for (int k = 0; k < 3; k++)
        normal[k] /= steep;
    direction_tangents(normal, east, north);
    for (int k = 0; k < 3; k++) {
        double form = 1 / (half_axes[k] * half_axes[k] * steep);
        ee += form * east[k] * east[k];
        en += form * east[k] * north[k];
        nn += form * north[k] * north[k];
    }
    double mean = 0.5 * (ee + nn), spread = sqrt(0.25 * (ee - nn) * (ee - nn) + en * en);
    radii[0] = 1 / (mean - spread);
    radii[1] = 1 / (mean + spread);
}

/* Azimuth of the middle of a box, in (-pi, pi]. */
static double middle_azimuth(const struct bound *box)
{
    double span = box->azimuth[1] - box->azimuth[0];
    double middle = box->azimuth[0] + 0.5 * (span < 0 ? span + 2 * pi : span);
    return middle > pi ? middle - 2 * pi : middle;
}

/* A direction `rise` above another on its meridian, over the pole if need be. */
static void raised(double rise, double *elevation, double *azimuth)
{
    *elevation += rise;
    if (*elevation > 0.5 * pi) {
        *elevation = pi - *elevation;
        *azimuth = *azimuth > 0 ? *azimuth - pi : *azimuth + pi;
    }
}

/* Top of an opening above its centre, of its first box or cap; the elevation runs on beyond the pole. */
static int opening_top(const struct region_shape *opening, double *elevation, double *azimuth)
{
    for (size_t i = 0; i < opening->bound_count; i++) {
        const struct bound *bound = &opening->bounds[i];
        if (bound->kind == BOUND_BOX) {
            *elevation = bound->elevation[1];
            *azimuth = middle_azimuth(bound);
            return 1;
        }
        if (bound->kind == BOUND_CAP) {
            *elevation = bound->centre[0] + bound->half_angle;
            *azimuth = bound->centre[1];
            return 1;
        }
    }
    return 0;
}

static int band_centre(const struct helmet_map *map, const struct bound *band, double *elevation,
                       double *azimuth)
{
    if (band->around >= 0 && !opening_top(&map->regions[band->around], elevation, azimuth))
        return 0;
    if (band->around < 0) {
        if (map->edge_count == 0)
            return 0;
        *azimuth = 0;
        *elevation = atlas_edge_elevation(map, 0);
    }
    raised(0.5 * band->width / map->inner_radius, elevation, azimuth);
    return 1;
}

int region_centre(const struct helmet_map *map, int region, double *elevation, double *azimuth)
{
    const struct region_shape *shape = &map->regions[region];
    *elevation = *azimuth = 0;
    if (shape->bound_count == 0 || shape->bounds[0].kind == BOUND_ALL)
        return 0;
    const struct bound *first = &shape->bounds[0];
    if (first->kind == BOUND_BAND && !band_centre(map, first, elevation, azimuth))
        return 0;
    if (first->kind == BOUND_BOX) {
        *elevation = 0.5 * (first->elevation[0] + first->elevation[1]);
        *azimuth = middle_azimuth(first);
    } else if (first->kind == BOUND_CAP) {
        *elevation = first->centre[0];
        *azimuth = first->centre[1];
    }
    return helmet_map_region(map, *elevation, *azimuth) == region;
}
