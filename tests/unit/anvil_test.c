#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "solver/impact/anvil.h"

static void expect_words(const char *name, double degrees, const char *want)
{
    char words[ANVIL_WORDS];
    cr_expect_str_eq(anvil_words(name, degrees * 3.14159265358979323846 / 180, words), want);
}

/* The angle stands where the name does not tell it; one that passed through degrees is still the anvil's. */
Test(anvil, words)
{
    expect_words("flat", 0, "flat");
    expect_words("flat", 30, "flat 30 deg");
    expect_words("kerbstone", 12.5, "kerbstone 12.5 deg");
    expect_words("abrasive-45", 45, "abrasive-45");
    expect_words("abrasive-45", 45 * (1 + 1e-15), "abrasive-45");
    expect_words("bars-15-from-vertical", 75, "bars-15-from-vertical");
    expect_words("own flat", 0, "own flat");
    expect_words("own flat", 45, "own flat 45 deg");
    expect_words("flat", NAN, "flat");
    expect_words("", 0, "");
    expect_words("a name of a file that is as long as a name can be", 89.25,
                 "a name of a file that is as long as a name can  89.25 deg");
}

static double even(unsigned *seed, double low, double high)
{
    return low + (high - low) * rand_r(seed) / RAND_MAX;
}

Test(anvil, names)
{
    cr_expect_str_eq(anvil_find("curbstone")->name, "kerbstone");
    cr_expect_null(anvil_find("Flat"));
    for (size_t i = 0; i < ANVIL_COUNT; i++) {
        const struct anvil_info *info = &anvil_table[i];
        cr_expect_eq(anvil_find(info->name), info);
        cr_expect(info->text[0] && info->provenance[0] && info->source[0]);
        cr_expect_eq(info->friction == ANVIL_BARE_FRICTION, info->angle == 0 || info->shape == ANVIL_BAR,
                     "%s", info->name);
        cr_expect(i >= ANVIL_SHAPE_COUNT || info->shape == i, "%s stands for its shape", info->name);
    }
    cr_expect_eq(anvil_shape_find("flat"), ANVIL_FLAT);
    cr_expect_eq(anvil_shape_find("bar"), ANVIL_BAR);
    cr_expect_eq(anvil_shape_find("curbstone"), ANVIL_KERBSTONE);
    cr_expect_eq(anvil_shape_find("abrasive-45"), ANVIL_SHAPE_COUNT);
}

Test(anvil, dimensions)
{
    struct anvil anvil;
    struct anvil_sizes sizes = {{0.2, NAN, NAN, NAN, NAN}};
    cr_expect_eq(anvil_make(&anvil, ANVIL_FLAT, NULL, NAN), 1);
    cr_expect_float_eq(anvil.radius, 0.065, 1e-16);
    cr_expect_eq(anvil_make(&anvil, ANVIL_HEMISPHERE, NULL, NAN), 1);
    cr_expect_float_eq(anvil.radius, 0.048, 1e-16);
    cr_expect_eq(anvil_make(&anvil, ANVIL_FLAT, &sizes, NAN), 1);
    cr_expect_float_eq(anvil.radius, 0.1, 1e-16);
    cr_expect_eq(anvil_make(&anvil, ANVIL_EDGE, NULL, 0.13), 1);
    cr_expect_eq(anvil_make(&anvil, ANVIL_EDGE, NULL, 0), 0);
    cr_expect_eq(anvil.r[1], 0);
    sizes.of[ANVIL_RADIUS] = 0;
    cr_expect_eq(anvil_make(&anvil, ANVIL_HEMISPHERE, &sizes, NAN), 0);
    cr_expect_eq(anvil_make(&anvil, ANVIL_KERBSTONE, &sizes, 0.13), 0);
    sizes.of[ANVIL_RADIUS] = 0.0032; /* more than half of 6.3 mm */
    cr_expect_eq(anvil_make(&anvil, ANVIL_EDGE, &sizes, 0.13), 0);
    sizes.of[ANVIL_RADIUS] = 0.0061; /* more than a bar is high */
    cr_expect_eq(anvil_make(&anvil, ANVIL_BAR, &sizes, 0.13), 0);
    sizes.of[ANVIL_HEIGHT] = 0.0061;
    cr_expect_eq(anvil_make(&anvil, ANVIL_BAR, &sizes, 0.13), 1);
}

