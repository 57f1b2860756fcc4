#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "solver/base/memory.h"
#include "solver/impact/atlas.h"
#include "solver/impact/site.h"
#include "tests/support/sanitized.h"

static const double pi = 3.14159265358979323846;
static const double degree = 3.14159265358979323846 / 180;

enum { RINGS = 48 };

/* 48 rings of equal width to 80 deg. */
static void ring_edges(double edge[RINGS + 1])
{
    for (int i = 0; i <= RINGS; i++)
        edge[i] = 80 * degree * i / RINGS;
}

/* A map of one bound, the rest "elsewhere". */
struct small {
    struct bound bound[2];
    struct region_shape region[2];
    struct helmet_map map;
};

static void small_map(struct small *small, struct bound bound)
{
    *small = (struct small){.bound = {bound, {.kind = BOUND_ALL}}};
    small->region[0] = (struct region_shape){"one", 0, 0, 1, &small->bound[0]};
    small->region[1] = (struct region_shape){"rest", 0, 0, 1, &small->bound[1]};
    small->map = (struct helmet_map){.inner_radius = 0.125, .region_count = 2, .regions = small->region};
}

/* Area common to two caps of half angles a and b whose centres are d apart. Where their borders cross, the
 * two crossings with both centres make two equal spherical triangles with sides a, b, d and angles A (at the
 * centre of a, opposite b), B, C (law of cosines for sides). The lens is the sector of cap a of angle 2A,
 * area 2A (1 - cos a), plus that of cap b, 2B (1 - cos b), less the two triangles, each of area A + B + C -
 * pi (Girard). */
static double lens(double a, double b, double d)
{
    if (d >= a + b)
        return 0;
    if (d <= fabs(a - b))
        return 2 * pi * (1 - cos(fmin(a, b)));
    double A = acos((cos(b) - cos(a) * cos(d)) / (sin(a) * sin(d)));
    double B = acos((cos(a) - cos(b) * cos(d)) / (sin(b) * sin(d)));
    double C = acos((cos(d) - cos(a) * cos(b)) / (sin(a) * sin(b)));
    return 2 * A * (1 - cos(a)) + 2 * B * (1 - cos(b)) - 2 * (A + B + C - pi);
}

/* Largest difference between the shares of a cap due north of the site and the lens areas, over rings. */
static double cap_error(double half, double away, double elevation, double azimuth)
{
    struct small small;
    double edge[RINGS + 1], share[RINGS * 3], worst = 0, e = elevation + away;
    int over = e > pi / 2;
    small_map(&small, (struct bound){.kind = BOUND_CAP,
                                     .centre = {over ? pi - e : e, over ? azimuth + pi : azimuth},
                                     .half_angle = half});
    ring_edges(edge);
    cr_assert_eq(site_shares(&small.map, elevation, azimuth, RINGS, edge, share), STATUS_OK);
    for (int i = 0; i < RINGS; i++) {
        double area = 2 * pi * (cos(edge[i]) - cos(edge[i + 1]));
        double closed = (lens(half, edge[i + 1], away) - lens(half, edge[i], away)) / area;
        worst = fmax(worst, fabs(share[3 * i] - closed));
        worst = fmax(worst, fabs(share[3 * i] + share[3 * i + 1] - 1));
    }
    return worst;
}

/* Caps concentric with the site and offset from it, from small to larger than the rings. Gate 1e-6. */
Test(rings, caps_against_lenses)
{
    double worst = 0;
    for (int k = 0; k < 200; k++) {
        double half = (k % 7 ? 0.3 + 0.43 * k : 0.06) * degree,
               away = k % 5 ? fmod(7.77 * k, 120) * degree : 0;
        worst = fmax(worst, cap_error(half, away, (-30 + fmod(11.3 * k, 119)) * degree, 0.7 + k));
    }
    printf("figure: caps: largest error of a share %.1e\n", worst);
    cr_expect_lt(worst, 1e-6);
}

/* Boxes seen from the pole: of a ring, (azimuth span / 2 pi) x the part of it between the parallels, as the
 * area of a box is span (sin e1 - sin e0). Gate 1e-6. */
