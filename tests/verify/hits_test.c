#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/run.h"
#include "tests/support/body.h"
#include "tests/support/foams.h"
#include "tests/support/sanitized.h"

/*
 * Hits that share a pad or a helmet: closed forms of foam that keeps its permanent strain, and what must hold
 * whatever the helmet. Each test prints the figure it checks.
 */

static const double g0 = 9.80665, pi = 3.14159265358979323846, atmosphere = 101325.0;

enum { RINGS = 24, HITS = 3 };
static double all_of_it[RINGS];

/* --- closed form --- */

/*
 * A mass m at speed v on area A and thickness d of light foam between flats: skeleton with the sharp virgin
 * curve S(e) = min(E e, Y + H e), unloading on E_u = E/(1 + a kappa), gas p(e) = p0 e/(1 - e - R); no rate,
 * no gravity. A hit starts at the strain e0 and plastic strain k0 with the skeleton at -p(e0), which makes
 * the total stress zero. The skeleton reaches y = (Y + H k0)/(1 - H/E), where S leaves the plastic strain k0,
 * at ey = e0 + (y + p(e0))/E_u and goes on along S, at y + H (e - ey). By energy, with G the work of the gas,
 *     m v^2/(2 A d) = (y^2 - p(e0)^2)/2E_u + y x + H x^2/2 + G(e1) - G(e0),  x = e1 - ey,
 * gives the largest strain e1. Then k1 = k0 + y/E + x - (y + H x)/E, and the foam unloads from (e1, y + H x)
 * on its new E_u to where the total stress is zero. Of that strain and of k1 the share `recovered` comes back
 * before the next hit.
 */
struct cushion {
    double mass, area, thickness, plateau, hardening, young, softening, gas, relative, recovered;
};

struct resting {
    double strain, plastic;
};

struct answer {
    double start, strain; /* first and largest strain */
    double force;         /* largest [N] */
    double back;          /* speed after over speed before */
};

static double pressure(const struct cushion *c, double e)
{
    return c->gas * e / (1.0 - c->relative - e);
}

static double gas_work(const struct cushion *c, double e)
{
    double room = 1.0 - c->relative;
    return c->gas * (room * log(room / (room - e)) - e);
}

static double unloading(const struct cushion *c, double plastic)
{
    return c->young / (1.0 + c->softening * plastic);
}

/* Energy per volume taken up from the start of a hit to a strain e beyond ey. */
static double taken_up(const struct cushion *c, const struct resting *foam, double y, double yields, double e)
{
    double p = pressure(c, foam->strain), x = e - yields;
    return 0.5 * (y * y - p * p) / unloading(c, foam->plastic) + y * x + 0.5 * c->hardening * x * x +
           gas_work(c, e) - gas_work(c, foam->strain);
}

static struct answer hit_cushion(const struct cushion *c, double speed, struct resting *foam)
{
    double e0 = foam->strain, p = pressure(c, e0), energy = 0.5 * c->mass * speed * speed;
    double y = (c->plateau + c->hardening * foam->plastic) / (1.0 - c->hardening / c->young);
    double yields = e0 + (y + p) / unloading(c, foam->plastic);
    double low = yields, high = 1.0 - c->relative - 1e-9;
    energy /= c->area * c->thickness;
    for (int i = 0; i < 100; i++) {
        double e = 0.5 * (low + high);
        *(taken_up(c, foam, y, yields, e) > energy ? &high : &low) = e;
    }
    double most = low, top = y + c->hardening * (most - yields);
    double plastic = foam->plastic + y / c->young + most - yields - top / c->young,
           back = unloading(c, plastic);
    low = 0.0, high = most;
    for (int i = 0; i < 100; i++) {
        double e = 0.5 * (low + high);
        *(top - back * (most - e) + pressure(c, e) > 0.0 ? &high : &low) = e;
    }
    double way = most - low;
    double returned = top * way - 0.5 * back * way * way + gas_work(c, most) - gas_work(c, low);
    *foam = (struct resting){low * (1.0 - c->recovered), plastic * (1.0 - c->recovered)};
    return (struct answer){e0, most, (top + pressure(c, most)) * c->area, sqrt(returned / energy)};
}

static struct foam cushion_foam(const struct cushion *c)
{
    struct foam_parameters parameters = foams_plain(c->relative * 1050.0, c->plateau, c->gas, c->young);
    parameters.unloading_softening = c->softening;
    parameters.hardening = c->hardening;
    struct foam foam = foams_make(&parameters);
    foam.density = 2.0;
    return foam;
}

