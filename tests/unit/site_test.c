#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/impact/site.h"

static const double pi = 3.14159265358979323846;
static const double degree = 3.14159265358979323846 / 180;

enum { OPENING, BROW, CROWN, TEMPLES, RIM, ELSEWHERE, REGIONS };

/* A helmet with every kind of bound. Bounds live in static storage. */
static struct helmet_map helmet(void)
{
    static struct bound opening[1], brow[1], crown[1], temples[1], rim[1], all[1];
    static struct region_shape regions[REGIONS];
    static double edge_azimuth[1], edge_elevation[1];
    opening[0] = (struct bound){
        .kind = BOUND_BOX, .elevation = {-40 * degree, 5 * degree}, .azimuth = {-65 * degree, 65 * degree}};
    brow[0] = (struct bound){.kind = BOUND_BAND, .around = OPENING, .width = 0.025};
    crown[0] = (struct bound){.kind = BOUND_CAP, .centre = {pi / 2, 0}, .half_angle = 40 * degree};
    temples[0] = (struct bound){
        .kind = BOUND_BOX, .elevation = {-30 * degree, 30 * degree}, .azimuth = {70 * degree, 110 * degree}};
    rim[0] = (struct bound){.kind = BOUND_BAND, .around = -1, .width = 0.015};
    all[0] = (struct bound){.kind = BOUND_ALL};
    regions[OPENING] = (struct region_shape){"vision opening", 1, 0, 1, opening};
    regions[BROW] = (struct region_shape){"brow", 0, 0, 1, brow};
    regions[CROWN] = (struct region_shape){"crown", 0, 0, 1, crown};
    regions[TEMPLES] = (struct region_shape){"temples", 0, 1, 1, temples};
    regions[RIM] = (struct region_shape){"rim", 0, 0, 1, rim};
    regions[ELSEWHERE] = (struct region_shape){"elsewhere", 0, 0, 1, all};
    edge_azimuth[0] = 0;
    edge_elevation[0] = -30 * degree;
    return (struct helmet_map){0.125, REGIONS, regions, 1, edge_azimuth, edge_elevation};
}

static int at(const struct helmet_map *map, double elevation, double azimuth)
{
    return helmet_map_region(map, elevation * degree, azimuth * degree);
}

Test(site, first_match_wins)
{
    struct helmet_map map = helmet();
    cr_expect_eq(at(&map, 0, 0), OPENING);
    cr_expect_eq(at(&map, 90, 0), CROWN);
    cr_expect_eq(at(&map, 0, 180), ELSEWHERE);
    cr_expect_eq(at(&map, -31, 180), -1);
    cr_expect_eq(at(&map, -31, 0), -1, "below the edge nothing else counts");
    cr_expect_eq(at(&map, 0, 90), TEMPLES);
    cr_expect_eq(at(&map, 0, -90), TEMPLES, "mirror image");
    cr_expect_eq(at(&map, 0, 75), BROW, "the band comes before the temples");
    map.regions[ELSEWHERE].bound_count = 0;
    cr_expect_eq(at(&map, 0, 180), -2);
}

Test(site, bounds_are_inclusive)
{
    struct helmet_map map = helmet();
    cr_expect_eq(at(&map, 5, 0), OPENING);
    cr_expect_eq(at(&map, 0, 65), OPENING);
    cr_expect_eq(at(&map, 0, -65), OPENING);
    cr_expect_eq(at(&map, 50, 123), CROWN);
    cr_expect_eq(at(&map, 0, 110), TEMPLES);
    cr_expect_eq(at(&map, 30, -110), TEMPLES);
    cr_expect_eq(at(&map, -30, 180), RIM, "the edge belongs to the foam");
    cr_expect_eq(at(&map, 5.001, 0), BROW);
    cr_expect_eq(at(&map, 49.999, 123), ELSEWHERE);
}