/* Nearest distance from a point to the meridian curve of an anvil, by walking along it in 0.02 mm steps. */
static double walked(const struct anvil *anvil, double r, double z)
{
    double best = 1, R = anvil->radius, c = anvil->rounding;
    for (int i = 0; i <= 20000; i++) {
        double s = i * 2e-5, x, y, flat = R - c, quarter = 1.5707963267948966;
        if (anvil->shape == ANVIL_HEMISPHERE) {
            double t = s / R;
            x = t < quarter ? R * sin(t) : R;
            y = t < quarter ? R * cos(t) - R : -R - (s - R * quarter);
        } else if (s < flat) {
            x = s;
            y = 0;
        } else {
            double t = (s - flat) / c;
            x = t < quarter ? flat + c * sin(t) : R;
            y = t < quarter ? c * cos(t) - c : -c - (s - flat - c * quarter);
        }
        best = fmin(best, hypot(x - r, y - z));
    }
    return best;
}

/* The distance is that to the surface; its sign is that of the side; its gradient, by central differences, is
 * the normal, of length 1. */
Test(anvil, distance_and_normal)
{
    unsigned seed = 7;
    for (int k = 0; k < 400; k++) {
        struct anvil anvil;
        double r = even(&seed, 1e-4, 0.12), z = even(&seed, -0.1, 0.05), n[2], m[2], h = 1e-7;
        cr_assert(anvil_make(&anvil, k % 2 ? ANVIL_FLAT : ANVIL_HEMISPHERE, NULL, NAN));
        double d = anvil_distance(&anvil, r, z, n);
        cr_expect_float_eq(hypot(n[0], n[1]), 1, 1e-15);
        double slope_r =
            (anvil_distance(&anvil, r + h, z, m) - anvil_distance(&anvil, r - h, z, m)) / (2 * h);
        double slope_z =
            (anvil_distance(&anvil, r, z + h, m) - anvil_distance(&anvil, r, z - h, m)) / (2 * h);
        cr_expect_float_eq(slope_r, n[0], 1e-6, "(%g, %g)", r, z);
        cr_expect_float_eq(slope_z, n[1], 1e-6, "(%g, %g)", r, z);
        cr_expect_float_eq(fabs(d), walked(&anvil, r, z), 2e-5, "(%g, %g)", r, z);
        int inside = r < anvil.radius && z < (k % 2 ? 0 : sqrt(0.048 * 0.048 - r * r) - 0.048);
        if (fabs(d) > 2e-3)
            cr_expect_eq(d < 0, inside);
    }
}

/* On the axis, at the top: z, straight up. Round the edge of a flat the normal turns without a jump for
 * depths up to the rounding. */
Test(anvil, smooth_where_shells_touch)
{
    for (int shape = ANVIL_FLAT; shape <= ANVIL_HEMISPHERE; shape++) {
        struct anvil anvil;
        double n[2], before[2] = {0, 1};
        cr_assert(anvil_make(&anvil, (enum anvil_shape)shape, NULL, NAN));
        cr_expect_float_eq(anvil_distance(&anvil, 0, -0.003, n), -0.003, 1e-16);
        cr_expect_eq(n[0], 0);
        cr_expect_eq(n[1], 1);
        for (int i = 0; i <= 4000; i++) { /* from inside the face outwards, 0.35 mm below the tangent plane */
            double r = 0.060 + i * 2e-6;
            anvil_distance(&anvil, shape == ANVIL_FLAT ? r : r - 0.060, -0.00035, n);
            cr_expect_lt(hypot(n[0] - before[0], n[1] - before[1]), 0.01, "r %g", r);
            before[0] = n[0];
            before[1] = n[1];
        }
    }
}

/* --- bodies of equal overlap --- */

static const double outer = 0.130, pi = 3.14159265358979323846;

static double sag(double r)
{
    return outer - sqrt(outer * outer - r * r);
}

/* Height of the true anvil at (x, y), the ridge along y. The rounded section is what lies within the rounding
 * of a smaller one: the kerb's faces are lines c/cos 37.5 deg above the tip of the inner wedge, c deep. */
static double true_height(enum anvil_shape shape, const struct anvil_sizes *sizes, double x, double y)
{
    double c = sizes->of[ANVIL_RADIUS], half = 0.5 * sizes->of[ANVIL_WIDTH], face = 37.5 * pi / 180;
    double base = shape == ANVIL_BAR ? -sizes->of[ANVIL_HEIGHT] : -1e3;
    x = fabs(x);
    if (fabs(y) > 0.5 * sizes->of[ANVIL_LENGTH])
        return -1e3;
    if (shape == ANVIL_KERBSTONE)
        return x < c * sin(face) ? sqrt(c * c - x * x) - c : c / cos(face) - c - x * tan(face);
    if (x > half)
        return base;
    return x > half - c ? sqrt(c * c - (x - half + c) * (x - half + c)) - c : 0;
}

/* Area and volume in which the sphere, pushed in by `depth`, overlaps the true anvil: along each ray from the
 * axis the overlap ends once, found by bisection; area the integral of rho^2/2 over the angle, volume that of
 * (depth - sag + height) rho. */