Test(rings, boxes_seen_from_the_pole)
{
    struct small small;
    double edge[RINGS + 1], share[RINGS * 3], worst = 0;
    ring_edges(edge);
    for (int k = 0; k < 50; k++) {
        double low = (5 + 1.3 * k) * degree, high = low + (1 + 0.31 * k) * degree;
        double from = (-180 + 5 * k) * degree, span = (3 + 7.2 * k) * degree;
        double to = from + span > pi ? from + span - 2 * pi : from + span;
        small_map(&small, (struct bound){.kind = BOUND_BOX, .elevation = {low, high}, .azimuth = {from, to}});
        cr_assert_eq(site_shares(&small.map, pi / 2, 0, RINGS, edge, share), STATUS_OK);
        for (int i = 0; i < RINGS; i++) {
            double top = fmin(sin(fmin(high, pi / 2)), cos(edge[i]));
            double bottom = fmax(sin(low), cos(edge[i + 1]));
            double closed = span / (2 * pi) * fmax(0, top - bottom) / (cos(edge[i]) - cos(edge[i + 1]));
            worst = fmax(worst, fabs(share[3 * i] - closed));
        }
    }
    printf("figure: boxes about the pole: largest error of a share %.1e\n", worst);
    cr_expect_lt(worst, 1e-6);
}

/* Boxes seen from anywhere: over rings that tile the sphere the areas sum to span (sin e1 - sin e0). */
Test(rings, boxes_seen_from_a_site)
{
    struct small small;
    double edge[RINGS + 1], share[RINGS * 3], worst = 0;
    for (int i = 0; i <= RINGS; i++)
        edge[i] = pi * i / RINGS;
    for (int k = 0; k < 40; k++) {
        struct bound box = {.kind = BOUND_BOX,
                            .elevation = {(-80 + 2.1 * k) * degree, (-60 + 3.6 * k) * degree},
                            .azimuth = {(-100 + 2 * k) * degree, (-80 + 6 * k) * degree}};
        small_map(&small, box);
        double sum = 0;
        cr_assert_eq(site_shares(&small.map, (-20 + 2.7 * k) * degree, 0, RINGS, edge, share), STATUS_OK);
        for (int i = 0; i < RINGS; i++)
            sum += share[3 * i] * 0.5 * (cos(edge[i]) - cos(edge[i + 1]));
        double closed = (box.azimuth[1] - box.azimuth[0]) * (sin(box.elevation[1]) - sin(box.elevation[0]));
        worst = fmax(worst, fabs(sum - closed / (4 * pi)));
    }
    printf("figure: boxes from a site: largest error of the area %.1e of the sphere\n", worst);
    cr_expect_lt(worst, 1e-8);
}

/* A box ring by ring from a site on the equator in the middle of a meridian-sided, pole-to-pole box (a lune
 * of width 2h): the circle of polar angle phi meets the sides at sin(phi) cos(psi) = +- sin-distance ... each
 * side is a great circle at distance h from the site, so the lune is the sphere less two hemispheres whose
 * centres lie pi/2 + h away: closed by the lens of a cap of half angle pi/2 with the ring. */
Test(rings, lune_seen_from_its_middle)
{
    struct small small;
    double edge[RINGS + 1], share[RINGS * 3], worst = 0;
    ring_edges(edge);
    for (int k = 1; k < 15; k++) {
        double h = 5.3 * k * degree, away = pi / 2 + h;
        small_map(&small, (struct bound){
                              .kind = BOUND_BOX, .elevation = {-pi / 2, pi / 2}, .azimuth = {1 - h, 1 + h}});
        cr_assert_eq(site_shares(&small.map, 0, 1, RINGS, edge, share), STATUS_OK);
        for (int i = 0; i < RINGS; i++) {
            double area = 2 * pi * (cos(edge[i]) - cos(edge[i + 1]));
            double gone = 2 * (lens(pi / 2, edge[i + 1], away) - lens(pi / 2, edge[i], away));
            worst = fmax(worst, fabs(share[3 * i] - (1 - gone / area)));
        }
    }
    printf("figure: lunes: largest error of a share %.1e\n", worst);
    cr_expect_lt(worst, 1e-6);
}