Test(site, bounds_are_inclusive_at_any_angle)
{
    struct helmet_map map = helmet();
    struct bound *box = map.regions[OPENING].bounds;
    for (int k = -179; k <= 170; k++) {
        box->azimuth[0] = k * degree;
        box->azimuth[1] = (k + 9) * degree;
        box->elevation[0] = k / 6.0 * degree;
        box->elevation[1] = (k / 6.0 + 3) * degree;
        cr_expect_eq(at(&map, k / 6.0, k), OPENING);
        cr_expect_eq(at(&map, k / 6.0 + 3, k + 9), OPENING);
    }
}

Test(site, band_leaves_its_opening_alone)
{
    struct helmet_map map = helmet();
    struct region_shape opening = map.regions[0];
    map.regions[0] = map.regions[1];
    map.regions[1] = opening;
    map.regions[0].bounds[0].around = 1;
    cr_expect_eq(at(&map, 4, 0), 1);
    cr_expect_eq(at(&map, 6, 0), 0);
}

Test(site, box_may_cross_180_degrees)
{
    struct helmet_map map = helmet();
    struct bound *box = map.regions[TEMPLES].bounds;
    map.regions[TEMPLES].mirror = 0;
    box->azimuth[0] = 150 * degree;
    box->azimuth[1] = -160 * degree;
    cr_expect_eq(at(&map, 0, 180), TEMPLES);
    cr_expect_eq(at(&map, 0, -180), TEMPLES);
    cr_expect_eq(at(&map, 0, 150), TEMPLES);
    cr_expect_eq(at(&map, 0, -160), TEMPLES);
    cr_expect_eq(at(&map, 0, 149), ELSEWHERE);
    cr_expect_eq(at(&map, 0, -159), ELSEWHERE);
    box->azimuth[0] = 100 * degree; /* wider than half a turn: 100 to 300 */
    box->azimuth[1] = -60 * degree;
    map.regions[OPENING].bound_count = map.regions[BROW].bound_count = 0;
    cr_expect_eq(at(&map, 0, 100), TEMPLES);
    cr_expect_eq(at(&map, 0, 180), TEMPLES);
    cr_expect_eq(at(&map, 0, -61), TEMPLES);
    cr_expect_eq(at(&map, 0, -59), ELSEWHERE);
    cr_expect_eq(at(&map, 0, 99), ELSEWHERE);
    box->azimuth[0] = -pi;
    box->azimuth[1] = pi;
    for (int azimuth = -180; azimuth <= 180; azimuth += 15)
        cr_expect_eq(at(&map, 10, azimuth), TEMPLES);
}

/* A band is as wide as it says beside each side and round each corner of the opening: 25 mm on a sphere of
 * 125 mm are 0.2 rad = 11.459 deg. Beside the meridian at 65 deg, a point at azimuth 65 + x and elevation e
 * is sin d = cos e sin x away from it. */
Test(site, band_has_its_width)
{
    struct helmet_map map = helmet();
    double width = 0.2 / degree;
    cr_expect_eq(at(&map, 5 + width - 1e-6, 20), BROW);
    cr_expect_eq(at(&map, 5 + width + 1e-6, 20), ELSEWHERE);
    double beside = asin(sin(0.2) / cos(20 * degree)) / degree;
    cr_expect_eq(at(&map, -20, 65 + beside - 1e-6), BROW);
    cr_expect_eq(at(&map, -20, 65 + beside + 1e-6), TEMPLES);
    /* north-east of the corner (5, 65): step 0.2 along the great circle that leaves it at 45 deg */
    for (int step = -1; step <= 1; step += 2) {
        double d = 0.2 + step * 1e-7, e0 = 5 * degree, bearing = pi / 4;
        double e = asin(sin(e0) * cos(d) + cos(e0) * sin(d) * cos(bearing));
        double a = atan2(sin(bearing) * sin(d) * cos(e0), cos(d) - sin(e0) * sin(e));
        cr_expect_eq(at(&map, e / degree, 65 + a / degree), step < 0 ? BROW : TEMPLES);
    }
    double rim = 0.015 / 0.125 / degree;
    cr_expect_eq(at(&map, -30 + rim - 1e-6, 170), RIM);
    cr_expect_eq(at(&map, -30 + rim + 1e-6, 170), ELSEWHERE);
}