static void true_overlap(enum anvil_shape shape, const struct anvil_sizes *sizes, double depth, double *area,
                         double *volume)
{
    enum { RAYS = 2000, STEPS = 400 };
    *area = *volume = 0;
    for (int i = 0; i < RAYS; i++) {
        double turn = 0.5 * pi * (i + 0.5) / RAYS, inside = 0, outside = outer;
        double c = sin(turn), s = cos(turn);
        for (int k = 0; k < 50; k++) {
            double rho = 0.5 * (inside + outside);
            if (sag(rho) - true_height(shape, sizes, rho * c, rho * s) < depth)
                inside = rho;
            else
                outside = rho;
        }
        *area += 4 * 0.5 * inside * inside * 0.5 * pi / RAYS;
        for (int k = 0; volume && k < STEPS; k++) {
            double rho = inside * (k + 0.5) / STEPS;
            *volume += 4 * (depth - sag(rho) + true_height(shape, sizes, rho * c, rho * s)) * rho * inside /
                       STEPS * 0.5 * pi / RAYS;
        }
    }
}

/* Radius at which the sphere, pushed in by `depth`, leaves the body of revolution. */
static double body_reach(const struct anvil *anvil, double depth)
{
    double inside = 0, outside = outer, normal[2];
    for (int k = 0; k < 60; k++) {
        double r = 0.5 * (inside + outside);
        if (anvil_distance(anvil, r, sag(r) - depth, normal) < 0)
            inside = r;
        else
            outside = r;
    }
    return inside;
}

static double body_volume(const struct anvil *anvil, double depth)
{
    enum { STEPS = 2000 };
    double volume = 0;
    for (int k = 0; k < STEPS; k++) { /* depths as squares: the reach grows evenly */
        double share = (k + 0.5) / STEPS, r = body_reach(anvil, depth * share * share);
        volume += pi * r * r * 2 * share * depth / STEPS;
    }
    return volume;
}

static const struct own {
    enum anvil_shape shape;
    const char *word;
    struct anvil_sizes sizes; /* all that apply */
} ridges[] = {
    {ANVIL_KERBSTONE, "kerbstone", {{NAN, 0.015, NAN, NAN, INFINITY}}},
    {ANVIL_KERBSTONE, "kerbstone, 80 mm long", {{NAN, 0.015, NAN, NAN, 0.080}}},
    {ANVIL_KERBSTONE, "kerbstone, edge 1 mm", {{NAN, 0.001, NAN, NAN, INFINITY}}},
    {ANVIL_EDGE, "edge", {{NAN, 0, 0.0063, NAN, 0.180}}},
    {ANVIL_EDGE, "edge, rounded, short", {{NAN, 0.006, 0.020, NAN, 0.060}}},
    {ANVIL_BAR, "bar", {{NAN, 0.001, 0.025, 0.006, INFINITY}}},
};
enum { RIDGES = sizeof ridges / sizeof *ridges };

/* The body meets the area, and so the volume, that the true anvil meets, by quadrature over the true one. */
Test(anvil, overlap_of_the_true_anvil)
{
    for (int i = 0; i < RIDGES; i++) {
        struct anvil anvil;
        double worst = 0, area, volume;
        cr_assert(anvil_make(&anvil, ridges[i].shape, &ridges[i].sizes, outer));
        for (int step = 0; step < 12; step++) {
            double depth = 0.0005 * pow(1.5, step);
            true_overlap(ridges[i].shape, &ridges[i].sizes, depth, &area, &volume);
            double r = body_reach(&anvil, depth), difference = fabs(pi * r * r / area - 1);
            worst = difference > worst ? difference : worst;
        }
        printf("figure: anvil %s: overlap area against quadrature %.2g (at most 0.002)\n", ridges[i].word,
               worst);
        cr_expect_lt(worst, 2e-3);
        true_overlap(ridges[i].shape, &ridges[i].sizes, 0.025, &area, &volume);
        double difference = fabs(body_volume(&anvil, 0.025) / volume - 1);
        printf("figure: anvil %s: overlap volume at 25 mm %.2g (at most 0.002)\n", ridges[i].word,
               difference);
        cr_expect_lt(difference, 2e-3);
    }
}

/*
 * Closed forms. A sphere on a cylinder of radius c: the gap is X^2/2c + (X^2 + Y^2)/2R to second order, so
 * the overlap at depth x is an ellipse of area pi sqrt(2x/(1/c + 1/R)) sqrt(2 x R) = 2 pi x R/sqrt(1 + R/c).
 * A circle of radius p = sqrt(2 R x - x^2) on a plate of half width w: 2 (w sqrt(p^2 - w^2) + p^2 asin(w/p)).
 */