/* Octant, one eighth of the sphere: from its corners, its middle, the middle of a side; ring edges at the
 * distances of its corners. From the middle, the corners lie acos(1/sqrt 3) away and the inner ring holds it.
 */
Test(rings, octant)
{
    struct small small;
    const double edge[4] = {0, acos(1 / sqrt(3)), pi / 2, pi};
    const double sites[4][2] = {{pi / 2, 0}, {0, 0}, {asin(1 / sqrt(3)), pi / 4}, {0, pi / 4}};
    double share[9];
    small_map(&small, (struct bound){.kind = BOUND_BOX, .elevation = {0, pi / 2}, .azimuth = {0, pi / 2}});
    for (int k = 0; k < 4; k++) {
        double sum = 0;
        cr_assert_eq(site_shares(&small.map, sites[k][0], sites[k][1], 3, edge, share), STATUS_OK);
        for (int i = 0; i < 3; i++)
            sum += share[3 * i] * 0.5 * (cos(edge[i]) - cos(edge[i + 1]));
        cr_expect_float_eq(sum, 0.125, 1e-9, "site %d: %.12f", k, sum);
        if (k == 2)
            cr_expect_float_eq(share[3], 0, 1e-9);
    }
}

enum { OPENING, BROW, CROWN, TEMPLES, RIM, ELSEWHERE, REGIONS };

/* A helmet with every kind of bound. */
struct helmet {
    struct bound bound[REGIONS];
    struct region_shape region[REGIONS];
    double edge_azimuth[6], edge_elevation[6];
    struct helmet_map map;
};

/* With 1 or 6 points of the lower edge; the six are lopsided, and the rim follows their mirror image too. */
static void helmet(struct helmet *h, size_t points)
{
    const struct bound bounds[REGIONS] = {
        {.kind = BOUND_BOX, .elevation = {-40 * degree, 5 * degree}, .azimuth = {-65 * degree, 65 * degree}},
        {.kind = BOUND_BAND, .around = OPENING, .width = 0.025},
        {.kind = BOUND_CAP, .centre = {pi / 2, 0}, .half_angle = 40 * degree},
        {.kind = BOUND_BOX, .elevation = {-30 * degree, 30 * degree}, .azimuth = {70 * degree, 110 * degree}},
        {.kind = BOUND_BAND, .around = -1, .width = 0.015},
        {.kind = BOUND_ALL}};
    const char *names[REGIONS] = {"opening", "brow", "crown", "temples", "rim", "elsewhere"};
    const double azimuth[6] = {-150, -75, -20, 20, 75, 150}, elevation[6] = {-35, -12, -33, -33, -25, -35};
    memcpy(h->bound, bounds, sizeof bounds);
    for (int k = 0; k < REGIONS; k++) {
        h->region[k] = (struct region_shape){"", k == OPENING, k == TEMPLES, 1, &h->bound[k]};
        h->region[k].mirror |= k == RIM && points > 1;
        snprintf(h->region[k].name, sizeof h->region[k].name, "%s", names[k]);
    }
    for (int k = 0; k < 6; k++) {
        h->edge_azimuth[k] = azimuth[k] * degree;
        h->edge_elevation[k] = (points == 1 ? -30 : elevation[k]) * degree;
    }
    h->map = (struct helmet_map){0.125, REGIONS, h->region, points, h->edge_azimuth, h->edge_elevation};
}

/* Counts directions of a ring by region with the look-up that tests/unit/site_test.c checks: (REGIONS + 1).
 */