static void compare(const struct cushion *c, const double *speed, const struct impact_output *outputs)
{
    struct resting foam = {0};
    for (int hit = 0; hit < HITS; hit++) {
        struct answer answer = hit_cushion(c, speed[hit], &foam);
        const struct impact_output *output = &outputs[hit];
        double start = output->metrics[METRIC_crush_before] / 1e3 / c->thickness;
        printf("figure: hit %d, ledger %.1e\n", hit + 1, output->balance_error);
        if (hit > 0)
            near("hits: strain that the hit meets", start, answer.start, 0.005);
        double travel = 0.0; /* the head touches at once: nothing but crush is its way */
        for (size_t k = 0; k < output->count; k++)
            travel = fmax(travel, output->channel[PULSE_travel][k]);
        near("hits: way of the head, mm", travel * 1e3, (answer.strain - answer.start) * c->thickness * 1e3,
             0.01);
        near("hits: largest strain", output->metrics[METRIC_crush_fraction], answer.strain, 0.005);
        near("hits: largest force, N", output->metrics[METRIC_peak] * g0 * c->mass, answer.force, 0.005);
        near("hits: restitution", output->metrics[METRIC_restitution], answer.back, 0.01);
        cr_expect(output->balance_error < (SANITIZED ? 1e-3 : 1e-4), "ledger %g", output->balance_error);
    }
}

static const double shares[] = {0.0, 0.3};

/* A disc of 60 cm2 about the axis of a sphere so large that it is flat within 0.02 mm. */
static struct columns_setup disc(const struct cushion *c, const struct foam *foam)
{
    struct columns_setup setup = columns_setup_default();
    for (size_t i = 0; i < RINGS; i++)
        all_of_it[i] = 1.0;
    setup.rings = SANITIZED ? 6 : 12;
    setup.gravity = 0.0;
    setup.cell =
        SANITIZED ? 4e-3 : 0.4e-3; /* fine, so that the penalties of foam on anvil and head are stiff */
    setup.outer_radius = 50.0;
    setup.phi_max = sqrt(c->area / pi) / setup.outer_radius;
    setup.head_radius = setup.outer_radius - c->thickness;
    setup.head_mass = c->mass;
    setup.head_friction = 0.0;
    setup.recovered = c->recovered;
    setup.region_count = 1;
    setup.regions[0] = (struct columns_region){
        .name = "all", .share = all_of_it, .layer_count = 1, .layers = {{c->thickness, 1, {{foam, 1.0}}}}};
    struct anvil_sizes wide = {{10.0, NAN, NAN, NAN, NAN}};
    cr_assert(anvil_make(&setup.anvil, ANVIL_FLAT, &wide, setup.outer_radius));
    return setup;
}

static void free_all(struct impact_output *outputs)
{
    for (int hit = 0; hit < HITS; hit++)
        impact_output_free(&outputs[hit]);
}

Test(hits, a_pad_keeps_its_permanent_strain)
{
    static const double speed[HITS] = {5.0, 5.0, 4.0};
    struct cushion c = {5.0, 0.006, 0.04, 0.6e6, 0.1e6, 25e6, 3.0, atmosphere, 60.0 / 1050.0, 0.0};
    struct foam foam = cushion_foam(&c);
    for (size_t i = 0; i < 2; i++) {
        struct pad_setup setup = pad_setup_default();
        struct impact_output outputs[HITS];
        char message[HISTORY_MESSAGE] = "";
        c.recovered = setup.recovered = shares[i];
        setup.area = c.area;
        setup.striker_mass = c.mass;
        setup.gravity = 0.0;
        setup.layer_count = 1;
        setup.layers[0] = (struct liner_layer){c.thickness, 1, {{&foam, 1.0}}};
        cr_assert_eq(run_pad(&setup, speed, HITS, outputs, NULL, message), STATUS_OK, "%s", message);
        compare(&c, speed, outputs);
        free_all(outputs);
    }
    foam_free(&foam);
}