Test(anvil, overlap_in_closed_form)
{
    struct anvil_sizes kerb = anvil_usual(ANVIL_KERBSTONE), edge = anvil_usual(ANVIL_EDGE);
    double x = 10e-6, p = sqrt(2 * outer * 0.010 - 1e-4), w = 0.00315, c = 0.015;
    double ellipse = 2 * pi * x * outer / sqrt(1 + outer / c);
    double strip = 2 * (w * sqrt(p * p - w * w) + p * p * asin(w / p));
    double small = anvil_overlap(ANVIL_KERBSTONE, &kerb, outer, x) / ellipse - 1;
    double plate = anvil_overlap(ANVIL_EDGE, &edge, outer, 0.010) / strip - 1;
    printf("figure: anvil kerbstone: overlap at small crush over closed form - 1 %.2g (at most 0.0005)\n",
           small);
    printf("figure: anvil edge: overlap over closed form - 1 %.2g (at most 1e-05)\n", plate);
    cr_expect_float_eq(small, 0, 5e-4);
    cr_expect_float_eq(plate, 0, 1e-5);
}

/* Distance to a polygon that is turned round the axis, by asking all its sides. */
static double asked(const struct anvil *anvil, double r, double z)
{
    double best = 1;
    for (int i = 0; i + 1 < ANVIL_POINTS; i++) {
        double a = anvil->r[i + 1] - anvil->r[i], b = anvil->z[i + 1] - anvil->z[i];
        double t = ((r - anvil->r[i]) * a + (z - anvil->z[i]) * b) / (a * a + b * b + 1e-300);
        t = fmin(fmax(t, 0), 1);
        best = fmin(best, hypot(r - anvil->r[i] - t * a, z - anvil->z[i] - t * b));
    }
    return best;
}

/* Height of the polygon at r; -1 outside of it. */
static double height_at(const struct anvil *anvil, double r)
{
    for (int i = 0; i + 1 < ANVIL_POINTS; i++) {
        if (anvil->r[i] <= r && r < anvil->r[i + 1]) {
            double part = (r - anvil->r[i]) / (anvil->r[i + 1] - anvil->r[i]);
            return anvil->z[i] + part * (anvil->z[i + 1] - anvil->z[i]);
        }
    }
    return -1;
}

/* Outside and down to 2 mm inside the distance is that to the nearest side, deeper no less; the sign is that
 * of the side of the surface; along the normal the distance grows as the way does. */
Test(anvil, distance_to_a_body)
{
    unsigned seed = 11;
    struct anvil anvils[RIDGES];
    for (int i = 0; i < RIDGES; i++)
        cr_assert(anvil_make(&anvils[i], ridges[i].shape, &ridges[i].sizes, outer));
    for (int k = 0; k < 6000; k++) {
        const struct anvil *anvil = &anvils[k % RIDGES];
        double r = even(&seed, 1e-4, 0.08), z = even(&seed, -0.06, 0.02), n[2], m[2], h = 1e-8;
        double top = height_at(anvil, r);
        if (k / RIDGES % 2 && top > -1) /* near the surface, as in an impact */
            z = top + even(&seed, -5e-4, 5e-4);
        double d = anvil_distance(anvil, r, z, n), best = asked(anvil, r, z);
        cr_expect_float_eq(hypot(n[0], n[1]), 1, 1e-12);
        cr_expect_eq(d < 0, z < top, "%d: (%g, %g)", k, r, z);
        cr_expect(fabs(d) > best - 1e-12, "%d: (%g, %g) %g %g", k, r, z, d, best);
        if (d > 0 || best < 2e-3)
            cr_expect_float_eq(fabs(d), best, 1e-12, "%d: (%g, %g)", k, r, z);
        if (best < 1e-3 && best > 1e-6) {
            double there = anvil_distance(anvil, r + h * n[0], z + h * n[1], m);
            cr_expect_float_eq(there - d, h, 1e-3 * h, "%d: (%g, %g)", k, r, z);
        }
    }
}

/* The normal turns little from side to side, so that a shell that slides over a corner feels no jump; more
 * where the true anvil has an edge across (a short plate's end) or a foot (a bar's plane). */
Test(anvil, corners_of_a_body)
{
    for (int i = 0; i < RIDGES; i++) {
        struct anvil anvil;
        double turn = 0, before = 0, most = i < 4 ? 0.05 : 0.3;
        cr_assert(anvil_make(&anvil, ridges[i].shape, &ridges[i].sizes, outer));
        for (int k = 0; k + 2 < ANVIL_POINTS; k++) {
            double slope = atan2(anvil.z[k] - anvil.z[k + 1], anvil.r[k + 1] - anvil.r[k]);
            turn = anvil.r[k + 1] - anvil.r[k] > 1e-6 ? fmax(turn, fabs(slope - before)) : turn;
            before = slope;
        }
        printf("figure: anvil %s: the normal turns by %.3f rad at a corner (at most %g)\n", ridges[i].word,
               turn, most);
        cr_expect_lt(turn, most);
    }
}