static void count_ring(const struct helmet_map *map, double e, double a, double from, double to,
                       double *counted)
{
    enum { TURNS = SANITIZED ? 300 : 1500, STEPS = SANITIZED ? 20 : 60 };
    double s[3] = {cos(e) * cos(a), cos(e) * sin(a), sin(e)}, u[3] = {-sin(a), cos(a), 0};
    double v[3] = {-sin(e) * cos(a), -sin(e) * sin(a), cos(e)}, p[3];
    struct atlas atlas;
    cr_assert_eq(atlas_open(&atlas, map), STATUS_OK);
    for (int m = 0; m < STEPS * TURNS; m++) {
        double psi = 2 * pi * (m % TURNS + 0.5) / TURNS;
        double c = cos(from) + (cos(to) - cos(from)) * (m / TURNS + 0.5) / STEPS;
        for (int j = 0; j < 3; j++)
            p[j] = c * s[j] + sqrt(1 - c * c) * (cos(psi) * u[j] + sin(psi) * v[j]);
        int region = atlas_region(&atlas, p);
        counted[region < 0 ? REGIONS : region] += 1.0 / STEPS / TURNS;
    }
    atlas_free(&atlas);
}

Test(rings, helmet_against_counting)
{
    enum { COARSE = 4 };
    static const double sites[5][2] = {{90, 0}, {20, 0}, {10, 90}, {20, 180}, {-5, 75}};
    double edge[COARSE + 1], share[COARSE * (REGIONS + 1)], worst = 0;
    for (int i = 0; i <= COARSE; i++)
        edge[i] = 80 * degree * i / COARSE;
    for (int k = 0; k < 10; k++) {
        struct helmet h;
        helmet(&h, k < 5 ? 1 : 6);
        double e = sites[k % 5][0] * degree, a = sites[k % 5][1] * degree;
        cr_assert_eq(site_shares(&h.map, e, a, COARSE, edge, share), STATUS_OK);
        for (int i = 0; i < COARSE; i++) {
            double counted[REGIONS + 1] = {0}, sum = 0;
            count_ring(&h.map, e, a, edge[i], edge[i + 1], counted);
            for (int j = 0; j <= REGIONS; j++) {
                sum += share[i * (REGIONS + 1) + j];
                worst = fmax(worst, fabs(counted[j] - share[i * (REGIONS + 1) + j]));
            }
            cr_expect_float_eq(sum, 1, 1e-8);
        }
    }
    printf("figure: helmet: largest difference of a share from counting %.1e\n", worst);
    cr_expect(SANITIZED || worst < 2e-3);
}

/* Sixteen times as many rings, summed, give the same shares where bands, mirror images and a bent lower edge
 * meet. */
Test(rings, helmet_against_finer_rings)
{
    enum { FINE = 16 };
    static double fine_edge[RINGS * FINE + 1], fine[RINGS * FINE * (REGIONS + 1)];
    double edge[RINGS + 1], share[RINGS * (REGIONS + 1)], worst = 0;
    ring_edges(edge);
    for (int i = 0; i <= RINGS * FINE; i++)
        fine_edge[i] = 80 * degree * i / (RINGS * FINE);
    for (int k = 0; k < 20; k++) {
        struct helmet h;
        helmet(&h, k % 2 ? 1 : 6);
        double e = k < 4 ? 20 * degree : (-20 + 5.8 * k) * degree,
               a = k < 4 ? k / 2 * pi : (37.3 * k - 180) * degree;
        cr_assert_eq(site_shares(&h.map, e, a, RINGS, edge, share), STATUS_OK);
        cr_assert_eq(site_shares(&h.map, e, a, RINGS * FINE, fine_edge, fine), STATUS_OK);
        for (int i = 0; i < RINGS * (REGIONS + 1); i++) {
            int ring = i / (REGIONS + 1), j = i % (REGIONS + 1);
            double sum = 0;
            for (int m = ring * FINE; m < (ring + 1) * FINE; m++)
                sum += fine[m * (REGIONS + 1) + j] * (cos(fine_edge[m]) - cos(fine_edge[m + 1]));
            sum /= cos(edge[ring]) - cos(edge[ring + 1]);
            worst = fmax(worst, fabs(sum - share[i]));
        }
    }
    printf("figure: helmet: largest difference of a share from finer rings %.1e\n", worst);
    cr_expect_lt(worst, 1e-7);
}