/* Bare, and under a light sheet from which the crushed foam hangs: there the head has to come down to it. */
Test(hits, columns_keep_their_permanent_strain)
{
    static const double speed[HITS] = {5.0, 5.0, 4.0};
    struct cushion c = {5.0, 0.006, 0.04, 0.6e6, 0.1e6, 25e6, 3.0, atmosphere, 60.0 / 1050.0, 0.0};
    struct foam foam = cushion_foam(&c);
    for (size_t i = 0; i < 3; i++) {
        c.recovered = shares[i % 2];
        struct columns_setup setup = disc(&c, &foam);
        struct impact_output outputs[HITS];
        char message[HISTORY_MESSAGE] = "";
        setup.parallel = 1;
        setup.rings = 3;
        setup.shell_thickness = i == 2 ? 0.5e-3 : 0.0;
        setup.shell = (struct shell_sheet){
            .density = 1000.0, .youngs_modulus = 1e9, .poisson = 0.3, .yield_stress = INFINITY};
        cr_assert_eq(run_columns_hits(&setup, speed, HITS, outputs, NULL, message), STATUS_OK, "%s", message);
        if (!SANITIZED) /* coarse there, which watches memory and not figures */
            compare(&c, speed, outputs);
        free_all(outputs);
    }
    foam_free(&foam);
}

/* --- zones --- */

/* A cylinder of zones, confined at its side. */
static void cylinder(void *context, size_t i, size_t j, double *r, double *z)
{
    (void)context;
    *r = 10e-3 * (double)i;
    *z = 4e-3 * (double)j;
}

/* Moves all nodes along the axis until the cylinder is crushed to `to`, uniformly. */
static void crush_to(struct body *body, double *now, double to)
{
    enum { STEPS = 4000 };
    double from = *now, dt = 1e-6;
    for (int step = 1; step <= STEPS; step++) {
        double next = from + (to - from) * (double)step / STEPS;
        for (size_t n = 0; n < body_nodes(body); n++) {
            body->state.velocity_r[n] = 0.0;
            body->state.velocity_z[n] = -body->model.first_z[n] * (next - *now) / dt;
            body->state.z[n] = body->model.first_z[n] * (1.0 - next);
        }
        zones_update(&body->model, &body->state, dt);
        *now = next;
    }
}

static double stress_now(const struct body *body)
{
    return body->state.stress[FOAM_NORMAL][body_node(body, 1, 3)];
}

/* Largest stress in any zone and direction. */
static double largest_stress(const struct body *body)
{
    double most = 0.0;
    for (size_t k = 0; k < body->model.count; k++) {
        for (int c = 0; c < FOAM_COMPONENTS; c++)
            most = fmax(most, fabs(body->state.stress[c][k]));
    }
    return most;
}

/*
 * Zones crushed along the axis to e1, pulled back until cracks are open, at rest, crushed again: the stress
 * at any strain is that of the closed form above, with the gas, which the confined side bears as well.
 */
Test(hits, zones_keep_their_permanent_strain)
{
    struct cushion c = {5.0, 0.006, 0.04, 0.6e6, 0.2e6, 25e6, 3.0, atmosphere, 60.0 / 1050.0, 0.0};
    struct foam foam = cushion_foam(&c);
    for (size_t i = 0; i < 3; i++) {
        struct body_setup setup = {4, 10, cylinder, NULL, &foam, 0.0, 0.0, 0.1, 1.0};
        struct body body = body_make(&setup);
        double now = 0.0, first = 0.6, strain[512], share = (const double[]){0.0, 0.3, 1.0}[i];
        double y = c.plateau / (1.0 - c.hardening / c.young), top = c.plateau + c.hardening * first;
        double plastic = first - top / c.young, back = unloading(&c, plastic), low = 0.0, high = first;
        (void)y;
        for (int k = 0; k < 100; k++) {
            double e = 0.5 * (low + high);
            *(top - back * (first - e) + pressure(&c, e) > 0.0 ? &high : &low) = e;
        }
        crush_to(&body, &now, first);
        near("zones: stress at the first crush, Pa", stress_now(&body), top + pressure(&c, first), 1e-4);
        crush_to(&body, &now, 0.3);
        cr_assert_leq(body.model.count, sizeof strain / sizeof *strain);
        zones_settle(&body.model, &body.state, share, strain);
        double rest = low * (1.0 - share);
        plastic *= 1.0 - share;
        printf("figure: zones: permanent strain %.8f, expected %.8f\n", strain[body_node(&body, 1, 3)], rest);
        cr_expect_float_eq(strain[body_node(&body, 1, 3)], rest, 1e-5);
        for (size_t n = 0; n < body_nodes(&body); n++)
            body.state.z[n] = body.model.first_z[n] * (1.0 - rest);
        zones_rest(&body.model, &body.state);
        zones_update(&body.model, &body.state, 1e-9);
        cr_expect_leq(largest_stress(&body), 1e-9 * c.plateau);
        now = rest;
        double p = pressure(&c, rest), slope = unloading(&c, plastic);
        double yield = (c.plateau + c.hardening * plastic) / (1.0 - c.hardening / c.young);
        double yields = rest + (yield + p) / slope;
        double middle = 0.5 * (rest + yields);
        crush_to(&body, &now, middle);
        near("zones: stress on the way back, Pa", stress_now(&body),
             slope * (middle - rest) - p + pressure(&c, middle), 1e-4);
        crush_to(&body, &now, 0.75);
        near("zones: stress past it, Pa", stress_now(&body),
             yield + c.hardening * (0.75 - yields) + pressure(&c, 0.75), 1e-4);
        body_free(&body);
    }
    foam_free(&foam);
}

