#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/run.h"
#include "tests/support/foams.h"
#include "tests/support/sanitized.h"

/*
 * The helmet as a body of revolution against closed forms and exact solutions of simpler models. Each test
 * prints the figure it checks.
 */

static const double pi = 3.14159265358979323846;

enum { RINGS_MOST = 400 };
static double all_of_it[RINGS_MOST], half_of_it[RINGS_MOST];

static struct foam plain(double relative, double plateau, double gas, double young, double mass_density)
{
    struct foam_parameters parameters = foams_plain(relative * 1050.0, plateau, gas, young);
    struct foam foam = foams_make(&parameters);
    foam.density = mass_density;
    return foam;
}

/* A liner of one layer on a concentric rigid head, no shell, no gravity. */
static struct axisymmetric_setup bare_liner(const struct foam *foam, size_t rings, double radius,
                                            double thickness)
{
    struct axisymmetric_setup setup = axisymmetric_setup_default();
    for (size_t i = 0; i < RINGS_MOST; i++) {
        all_of_it[i] = 1.0;
        half_of_it[i] = 0.5;
    }
    setup.helmet.rings = rings;
    setup.helmet.gravity = 0.0;
    setup.helmet.outer_radius = radius;
    setup.helmet.region_count = 1;
    setup.helmet.regions[0] = (struct columns_region){
        .name = "all", .share = all_of_it, .layer_count = 1, .layers = {{thickness, 1, {{foam, 1.0}}}}};
    setup.zone_share[0] = all_of_it;
    struct anvil_sizes wide = {{10.0, NAN, NAN, NAN, NAN}};
    cr_assert(anvil_make(&setup.helmet.anvil, ANVIL_FLAT, &wide, setup.helmet.outer_radius));
    return setup;
}

static void solve(const struct axisymmetric_setup *setup, struct impact_output *output)
{
    char message[HISTORY_MESSAGE] = "";
    cr_assert_eq(run_axisymmetric(setup, output, NULL, NULL, message), STATUS_OK, "%s", message);
    cr_expect(output->balance_error < 1e-3, "ledger %g", output->balance_error);
}

/*
 * A bare sphere of foam on a rigid head falls on a flat. Parallel columns give 212.118 g (integrated in
 * columns_test.c, the same inputs); the continuum spreads a little of the load sideways and turns with the
 * surface: within 3 %.
 */
Test(axisymmetric, sphere_on_flat)
{
    double plateau = 0.45e6 * pow(64.0 / 50.0, 1.5);
    struct foam foam = plain(64.0 / 1050.0, plateau, 100e3, 25.0 * plateau, 16.0);
    struct axisymmetric_setup setup = bare_liner(&foam, SANITIZED ? 24 : 48, 0.130, 0.030);
    setup.helmet.phi_max = 50.0 * pi / 180.0;
    setup.helmet.cell = SANITIZED ? 3e-3 : 1.5e-3;
    setup.helmet.head_mass = 5.0;
    setup.helmet.speed = 6.2;
    setup.helmet.duration = 6.5e-3;
    struct impact_output output;
    solve(&setup, &output);
    if (!SANITIZED) /* coarse there, which watches memory and not figures */
        near("sphere on flat, g", output.metrics[METRIC_peak], 212.118, 0.03);
    impact_output_free(&output);
    foam_free(&foam);
}

/* Volume of revolution of zone (i, j) at one time, by Pappus: two triangles, each its area times 2 pi times
 * the radius of its centroid. */
static double zone_volume(const struct snapshots *snapshots, size_t at, size_t i, size_t j)
{
    size_t rings = snapshots->rings;
    const double *r = snapshots_at(snapshots, SNAPSHOT_r, at), *z = snapshots_at(snapshots, SNAPSHOT_z, at);
    size_t corner[4] = {j * rings + i, j * rings + i + 1, (j + 1) * rings + i + 1, (j + 1) * rings + i};
    double sum = 0.0;
    for (int t = 0; t < 2; t++) {
        size_t a = corner[0], b = corner[t + 1], c = corner[t + 2];
        double area = 0.5 * ((r[b] - r[a]) * (z[c] - z[a]) - (r[c] - r[a]) * (z[b] - z[a]));
        sum += area * 2.0 * pi * (r[a] + r[b] + r[c]) / 3.0;
    }
    return sum;
}

/* Prints a figure and holds it. */
static void at_most(const char *what, double value, double limit)
{
    printf("figure: %s %.2g (at most %g)\n", what, value, limit);
    cr_expect_leq(value, limit, "%s", what);
}

/* Largest difference of strain and of the mass of a zone from what the drawn zone has. */
static void compare_zones(const struct snapshots *snapshots, size_t at, double *strain, double *mass)
{
    for (size_t j = 0; j < snapshots->rows; j++) {
        for (size_t i = 0; i + 1 < snapshots->rings; i++) {
            size_t zone = j * (snapshots->rings - 1) + i;
            double now = zone_volume(snapshots, at, i, j), first = zone_volume(snapshots, 0, i, j);
            double *density = snapshots->array[SNAPSHOT_density];
            *strain =
                fmax(*strain, fabs(1.0 - now / first - snapshots_at(snapshots, SNAPSHOT_strain, at)[zone]));
            *mass = fmax(*mass, fabs(snapshots_at(snapshots, SNAPSHOT_density, at)[zone] * now /
                                         (density[zone] * first) -
                                     1.0));
        }
    }
}

