#include <criterion/criterion.h>
#include <math.h>
#include <stdlib.h>

#include "solver/impact/anvil.h"

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
        int computed = info->angle == 0 && (info->shape == ANVIL_FLAT || info->shape == ANVIL_HEMISPHERE);
        cr_expect_eq(anvil_not_computed(info->shape, info->angle) == NULL, computed, "%s", info->name);
    }
    cr_expect_eq(anvil_shape_find("flat"), ANVIL_FLAT);
    cr_expect_eq(anvil_shape_find("bar"), ANVIL_BAR);
    cr_expect_eq(anvil_shape_find("curbstone"), ANVIL_KERBSTONE);
    cr_expect_eq(anvil_shape_find("abrasive-45"), ANVIL_SHAPE_COUNT);
}

Test(anvil, dimensions)
{
    struct anvil anvil;
    cr_expect_eq(anvil_make(&anvil, ANVIL_FLAT, NAN, NAN), 1);
    cr_expect_float_eq(anvil.radius, 0.065, 1e-16);
    cr_expect_eq(anvil_make(&anvil, ANVIL_HEMISPHERE, NAN, NAN), 1);
    cr_expect_float_eq(anvil.radius, 0.048, 1e-16);
    cr_expect_eq(anvil_make(&anvil, ANVIL_FLAT, 0.2, NAN), 1);
    cr_expect_float_eq(anvil.radius, 0.1, 1e-16);
    cr_expect_eq(anvil_make(&anvil, ANVIL_KERBSTONE, NAN, 0.015), 0);
    cr_expect_eq(anvil_make(&anvil, ANVIL_HEMISPHERE, NAN, 0), 0);
    cr_expect_eq(anvil.radius, 0);
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
        cr_assert(anvil_make(&anvil, k % 2 ? ANVIL_FLAT : ANVIL_HEMISPHERE, NAN, NAN));
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
        cr_assert(anvil_make(&anvil, (enum anvil_shape)shape, NAN, NAN));
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
