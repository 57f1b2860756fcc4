#include "solver/impact/site.h"

#include <math.h>

#include "solver/base/numeric.h"
#include "solver/impact/atlas.h"
#include "solver/impact/rings.h"

static const double pi = 3.14159265358979323846;

#define DEGREES(x) ((x) * (3.14159265358979323846 / 180))

/* Depth of point X below plane AA' [m], and its elevation on a headform of half breadth 79.8 mm (size J). */
#define X_BELOW     0.0127
#define X_ELEVATION DEGREES(-9.042666)

const struct site_info site_table[] = {
    {"P", DEGREES(90), 0, 0, "crown, on the central vertical axis", "memory-high",
     "UN R22: within 50 mm of the axis"},
    {"B", DEGREES(20), 0, 0, "front, mid-sagittal plane, 20 deg above AA' at Z", "memory-high", "UN R22"},
    {"R", DEGREES(20), DEGREES(180), 0, "rear, mid-sagittal plane, 20 deg above AA' at Z", "memory-high",
     "UN R22"},
    {"X-left", X_ELEVATION, DEGREES(-90), X_BELOW, "left side, transverse vertical plane, 12.7 mm below AA'",
     "memory-high", "UN R22"},
    {"X-right", X_ELEVATION, DEGREES(90), X_BELOW, "right side, transverse vertical plane, 12.7 mm below AA'",
     "memory-high", "UN R22"},
    {"crown", DEGREES(90), 0, 0, "straight up", "convention", ""},
    {"front", DEGREES(20), 0, 0, "forehead", "convention", ""},
    {"rear", DEGREES(20), DEGREES(180), 0, "back of the head", "convention", ""},
    {"left", DEGREES(10), DEGREES(-90), 0, "left temple", "convention", ""},
    {"right", DEGREES(10), DEGREES(90), 0, "right temple", "convention", ""},
};
const size_t site_table_count = sizeof site_table / sizeof *site_table;

double site_elevation(const struct site_info *site, double half_breadth)
{
    return site->below > 0 ? -numeric_atan2(site->below, half_breadth) : site->elevation;
}

int helmet_map_region(const struct helmet_map *map, double elevation, double azimuth)
{
    struct atlas atlas = atlas_of(map);
    double p[3];
    direction_vector(elevation, azimuth, p);
    return atlas_region(&atlas, p);
}

/* Integrals of a measure over rings about a direction. */
static enum status integrate(const struct helmet_map *map, double elevation, double azimuth,
                             size_t ring_count, const double *edge, const struct ring_measure *measure,
                             double *integral)
{
    struct atlas atlas = {0};
    double site[3];
    enum status status = atlas_open(&atlas, map);
    direction_vector(elevation, azimuth, site);
    for (size_t i = 0; i < ring_count * measure->components; i++)
        integral[i] = 0;
    if (!status)
        status = rings_integrate(&atlas, site, ring_count, edge, measure, integral);
    atlas_free(&atlas);
    return status;
}

enum status site_shares(const struct helmet_map *map, double elevation, double azimuth, size_t ring_count,
                        const double *edge, double *share)
{
    struct ring_measure measure = ring_share(map->region_count);
    enum status status = integrate(map, elevation, azimuth, ring_count, edge, &measure, share);
    for (size_t i = 0; i < ring_count; i++) {
        double area = 2 * pi * (numeric_cos(edge[i]) - numeric_cos(edge[i + 1]));
        for (size_t k = 0; k < measure.components; k++)
            share[i * measure.components + k] /= area;
    }
    return status;
}

enum status helmet_map_shares(const struct helmet_map *map, double *share)
{
    const double whole[2] = {0, pi};
    return site_shares(map, 0.5 * pi, 0, 1, whole, share);
}

enum status site_asymmetry(const struct helmet_map *map, double elevation, double azimuth, double phi_max,
                           const double *stiffness, double *fraction)
{
    const double cap[2] = {0, phi_max};
    struct ring_measure measure = ring_moment(stiffness, map->region_count);
    double moment[3];
    enum status status = integrate(map, elevation, azimuth, 1, cap, &measure, moment);
    double size = sqrt(moment[1] * moment[1] + moment[2] * moment[2]);
    *fraction = moment[0] > 0 ? size / moment[0] : 0;
    return status;
}

/* Border nearest to p of the openings and the lower edge that count: those that hold p, or all when none
 * does. Returns the angle [rad] to it: the least of those outside, the greatest of those inside. */
static double border_angle(const struct atlas *atlas, const double p[3], int inside)
{
    double q[3], angle = inside ? 0 : INFINITY;
    for (size_t k = 0; k < atlas->map->region_count; k++) {
        if (!atlas->map->regions[k].open || (inside && !atlas_covers(atlas, k, p)))
            continue;
        if (atlas_border(atlas, k, p, q) > -2) {
            double next = direction_angle(p, q);
            angle = (next < angle) != inside ? next : angle;
        }
    }
    return angle;
}

/* Whether anything is below the lower edge: at -90 deg all round the shell is closed. */
static int has_edge(const struct helmet_map *map)
{
    int above = 0;
    for (size_t i = 0; i < map->edge_count; i++)
        above |= map->edge_elevation[i] > -0.5 * pi + 1e-9;
    return above;
}

double site_edge_distance(const struct helmet_map *map, double elevation, double azimuth)
{
    struct atlas atlas = atlas_of(map);
    double p[3], q[3];
    direction_vector(elevation, azimuth, p);
    int region = atlas_region(&atlas, p), below = region == -1;
    int bare = below || (region >= 0 && map->regions[region].open);
    double angle = border_angle(&atlas, p, bare);
    if (has_edge(map) && below == bare && atlas_edge(&atlas, -2, p, q) > -2) {
        double next = direction_angle(p, q);
        angle = (next < angle) != bare ? next : angle;
    }
    return bare ? -angle : angle;
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