/* A lower edge of several points: linear between them, periodic. */
Test(site, lower_edge_of_several_points)
{
    struct helmet_map map = helmet();
    double azimuth[3] = {-120 * degree, 0, 120 * degree};
    double elevation[3] = {-40 * degree, -10 * degree, -40 * degree};
    map.edge_count = 3;
    map.edge_azimuth = azimuth;
    map.edge_elevation = elevation;
    map.regions[OPENING].bound_count = map.regions[BROW].bound_count = map.regions[TEMPLES].bound_count = 0;
    cr_expect_eq(at(&map, -25 + 1e-6, 60), RIM);
    cr_expect_eq(at(&map, -25 - 1e-6, 60), -1);
    cr_expect_eq(at(&map, -25 - 1e-6, -60), -1);
    cr_expect_eq(at(&map, -40 + 1e-6, 180), RIM);
    cr_expect_eq(at(&map, -40 - 1e-6, -180), -1);
    /* above the corner at azimuth 0 the nearest point of the edge is the corner itself: the edge falls away
     * from it at 0.25 rad per rad on both sides */
    double rim = 0.015 / 0.125 / degree;
    cr_expect_eq(at(&map, -10 + rim - 1e-6, 0), RIM);
    cr_expect_eq(at(&map, -10 + rim + 1e-6, 0), ELSEWHERE);
    /* the band's width against the smallest distance to 100,001 points of the edge */
    for (int sample = 0; sample < 40; sample++) {
        double e = (-38 + 1.1 * sample) * degree, a = (-170 + 8.3 * sample) * degree, nearest = 10;
        for (int i = 0; i <= 100000; i++) {
            double x = (-180 + 360 * i / 1e5), y = fabs(x) < 120 ? -10 - 0.25 * fabs(x) : -40;
            double c = sin(e) * sin(y * degree) + cos(e) * cos(y * degree) * cos(a - x * degree);
            nearest = fmin(nearest, acos(fmin(1, c)));
        }
        if (helmet_map_region(&map, e, a) != -1 && helmet_map_region(&map, e, a) != CROWN)
            cr_expect_eq(helmet_map_region(&map, e, a) == RIM, nearest < 0.12, "%g %g: %g", e, a, nearest);
    }
}

Test(site, centres)
{
    struct helmet_map map = helmet();
    double e, a;
    cr_expect_eq(region_centre(&map, OPENING, &e, &a), 1);
    cr_expect_float_eq(e, -17.5 * degree, 1e-15);
    cr_expect_float_eq(a, 0, 1e-15);
    cr_expect_eq(region_centre(&map, BROW, &e, &a), 1);
    cr_expect_float_eq(e, 5 * degree + 0.1, 1e-15);
    cr_expect_float_eq(a, 0, 1e-15);
    cr_expect_eq(region_centre(&map, CROWN, &e, &a), 1);
    cr_expect_float_eq(e, pi / 2, 1e-15);
    cr_expect_eq(region_centre(&map, TEMPLES, &e, &a), 1);
    cr_expect_float_eq(a, pi / 2, 1e-15);
    cr_expect_eq(region_centre(&map, RIM, &e, &a), 0, "at azimuth 0 the edge runs through the opening");
    cr_expect_float_eq(e, -30 * degree + 0.06, 1e-15);
    cr_expect_eq(region_centre(&map, ELSEWHERE, &e, &a), 0, "no bounds, no centre");
    struct bound *cap = map.regions[OPENING].bounds; /* an opening whose top lies over the pole */
    *cap = (struct bound){.kind = BOUND_CAP, .centre = {80 * degree, 30 * degree}, .half_angle = 20 * degree};
    cr_expect_eq(region_centre(&map, BROW, &e, &a), 1);
    cr_expect_float_eq(e, 80 * degree - 0.1, 1e-14);
    cr_expect_float_eq(a, -150 * degree, 1e-14);
}