/* Whole head. Boxes: span (sin e1 - sin e0); caps: 2 pi (1 - cos). A whole band of width w round a box:
 * strips above and below, span (sin(e1 + w) - sin e1) each way; strips beside the meridians: along an arc of
 * a great circle of length L, the zone between it and the parallel small circle at distance w has area L sin
 * w; and at each corner the sector of a cap of half angle w between two directions at a right angle, (pi/2)(1
 * - cos w). */
Test(rings, whole_head_in_closed_form)
{
    struct helmet h;
    double share[REGIONS + 1], sum = 0, w = 0.2, low = -40 * degree, high = 5 * degree, span = 130 * degree;
    helmet(&h, 1);
    cr_assert_eq(helmet_map_shares(&h.map, share), STATUS_OK);
    cr_expect_float_eq(share[OPENING], span * (sin(high) + sin(30 * degree)) / (4 * pi), 1e-8);
    cr_expect_float_eq(share[CROWN], 0.5 * (1 - cos(40 * degree)), 1e-8);
    cr_expect_float_eq(share[REGIONS], 0.5 * (1 - sin(30 * degree)), 1e-8);
    for (int k = 0; k <= REGIONS; k++)
        sum += share[k];
    cr_expect_float_eq(sum, 1, 1e-8);
    h.map.edge_count = 0;
    double band = span * (sin(high + w) - sin(high) + sin(low) - sin(low - w)) + 2 * (high - low) * sin(w) +
                  4 * (pi / 2) * (1 - cos(w));
    cr_assert_eq(helmet_map_shares(&h.map, share), STATUS_OK);
    cr_expect_float_eq(share[BROW], band / (4 * pi), 1e-8, "%.12f %.12f", share[BROW], band / (4 * pi));
    /* bands round a mirrored cap: two zones */
    h.bound[OPENING] = (struct bound){.kind = BOUND_CAP, .centre = {0.3, 0.9}, .half_angle = 0.2};
    h.region[OPENING].mirror = 1;
    cr_assert_eq(helmet_map_shares(&h.map, share), STATUS_OK);
    cr_expect_float_eq(share[OPENING], 1 - cos(0.2), 1e-8);
    cr_expect_float_eq(share[BROW], cos(0.2) - cos(0.4), 1e-8);
    /* a mirrored band: the image of the zone, where there is no opening */
    h.region[OPENING].mirror = 0;
    h.region[BROW].mirror = 1;
    cr_assert_eq(helmet_map_shares(&h.map, share), STATUS_OK);
    cr_expect_float_eq(share[OPENING], 0.5 * (1 - cos(0.2)), 1e-8);
    cr_expect_float_eq(share[BROW], cos(0.2) - cos(0.4), 1e-8);
}

/* A level edge given by six points is the parallel; below a bent one lies, of each linear piece, span x
 * (1 + mean sin e), mean sin e = (cos e0 - cos e1)/(e1 - e0). */
Test(rings, lower_edge_of_several_points)
{
    struct helmet h;
    double one[REGIONS + 1], six[REGIONS + 1], below = 0;
    double edge[RINGS + 1], few[RINGS * (REGIONS + 1)], many[RINGS * (REGIONS + 1)];
    ring_edges(edge);
    helmet(&h, 1);
    cr_assert_eq(helmet_map_shares(&h.map, one), STATUS_OK);
    cr_assert_eq(site_shares(&h.map, 0, 1.2, RINGS, edge, few), STATUS_OK);
    h.map.edge_count = 6;
    cr_assert_eq(helmet_map_shares(&h.map, six), STATUS_OK);
    cr_assert_eq(site_shares(&h.map, 0, 1.2, RINGS, edge, many), STATUS_OK);
    for (int k = 0; k <= REGIONS; k++)
        cr_expect_float_eq(six[k], one[k], 1e-8, "%d: %.10f %.10f", k, six[k], one[k]);
    for (int k = 0; k < RINGS * (REGIONS + 1); k++)
        cr_expect_float_eq(many[k], few[k], 1e-7);
    helmet(&h, 6);
    cr_assert_eq(helmet_map_shares(&h.map, six), STATUS_OK);
    for (int k = 0; k < 6; k++) {
        double e0 = h.edge_elevation[k], e1 = h.edge_elevation[(k + 1) % 6];
        double span = h.edge_azimuth[(k + 1) % 6] - h.edge_azimuth[k] + (k == 5 ? 2 * pi : 0);
        below += span * (1 + (e1 == e0 ? sin(e0) : (cos(e0) - cos(e1)) / (e1 - e0))) / (4 * pi);
    }
    cr_expect_float_eq(six[REGIONS], below, 1e-8, "%.12f %.12f", six[REGIONS], below);
}

