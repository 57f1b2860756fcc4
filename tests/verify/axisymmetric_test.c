#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/run.h"
#include "tests/support/foams.h"

/*
 * The helmet as a body of revolution against closed forms and exact solutions of simpler models. Each test
 * prints the figure it checks.
 */

static const double pi = 3.14159265358979323846;

#if defined(__SANITIZE_ADDRESS__)
enum { SANITIZED = 1 };
#else
enum { SANITIZED = 0 };
#endif

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
    cr_assert(anvil_make(&setup.helmet.anvil, ANVIL_FLAT, 10.0, NAN));
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
