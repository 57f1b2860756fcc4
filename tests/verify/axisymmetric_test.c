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

/* Rows ascend, within the room there is; two of them stand between borders, an empty one at each that slips.
 */
static void count_rows(const struct axisymmetric_setup *setup, size_t borders)
{
    static struct axisymmetric_model model;
    size_t empty = 0;
    cr_assert_eq(axisymmetric_model_make(setup, &model), STATUS_OK);
    for (size_t j = 0; j < model.zones.rows; j++) {
        empty += model.cut[j] == model.cut[j + 1];
        cr_expect_leq(model.cut[j], model.cut[j + 1], "row %zu", j);
    }
    printf("figure: rows of a liner with %zu borders between layers: %zu (at most %d), %zu of them empty\n",
           borders, model.zones.rows, AXISYMMETRIC_ROWS, empty);
    cr_expect_gt(model.zones.rows - empty, AXISYMMETRIC_ROWS / 2);
    cr_expect_leq(model.zones.rows, AXISYMMETRIC_ROWS);
    cr_expect_eq(model.slip_count, empty);
    cr_expect(setup->layers_slip ? empty > AXISYMMETRIC_ROWS / 4 : empty == 0);
    axisymmetric_model_free(&model);
}

/* Regions whose layers end at more places than there are rows for: what has none shares a row. */
Test(axisymmetric, more_borders_than_rows)
{
    struct foam foam = plain(0.06, 0.5e6, 100e3, 12e6, 60.0);
    struct axisymmetric_setup setup = bare_liner(&foam, 24, 0.130, 0.030);
    for (size_t i = 0; i < RINGS_MOST; i++)
        half_of_it[i] = 1.0 / COLUMNS_REGIONS;
    setup.helmet.region_count = COLUMNS_REGIONS;
    const size_t borders = COLUMNS_REGIONS * (LINER_LAYERS - 1);
    const double apart = 0.030 / (double)(borders + 1);
    for (size_t k = 0; k < COLUMNS_REGIONS; k++) {
        struct columns_region region = {.name = "many", .share = half_of_it, .layer_count = LINER_LAYERS};
        for (size_t l = 0; l < LINER_LAYERS; l++) {
            size_t spaces = l == 0 ? k + 1 : l + 1 < LINER_LAYERS ? COLUMNS_REGIONS : COLUMNS_REGIONS - k;
            region.layers[l] = (struct liner_layer){
                .thickness = apart * (double)spaces, .part_count = 1, .parts = {{&foam, 1.0}}};
        }
        setup.helmet.regions[k] = region;
        setup.zone_share[k] = half_of_it;
    }
    setup.helmet.cell = 1.5 * apart; /* each border has a place and asks for two rows */
    for (setup.layers_slip = 0; setup.layers_slip < 2; setup.layers_slip++)
        count_rows(&setup, borders);
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

/* --- shell on a bed of foam --- */

/* Of an elastic layer of thickness h, nu 0 and shear modulus G on a rigid base that holds it, the pressure
 * that the displacement W cos(q x) of its face takes, over W. With harmonic f and g of z times cos(q x), 2 G
 * u_x = q (f + z g), 2 G u_z = 3 g - f' - z g', sigma_zz = 2 g' - q^2 (f + z g), tau_xz = q (f' + z g' - g),
 * the latter two as amplitudes. f = B sinh(q z) and g = C cosh(q z) + D sinh(q z) with q B = 3 C rest on the
 * base; e = q h.
 * Face without shear, f' + z g' = g there: q G (6 cosh 2e + 4 e^2 + 10)/(6 sinh 2e - 4 e).
 * Face that does not move along itself, f + z g = 0: 4 q G (e + 3 cosh e sinh e)/(9 sinh^2 e - e^2).
 * Both tend to 2 G/h for long waves. */
static double bed_stiffness(double shear, double thickness, double q, int held)
{
    double e = q * thickness, s = sinh(e), c = cosh(e);
    return held ? 4.0 * q * shear * (e + 3.0 * c * s) / (9.0 * s * s - e * e)
                : q * shear * (6.0 * cosh(2.0 * e) + 4.0 * e * e + 10.0) / (6.0 * sinh(2.0 * e) - 4.0 * e);
}

struct bed_shell {
    double thickness, young, poisson; /* of the shell */
    double radius, bed, depth;        /* [m], modulus of the foam [Pa], its thickness [m] */
};

/* Force over dent under a point load: a shallow shell of Reissner over that layer, by the integral of Hankel,
 *     w/F = 1/(2 pi) integral of q dq/(D q^4 + E t/R^2 + K(q)),
 * which a constant K turns into 1/(8 sqrt(D (E t/R^2 + K))). Beyond the last q: integral of dq/(D q^3). */
static double bed_dent(const struct bed_shell *shell, int held)
{
    enum { STEPS = 40000 };
    double t = shell->thickness, young = shell->young, sum = 0.0, step = 4000.0 / STEPS;
    double plate = young * t * t * t / (12.0 * (1.0 - shell->poisson * shell->poisson));
    for (int i = 0; i < STEPS; i++) {
        double q = (i + 0.5) * step;
        sum += q * step /
               (plate * q * q * q * q + young * t / (shell->radius * shell->radius) +
                bed_stiffness(0.5 * shell->bed, shell->depth, q, held));
    }
    return 2.0 * pi / (sum + 0.5 / (plate * 4000.0 * 4000.0));
}

/* The cap as a whole on the bed, moved along the axis by 1: E/h cos^2 phi + G/h sin^2 phi over its area. */
static double bed_sinking(const struct bed_shell *shell, double phi)
{
    double c = cos(phi), cosines = (1.0 - c * c * c) / 3.0, sines = 1.0 - c - cosines;
    return 2.0 * pi * shell->radius * shell->radius * shell->bed / shell->depth * (cosines + 0.5 * sines);
}

/* Force over travel of a head of no end of mass at 4 mm/s against a ball under the pole, from means over the
 * second and the last third, the ball's penalty taken off in series. */
static double bed_measure(const struct bed_shell *shell, double phi)
{
    double speed = 0.004;
    struct foam foam = plain(0.05, 0.4 * shell->bed, 0.0, shell->bed, 50.0);
    struct axisymmetric_setup setup =
        bare_liner(&foam, SANITIZED ? 24 : 128, shell->radius - 0.5 * shell->thickness, shell->depth);
    setup.helmet.phi_max = phi;
    setup.helmet.shell_thickness = shell->thickness;
    setup.helmet.shell = (struct shell_sheet){.density = 1040.0,
                                              .youngs_modulus = shell->young,
                                              .poisson = shell->poisson,
                                              .yield_stress = INFINITY};
    setup.helmet.head_mass = 1e6;
    setup.helmet.head_friction = 100.0;
    setup.helmet.speed = speed;
    setup.helmet.duration = SANITIZED ? 1e-3 : 6e-3;
    setup.helmet.cell = SANITIZED ? 0.01 : 0.0025;
    struct anvil_sizes point = {{NAN, 0.002, NAN, NAN, NAN}};
    cr_assert(anvil_make(&setup.helmet.anvil, ANVIL_HEMISPHERE, &point, setup.helmet.outer_radius));
    struct axisymmetric_model model;
    struct history history;
    double absorbed[HISTORY_LAYERS], force = 0.0, travel = 0.0;
    char message[HISTORY_MESSAGE] = "";
    cr_assert_eq(axisymmetric_model_make(&setup, &model), STATUS_OK);
    cr_assert_eq(history_make(&history, setup.helmet.duration, speed, model.layer_count), STATUS_OK);
    cr_assert_eq(axisymmetric_run(&model, NULL, &history, absorbed, NULL, message), STATUS_OK, "%s", message);
    size_t third = history.forces.count / 3;
    for (size_t k = third; k < 3 * third; k++) {
        double sign = k < 2 * third ? -1.0 : 1.0;
        force += sign * history.forces.integral[history.forces.room + k] / history.forces.interval;
        travel += sign * record_samples(&history.states, HISTORY_TRAVEL)[k];
    }
    double stiffness = 1.0 / (travel / force - 1.0 / model.contact.stiffness[0]);
    history_free(&history);
    axisymmetric_model_free(&model);
    foam_free(&foam);
    return stiffness;
}

/*
 * A spherical shell on an elastic bed, dented at its pole: between the shell on a bed that is smooth under it
 * and on one whose face it holds, +-2 %; by the formulas above, in series with the sinking of the cap. R 130
 * mm, bed 15 MPa and 35 mm. The dents alone: 985 to 1050 kN/m (ABS 4 mm), 624 to 678 (ABS 3 mm), 1917 to 1981
 * (glass 3 mm). Columns, which cannot shear, give 909, 548 and 1840.
 */
Test(axisymmetric, shell_on_foam_bed)
{
    static const struct bed_shell shells[] = {{0.004, 2.2e9, 0.37, 0.130, 15e6, 0.035},
                                              {0.003, 2.2e9, 0.37, 0.130, 15e6, 0.035},
                                              {0.003, 10e9, 0.25, 0.130, 15e6, 0.035}};
    double phi = pi / 3.0;
    for (size_t i = 0; i < sizeof shells / sizeof *shells; i++) {
        double sinking = bed_sinking(&shells[i], phi), stiffness = bed_measure(&shells[i], phi);
        double dent = 1.0 / (1.0 / stiffness - 1.0 / sinking);
        double least = bed_dent(&shells[i], 0), most = bed_dent(&shells[i], 1);
        printf("figure: shell on a foam bed, dent %.1f kN/m (%.1f to %.1f, +-2 %%)\n", dent / 1e3,
               least / 1e3, most / 1e3);
        cr_expect(SANITIZED || (dent > 0.98 * least && dent < 1.02 * most), "shell %zu: %g", i, dent);
    }
}

/* --- where foam is crushed --- */

/* Shortening of the outer and the inner half of the lines of nodes within 15 mm of the axis, by the nodes'
 * first radii; the share of the outer half. */
static double outer_share(const struct snapshots *snapshots, size_t at)
{
    double half[2] = {0.0, 0.0};
    for (size_t i = 0; i < snapshots->rings; i++) {
        double first_r = snapshots->array[SNAPSHOT_r][i];
        for (size_t j = 0; j < snapshots->rows && first_r <= 15e-3; j++) {
            size_t a = j * snapshots->rings + i, b = a + snapshots->rings;
            const double *r0 = snapshots->array[SNAPSHOT_r], *z0 = snapshots->array[SNAPSHOT_z];
            const double *r = snapshots_at(snapshots, SNAPSHOT_r, at);
            const double *z = snapshots_at(snapshots, SNAPSHOT_z, at);
            half[2 * j >= snapshots->rows] +=
                (first_r + 1e-4) * (hypot(r0[b] - r0[a], z0[b] - z0[a]) - hypot(r[b] - r[a], z[b] - z[a]));
        }
    }
    return half[0] / (half[0] + half[1]);
}

/* Share of the crush on the axis in the outer half of the liner. A shell spreads the load of the flat over
 * more of the outer face and leaves that of the head as it is: with one the share is smaller, by more than
 * 0.01. */
Test(axisymmetric, crush_outside_and_inside)
{
    struct foam foam = plain(64.0 / 1050.0, 0.6e6, 100e3, 15e6, 64.0);
    double share[3], thickness[3] = {0.0, 1e-3, 4e-3};
    for (int k = 0; k < 3; k++) {
        struct axisymmetric_setup setup = cap(&foam, SANITIZED ? 16 : 32, 3e-3, SANITIZED ? 2e-3 : 8e-3);
        setup.helmet.speed = 6.0;
        setup.helmet.shell_thickness = thickness[k];
        setup.helmet.shell = (struct shell_sheet){
            .density = 1040.0, .youngs_modulus = 2.2e9, .poisson = 0.37, .yield_stress = 40e6};
        setup.snapshot_interval = 5e-4;
        struct impact_output output;
        solve(&setup, &output);
        size_t deepest = 0;
        for (size_t t = 1; t < output.snapshots.count; t++) {
            double head = snapshots_at(&output.snapshots, SNAPSHOT_head_z, t)[0];
            deepest = head < snapshots_at(&output.snapshots, SNAPSHOT_head_z, deepest)[0] ? t : deepest;
        }
        share[k] = outer_share(&output.snapshots, deepest);
        printf("figure: shell of %.0f mm: crush on the axis %.1f mm, %.1f %% of it in the outer half, %.1f "
               "%% in "
               "the inner\n",
               1e3 * thickness[k], output.metrics[METRIC_crush], 100.0 * share[k], 100.0 * (1.0 - share[k]));
        impact_output_free(&output);
    }
    cr_expect(SANITIZED || (share[0] > share[1] + 0.01 && share[0] > share[2] + 0.01), "%g %g %g", share[0],
              share[1], share[2]);
    foam_free(&foam);
}

/* The bare liner on a kerbstone of columns_test.c (kerbstone_on_a_bare_liner), by zones: a figure, as no
 * source tells what the continuum adds to columns. */
Test(axisymmetric, kerbstone_on_a_bare_liner)
{
    double plateau = 0.45e6 * pow(64.0 / 50.0, 1.5), speeds[] = {5.0, 6.0}, columns[] = {117.4, 152.1};
    struct foam foam = plain(64.0 / 1050.0, plateau, 101325.0, 25.0 * plateau, 1.6);
    for (int i = 0; i < (SANITIZED ? 0 : 2); i++) {
        struct axisymmetric_setup setup = bare_liner(&foam, 64, 0.1257, 0.035);
        setup.helmet.phi_max = 45.0 * pi / 180.0;
        setup.helmet.gravity = 9.80665;
        setup.helmet.head_mass = 4.7;
        setup.helmet.speed = speeds[i];
        setup.helmet.duration = 10e-3;
        setup.helmet.cell = 0.00175;
        cr_assert(anvil_make(&setup.helmet.anvil, ANVIL_KERBSTONE, NULL, 0.1257));
        struct impact_output output;
        solve(&setup, &output);
        printf("figure: kerbstone, bare liner, %.0f m/s: %.1f g by zones, %.1f by columns\n", speeds[i],
               output.metrics[METRIC_peak], columns[i]);
        cr_expect(output.impulse_error < 2e-3, "impulse %g", output.impulse_error);
        impact_output_free(&output);
    }
    foam_free(&foam);
}