/* Ellipsoid radii: at the end of an axis, R1 = b^2/a and R2 = c^2/a (osculating ellipses of the two principal
 * sections); of a sphere, its radius everywhere; elsewhere their product from K = h^4/(a b c)^2 with h the
 * distance of the tangent plane from the centre (Gauss), their mean curvature from the divergence of the unit
 * normal field by central differences. */
Test(site, ellipsoid_radii)
{
    const double axes[3] = {0.101, 0.0798, 0.0898}, sphere[3] = {0.09, 0.09, 0.09};
    double r[2];
    ellipsoid_radii(axes, 0, 0, r);
    cr_expect_float_eq(r[0], 0.0898 * 0.0898 / 0.101, 1e-16);
    cr_expect_float_eq(r[1], 0.0798 * 0.0798 / 0.101, 1e-16);
    ellipsoid_radii(axes, 0, pi / 2, r);
    cr_expect_float_eq(r[0], 0.101 * 0.101 / 0.0798, 1e-16);
    cr_expect_float_eq(r[1], 0.0898 * 0.0898 / 0.0798, 1e-16);
    ellipsoid_radii(axes, pi / 2, 0, r);
    cr_expect_float_eq(r[0], 0.101 * 0.101 / 0.0898, 1e-16);
    cr_expect_float_eq(r[1], 0.0798 * 0.0798 / 0.0898, 1e-16);
    for (int k = 0; k < 50; k++) {
        double e = (-80 + 3.3 * k) * degree, a = (-170 + 7 * k) * degree;
        ellipsoid_radii(sphere, e, a, r);
        cr_expect_float_eq(r[0], 0.09, 1e-15);
        cr_expect_float_eq(r[1], 0.09, 1e-15);
        ellipsoid_radii(axes, e, a, r);
        double d[3] = {cos(e) * cos(a), cos(e) * sin(a), sin(e)}, size = 0, plane = 0, divergence = 0;
        for (int j = 0; j < 3; j++)
            size += d[j] * d[j] / axes[j] / axes[j];
        for (int j = 0; j < 3; j++)
            plane += d[j] * d[j] / size / pow(axes[j], 4);
        for (int j = 0; j < 3; j++) {
            for (int side = -1; side <= 1; side += 2) {
                double step = 1e-6, n = 0, m = 0;
                for (int i = 0; i < 3; i++) {
                    double x = d[i] / sqrt(size) + (i == j ? side * step : 0), g = x / axes[i] / axes[i];
                    n += g * g;
                    m = i == j ? g : m;
                }
                divergence += side * m / sqrt(n) / (2 * step);
            }
        }
        double product = pow(axes[0] * axes[1] * axes[2] * plane, 2);
        cr_expect_float_eq(r[0] * r[1], product, 1e-12 * product);
        cr_expect_float_eq(1 / r[0] + 1 / r[1], divergence, 1e-7 * divergence);
        cr_expect_geq(r[0], r[1]);
    }
}

/* Distance to the edge of the foam, each in closed form: along a meridian to a parallel; beside a side of the
 * opening sin d = cos e sin x; to a corner by the law of cosines; to a cap, to the lower edge, inside. */