/* --- helmets --- */

/* A cap of foam under a shell, with padding on the head. */
static struct axisymmetric_setup helmet(const struct foam *foam, double yield)
{
    struct axisymmetric_setup setup = axisymmetric_setup_default();
    for (size_t i = 0; i < RINGS; i++)
        all_of_it[i] = 1.0;
    setup.helmet.rings = RINGS;
    setup.helmet.cell = 3.5e-3;
    setup.helmet.outer_radius = 0.13;
    setup.helmet.shell_thickness = 3e-3;
    setup.helmet.shell = (struct shell_sheet){
        .density = 1040.0, .youngs_modulus = 2.39e9, .poisson = 0.37, .yield_stress = yield};
    setup.helmet.head_mass = 4.7;
    setup.helmet.region_count = 1;
    setup.helmet.regions[0] = (struct columns_region){.name = "all",
                                                      .share = all_of_it,
                                                      .layer_count = 1,
                                                      .layers = {{0.03, 1, {{foam, 1.0}}}},
                                                      .comfort_thickness = 6e-3,
                                                      .gap = 1e-3,
                                                      .comfort_stress = 18e3,
                                                      .comfort_density = 50.0};
    setup.zone_share[0] = all_of_it;
    cr_assert(anvil_make(&setup.helmet.anvil, ANVIL_FLAT, NULL, 0.133));
    return setup;
}

static void solve(const struct axisymmetric_setup *setup, int zones, const double *speed, size_t count,
                  struct impact_output *outputs)
{
    char message[HISTORY_MESSAGE] = "";
    enum status status = zones ? run_axisymmetric_hits(setup, speed, count, outputs, NULL, message)
                               : run_columns_hits(&setup->helmet, speed, count, outputs, NULL, message);
    cr_assert_eq(status, STATUS_OK, "%s", message);
}

static const double ledger_limit[] = {3e-4, 1e-3}; /* columns, zones */

/* Foam and shell that stay elastic: a helmet hit before is a new one, whatever comes back. By zones rounding
 * grows by eight powers of ten (tests/verify/demo_test.c). */
Test(hits, without_crush_every_hit_is_the_first)
{
    struct foam_parameters hard = foams_plain(60.0, 8e6, 0.0, 20e6);
    struct foam foam = foams_make(&hard);
    static const double speed[] = {3.0, 3.0};
    for (int zones = 0; zones < (SANITIZED ? 1 : 2); zones++) {
        struct axisymmetric_setup setup = helmet(&foam, INFINITY);
        struct impact_output one[2], other[2];
        solve(&setup, zones, speed, 2, one);
        setup.helmet.recovered = 1.0;
        solve(&setup, zones, speed, 2, other);
        for (int hit = 0; hit < 2; hit++) {
            const struct impact_output *output = hit ? &other[1] : &one[1];
            printf("figure: differs by %.1e\n",
                   output->metrics[METRIC_peak] / one[0].metrics[METRIC_peak] - 1.0);
            near("hits: peak of a second hit without crush", output->metrics[METRIC_peak],
                 one[0].metrics[METRIC_peak], zones ? 1e-5 : 1e-9);
            near("hits: HIC of a second hit without crush", output->metrics[METRIC_hic],
                 one[0].metrics[METRIC_hic], zones ? 1e-4 : 1e-9);
        }
        for (int hit = 0; hit < 2; hit++) {
            impact_output_free(&one[hit]);
            impact_output_free(&other[hit]);
        }
    }
    foam_free(&foam);
}