/* A border moved in steps of 0.01 deg. Shares are smooth in its place, but for square roots where it touches
 * a ring's edge; so the change of the change stays well below the change. Sampling gives flats and steps: as
 * large as the change itself. */
Test(rings, borders_move_shares_smoothly)
{
    enum { STEPS = 120 };
    static double share[STEPS][RINGS * (REGIONS + 1)];
    double edge[RINGS + 1];
    ring_edges(edge);
    for (int which = 0; which < 3; which++) {
        double first = 0, second = 0;
        for (int n = 0; n < STEPS; n++) {
            struct helmet h;
            helmet(&h, which == 2 ? 6 : 1);
            double shift = 0.01 * n * degree;
            h.bound[OPENING].elevation[1] += which == 0 ? shift : 0;
            h.bound[CROWN].half_angle += which == 1 ? shift : 0;
            h.edge_elevation[1] += which == 2 ? shift : 0;
            cr_assert_eq(site_shares(&h.map, 20 * degree, which == 2 ? -1.2 : 0, RINGS, edge, share[n]),
                         STATUS_OK);
        }
        for (int k = 0; k < RINGS * (REGIONS + 1); k++) {
            for (int n = 1; n + 1 < STEPS; n++) {
                first = fmax(first, fabs(share[n][k] - share[n - 1][k]));
                second = fmax(second, fabs(share[n + 1][k] - 2 * share[n][k] + share[n - 1][k]));
            }
        }
        printf("figure: border moved by 0.01 deg: largest change %.1e, change of the change %.1e\n", first,
               second);
        cr_expect_lt(second, 0.1 * first);
    }
}

/* Asymmetry: nothing for an even surrounding; a sector of angle t about the pole holds 2 sin(t/2) of
 * e^(i psi) and t of 1, so half of the cap gives 2/pi. */
Test(rings, asymmetry)
{
    struct small small;
    double fraction;
    const double even[2] = {3e8, 3e8}, half[2] = {1, 0}, none[2] = {0, 0};
    small_map(&small, (struct bound){.kind = BOUND_BOX, .elevation = {-pi / 2, pi / 2}, .azimuth = {0, pi}});
    cr_assert_eq(site_asymmetry(&small.map, pi / 2, 0, 1.2, even, &fraction), STATUS_OK);
    cr_expect_float_eq(fraction, 0, 1e-8);
    cr_assert_eq(site_asymmetry(&small.map, pi / 2, 0, 1.2, half, &fraction), STATUS_OK);
    cr_expect_float_eq(fraction, 2 / pi, 1e-8);
    cr_assert_eq(site_asymmetry(&small.map, 0.4, pi, 1.2, half, &fraction), STATUS_OK);
    cr_expect_float_eq(fraction, 2 / pi, 1e-8);
    small.bound[0].azimuth[1] = 0.5;
    cr_assert_eq(site_asymmetry(&small.map, pi / 2, 0, 1.2, half, &fraction), STATUS_OK);
    cr_expect_float_eq(fraction, 2 * sin(0.25) / 0.5, 1e-8);
    cr_assert_eq(site_asymmetry(&small.map, pi / 2, 0, 1.2, none, &fraction), STATUS_OK);
    cr_expect_eq(fraction, 0);
    /* what is below the lower edge carries nothing: the lower half of the cap gone leaves 2/pi */
    double edge_azimuth = 0, edge_elevation = 0;
    small_map(&small, (struct bound){.kind = BOUND_ALL});
    small.map.region_count = 1;
    small.map.edge_count = 1;
    small.map.edge_azimuth = &edge_azimuth;
    small.map.edge_elevation = &edge_elevation;
    cr_assert_eq(site_asymmetry(&small.map, 0, 0.3, 1.2, even, &fraction), STATUS_OK);
    cr_expect_float_eq(fraction, 2 / pi, 1e-8);
    small_map(&small, (struct bound){.kind = BOUND_BOX, .elevation = {-pi / 2, pi / 2}});
    /* a lune |azimuth| < h seen from a site at azimuth 0 is even by mirror symmetry; one to the right is not
     */
    small.bound[0].azimuth[0] = -0.3;
    small.bound[0].azimuth[1] = 0.3;
    cr_assert_eq(site_asymmetry(&small.map, 0, 0, 1.2, half, &fraction), STATUS_OK);
    cr_expect_float_eq(fraction, 0, 1e-8);
}