Test(site, edge_distance)
{
    struct helmet_map map = helmet();
    map.edge_elevation[0] = -60 * degree;
    cr_expect_float_eq(site_edge_distance(&map, 20 * degree, 0), 15 * degree, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, 5 * degree + 1e-7, 0), 1e-7, 1e-15);
    cr_expect_float_eq(site_edge_distance(&map, pi / 2, 0), 85 * degree, 1e-14);
    double beside = asin(cos(10 * degree) * sin(20 * degree));
    cr_expect_float_eq(site_edge_distance(&map, -10 * degree, -85 * degree), beside, 1e-14);
    double corner =
        acos(sin(40 * degree) * sin(5 * degree) + cos(40 * degree) * cos(5 * degree) * cos(25 * degree));
    cr_expect_float_eq(site_edge_distance(&map, 40 * degree, 90 * degree), corner, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, 0, pi), 60 * degree, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, -65 * degree, pi), -5 * degree, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, 2 * degree, 0), -3 * degree, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, -38 * degree, 0), -2 * degree, 1e-14);
    map.regions[OPENING].bounds[0] = (struct bound){.kind = BOUND_CAP, .centre = {0, 1}, .half_angle = 0.3};
    map.regions[OPENING].mirror = 1;
    cr_expect_float_eq(site_edge_distance(&map, 0, 1.5), 0.2, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, 0, -1.5), 0.2, 1e-14);
    cr_expect_float_eq(site_edge_distance(&map, 0, -1), -0.3, 1e-14);
    map.regions[OPENING].open = 0;
    map.edge_elevation[0] = -90 * degree; /* closed */
    cr_expect_eq(site_edge_distance(&map, 0.3, 0), INFINITY);
    map.edge_count = 0;
    cr_expect_eq(site_edge_distance(&map, 0.3, 0), INFINITY);
}

/* Points of UN R22 (standards from memory) and the conventions of the program; X lies 12.7 mm below AA'. */
Test(site, named_sites)
{
    static const struct {
        const char *name;
        double elevation, azimuth;
    } expected[] = {{"P", 90, 0},     {"B", 20, 0},      {"R", 20, 180},    {"crown", 90, 0},
                    {"front", 20, 0}, {"rear", 20, 180}, {"left", 10, -90}, {"right", 10, 90}};
    size_t found = 0;
    for (size_t i = 0; i < site_table_count; i++) {
        const struct site_info *site = &site_table[i];
        for (size_t k = 0; k < sizeof expected / sizeof *expected; k++) {
            if (strcmp(expected[k].name, site->name) != 0)
                continue;
            found++;
            cr_expect_float_eq(site_elevation(site, 0.0798), expected[k].elevation * degree, 1e-15);
            cr_expect_float_eq(site->azimuth, expected[k].azimuth * degree, 1e-15);
        }
        if (site->name[0] == 'X') {
            found++;
            double half_breadth = 0.07 + 0.001 * (double)i;
            cr_expect_float_eq(half_breadth * tan(site_elevation(site, half_breadth)), -0.0127, 1e-15);
            cr_expect_float_eq(site_elevation(site, 0.0798), site->elevation, 1e-6);
            cr_expect_float_eq(site->azimuth, site->name[2] == 'l' ? -pi / 2 : pi / 2, 1e-15);
        }
    }
    cr_expect_eq(found, site_table_count);
}

/* The mirror image of a band along a lopsided edge lies above the edge's image: 5 deg below it is no rim. */
Test(site, mirrored_rim_lies_above_the_image_of_the_edge)
{
    struct helmet_map map = helmet();
    double azimuth[2] = {-90 * degree, 90 * degree}, elevation[2] = {-50 * degree, -20 * degree};
    map.edge_count = 2;
    map.edge_azimuth = azimuth;
    map.edge_elevation = elevation;
    map.regions[RIM].mirror = 1;
    map.regions[TEMPLES].bound_count = map.regions[OPENING].bound_count = map.regions[BROW].bound_count = 0;
    cr_expect_eq(at(&map, -25, -90), ELSEWHERE);
    cr_expect_eq(at(&map, -17, -90), RIM);
    cr_expect_eq(at(&map, -45, -90), RIM);
}