/* Foam that comes back whole under a shell that stays elastic is new, however it was crushed. */
Test(hits, all_recovered_is_new)
{
    struct foam_parameters eps = foams_polystyrene(45);
    struct foam foam = foams_make(&eps);
    static const double speed[] = {5.5, 5.5};
    for (int zones = 0; zones < (SANITIZED ? 1 : 2); zones++) {
        struct axisymmetric_setup setup = helmet(&foam, INFINITY);
        struct impact_output outputs[2];
        setup.helmet.recovered = 1.0;
        solve(&setup, zones, speed, 2, outputs);
        near("hits: peak, all recovered", outputs[1].metrics[METRIC_peak], outputs[0].metrics[METRIC_peak],
             zones ? 1e-5 : 1e-9);
        impact_output_free(&outputs[0]);
        impact_output_free(&outputs[1]);
    }
    foam_free(&foam);
}

/* What the slow hit in the middle must not set free, and what the others keep. */
static void check_rest(const struct impact_output *outputs, int zones)
{
    const struct impact_output *slow = &outputs[1];
    double most = 0.0, before = outputs[0].channel[PULSE_crush][outputs[0].count - 1];
    for (size_t i = 0; i < slow->count; i++)
        most = fmax(most, fabs(slow->channel[PULSE_velocity][i]));
    printf("figure: at rest: head at %.4g m/s at most of 1e-3, rebound %.3g of %.3g J, peak %.3g g; crush "
           "%.2f mm "
           "at the end of the hit, %.2f mm at rest, shell lost %.2f J\n",
           most, slow->energy[ENERGY_rebound], slow->energy[ENERGY_initial], slow->metrics[METRIC_peak],
           before * 1e3, slow->metrics[METRIC_crush_before], outputs[0].energy[ENERGY_shell]);
    cr_expect_leq(most, 1.01e-3);
    cr_expect_leq(slow->energy[ENERGY_rebound], 1.5 * slow->energy[ENERGY_initial]);
    cr_expect_leq(slow->metrics[METRIC_peak], 1.0);
    cr_expect(outputs[0].energy[ENERGY_shell] > 1.0, "the shell is to yield");
    for (int hit = 0; hit < 3; hit += 2) {
        printf("figure: hit %d of model %d: peak %.1f g, ledger %.1e, impulse %.1e\n", hit + 1, zones,
               outputs[hit].metrics[METRIC_peak], outputs[hit].balance_error, outputs[hit].impulse_error);
        cr_expect(SANITIZED || outputs[hit].balance_error <= ledger_limit[zones], "ledger %g",
                  outputs[hit].balance_error);
        cr_expect(outputs[hit].impulse_error <= 2e-3, "impulse %g", outputs[hit].impulse_error);
    }
    cr_expect(outputs[2].metrics[METRIC_peak] > outputs[0].metrics[METRIC_peak]);
    cr_expect(outputs[2].metrics[METRIC_crush] > outputs[0].metrics[METRIC_crush]);
}

/*
 * A helmet that has been crushed and dented lies at rest: with hardly any speed and no gravity the next hit
 * does nothing, no energy comes out of what is locked in. Then it keeps energy and momentum in hits that
 * crush it further, each from where the one before left it, and by both models the next is harder than the
 * first. The same with a loose shell and two layers that slip.
 */
Test(hits, a_dented_helmet_rests_and_keeps_its_balances)
{
    struct foam_parameters eps = foams_polystyrene(45);
    struct foam foam = foams_make(&eps);
    static const double speed[] = {5.5, 1e-3, 5.5};
    for (int run = 0; run < (SANITIZED ? 1 : 4); run++) {
        struct axisymmetric_setup setup = helmet(&foam, 37.9e6);
        struct impact_output outputs[3];
        setup.helmet.gravity = 0.0;
        if (run >= 2) {
            setup.helmet.loose = setup.layers_slip = 1;
            setup.helmet.bond_friction = setup.slip_friction = 0.3;
            setup.helmet.regions[0].layer_count = 2;
            setup.helmet.regions[0].layers[0].thickness = setup.helmet.regions[0].layers[1].thickness = 0.015;
            setup.helmet.regions[0].layers[1] = setup.helmet.regions[0].layers[0];
        }
        solve(&setup, run % 2, speed, 3, outputs);
        check_rest(outputs, run % 2);
        for (int hit = 0; hit < 3; hit++)
            impact_output_free(&outputs[hit]);
    }
    foam_free(&foam);
}