/* Half a ring from polar angle a to b about the pole is as stiff as K, all else as 1. Area as seen along the
 * axis, dw = sin phi cos phi dphi dpsi: the ring has w = (sin^2 b - sin^2 a)/2 a radian of azimuth, the cap W
 * = sin^2(c)/2, so the fraction is 2 (K - 1) w / (2 pi W + pi (K - 1) w). Rings near the axis and near the
 * border of the cap would tell sin phi, or no weight, apart. */
Test(rings, asymmetry_weighs_rings_by_the_area_seen_along_the_axis)
{
    const double from[2] = {0.1, 0.8}, to[2] = {0.4, 1.1}, cap = 1.2, k = 3, stiffness[2] = {k, 1};
    for (int i = 0; i < 2; i++) {
        struct small small;
        double fraction, w = 0.5 * (pow(sin(to[i]), 2) - pow(sin(from[i]), 2)), all = 0.5 * pow(sin(cap), 2);
        small_map(&small, (struct bound){.kind = BOUND_BOX,
                                         .elevation = {pi / 2 - to[i], pi / 2 - from[i]},
                                         .azimuth = {0, pi}});
        cr_assert_eq(site_asymmetry(&small.map, pi / 2, 0, cap, stiffness, &fraction), STATUS_OK);
        double wanted = 2 * (k - 1) * w / (2 * pi * all + pi * (k - 1) * w);
        cr_expect_float_eq(fraction, wanted, 1e-8, "%.10f, not %.10f", fraction, wanted);
    }
}

Test(rings, memory_failures_leave_zeros)
{
    struct helmet h;
    double edge[RINGS + 1], share[RINGS * (REGIONS + 1)];
    ring_edges(edge);
    helmet(&h, 6);
    size_t failures = memory_failures(), n = 0;
    for (;; n++) {
        memory_fail_after(n);
        enum status status = site_shares(&h.map, 0.3, 0.1, RINGS, edge, share);
        memory_fail_after((size_t)-1);
        if (memory_failures() == failures)
            break;
        failures = memory_failures();
        cr_expect_eq(status, STATUS_MEMORY);
        for (int k = 0; k < RINGS * (REGIONS + 1); k++)
            cr_expect_eq(share[k], 0);
    }
    cr_expect_gt(n, 5);
}

/* Information: time of one site. */
Test(rings, time_of_a_site)
{
    struct helmet h;
    double edge[RINGS + 1], share[RINGS * (REGIONS + 1)];
    ring_edges(edge);
    for (int k = 0; k < 2; k++) {
        helmet(&h, k ? 6 : 1);
        clock_t start = clock();
        for (int n = 0; n < 10; n++)
            cr_assert_eq(site_shares(&h.map, 20 * degree, 0.1 * n, RINGS, edge, share), STATUS_OK);
        printf("one site, %d rings, %s lower edge: %.2f ms\n", RINGS, k ? "bent" : "level",
               100.0 * (double)(clock() - start) / CLOCKS_PER_SEC);
    }
}