/* Thickness on the axis as the metric takes it: the mean over r <= 15 mm by area. */
static double axis_thickness(const struct snapshots *snapshots, size_t at)
{
    size_t inner = snapshots->rows * snapshots->rings;
    const double *r = snapshots_at(snapshots, SNAPSHOT_r, at), *z = snapshots_at(snapshots, SNAPSHOT_z, at);
    double pitch = 50.0 * pi / 180.0 / (double)(snapshots->rings - 1), sum = 0.0, all = 0.0;
    for (size_t i = 0; 0.130 * sin((double)i * pitch) <= 15e-3; i++) {
        double area = cos(i ? ((double)i - 0.5) * pitch : 0.0) - cos(((double)i + 0.5) * pitch);
        sum += area * hypot(r[inner + i] - r[i], z[inner + i] - z[i]);
        all += area;
    }
    return sum / all;
}

/* A cap of 50 degrees, 30 mm thick, under a head of 5 kg. */
static struct axisymmetric_setup cap(const struct foam *foam, size_t rings, double cell, double duration)
{
    struct axisymmetric_setup setup = bare_liner(foam, rings, 0.130, 0.030);
    setup.helmet.phi_max = 50.0 * pi / 180.0;
    setup.helmet.cell = cell;
    setup.helmet.head_mass = 5.0;
    setup.helmet.duration = duration;
    return setup;
}

/* Snapshots hold what the solver had: strain and mass follow from the places of the nodes, the deepest is
 * there with the crush that the metric states, the head rests where its travel says, the anvil is where it is
 * struck. */
Test(axisymmetric, snapshots_hold_the_state)
{
    struct foam foam = plain(64.0 / 1050.0, 0.3e6, 100e3, 8e6, 64.0);
    struct axisymmetric_setup setup = cap(&foam, 24, 3e-3, 8e-3);
    setup.helmet.speed = 4.0;
    setup.snapshot_interval = 1e-3;
    struct impact_output output;
    solve(&setup, &output);
    const struct snapshots *snapshots = &output.snapshots;
    const double *time = snapshots->array[SNAPSHOT_time];
    cr_assert(snapshots->rings == 24 && snapshots->rows == 10 && snapshots->count >= 6);
    cr_expect_eq(time[0], 0.0);
    size_t deepest = 0, peak = 0;
    double strain = 0.0, mass = 0.0;
    const double *crush = output.channel[PULSE_crush];
    for (size_t i = 0; i < output.count; i++)
        peak = crush[i] > crush[peak] ? i : peak;
    for (size_t t = 1; t < snapshots->count; t++) {
        double even = 1e-3 * round(time[t] / 1e-3);
        cr_expect_gt(time[t], time[t - 1]);
        deepest = fabs(time[t] - 1e-5 * (double)(peak + 1)) < 1.01e-5 ? t : deepest;
        cr_expect(t == deepest || fabs(time[t] - even) < 1.01e-5, "at %g s", time[t]);
        compare_zones(snapshots, t, &strain, &mass);
    }
    /* Places stand to a micrometre in zones of 3 mm: below a part in a thousand. */
    at_most("snapshots: strain against the volume of the drawn zone", strain, 1e-3);
    at_most("snapshots: mass of a zone", mass, 2e-3);
    cr_assert_gt(deepest, 0);
    double head = snapshots->array[SNAPSHOT_head_z][0] - snapshots_at(snapshots, SNAPSHOT_head_z, deepest)[0];
    cr_expect_float_eq(head, output.channel[PULSE_travel][peak], 2e-5);
    cr_expect_float_eq(axis_thickness(snapshots, deepest), 0.030 - 1e-3 * output.metrics[METRIC_crush], 4e-6);
    for (size_t i = 0; i < SNAPSHOT_ANVIL; i++) {
        double normal[2];
        cr_expect_lt(
            fabs(anvil_distance(&setup.helmet.anvil, snapshots->anvil_r[i], snapshots->anvil_z[i], normal)),
            2e-6);
    }
    impact_output_free(&output);
    foam_free(&foam);
}

/* A pulse that the duration cuts is recorded to its last interval, at any speed: 2 ms hold 200 of 10 us. */
Test(axisymmetric, record_holds_the_whole_duration)
{
    struct foam foam = plain(64.0 / 1050.0, 0.3e6, 100e3, 8e6, 64.0);
    struct axisymmetric_setup setup = cap(&foam, 8, 10e-3, 2e-3);
    for (int i = 0; i < 30; i++) {
        struct impact_output output;
        setup.helmet.speed = 3.0 + 0.1 * i;
        solve(&setup, &output);
        cr_expect(!output.separated);
        cr_expect_eq(output.count, 200, "%g m/s: %zu", setup.helmet.speed, output.count);
        impact_output_free(&output);
    }
    foam_free(&foam);
}
