/*
 * A shell that lies loose on foam (solver/impact/loose.h).
 */
#include <criterion/criterion.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/loose.h"
#include "solver/impact/run.h"
#include "tests/support/foams.h"
#include "tests/support/sanitized.h"
#include "tests/verify/shell_static.h"

enum { COUNT = 40 };

/* Two bowls of the same angles, foam inside, 1.5 mm apart. */
struct bowls {
    double foam_r[COUNT], foam_z[COUNT], foam_mass[COUNT], shell_r[COUNT], shell_z[COUNT], shell_mass[COUNT];
    double foam_velocity_r[COUNT], foam_velocity_z[COUNT];
    double force_r[COUNT], force_z[COUNT]; /* on the foam */
    struct loose_model model;
    struct loose_state state;
};

static struct slide_row foam_of(struct bowls *b)
{
    return (struct slide_row){b->foam_r,          b->foam_z,  b->foam_velocity_r,
                              b->foam_velocity_z, b->force_r, b->force_z};
}

static void place(struct bowls *b, double friction)
{
    memset(b, 0, sizeof *b);
    for (size_t i = 0; i < COUNT; i++) {
        double angle = 1.3 * (double)i / (COUNT - 1);
        b->foam_r[i] = 0.13 * sin(angle), b->foam_z[i] = -0.13 * cos(angle);
        b->shell_r[i] = 0.1315 * sin(angle), b->shell_z[i] = -0.1315 * cos(angle);
        b->foam_mass[i] = 1e-3 + 1e-4 * (double)i, b->shell_mass[i] = 1e-2;
    }
    struct loose_row foam = {b->foam_r, b->foam_z, b->foam_mass};
    struct loose_row shell = {b->shell_r, b->shell_z, b->shell_mass};
    cr_assert_eq(loose_model_make(COUNT, foam, shell, 1e-6, 0.6, friction, &b->model), STATUS_OK);
    cr_assert_eq(loose_state_make(&b->model, shell, 0.0, &b->state), STATUS_OK);
}

static void press(struct bowls *b, double dt)
{
    memset(b->force_r, 0, sizeof b->force_r);
    memset(b->force_z, 0, sizeof b->force_z);
    loose_press(&b->model, &b->state, foam_of(b), dt);
}

static void release(struct bowls *b)
{
    loose_state_free(&b->state);
    loose_model_free(&b->model);
}

/* The first shape is free of force; a shell that is larger, or farther down, pulls at nothing. */
Test(loose, no_tension)
{
    struct bowls b;
    place(&b, 0.3);
    press(&b, 0.0);
    for (size_t i = 0; i < COUNT; i++)
        cr_expect(b.force_r[i] == 0.0 && b.force_z[i] == 0.0);
    for (int way = 0; way < 2; way++) {
        for (size_t i = 0; i < COUNT; i++) {
            b.state.r[i] = b.shell_r[i] * (way ? 1.0 : 1.01);
            b.state.z[i] = way ? b.shell_z[i] - 2e-3 : b.shell_z[i] * 1.01;
        }
        press(&b, 1e-6);
        for (size_t i = 0; i < COUNT; i++)
            cr_expect(b.force_r[i] == 0.0 && b.force_z[i] == 0.0 && b.state.force_z[i] == 0.0, "node %zu", i);
    }
    cr_expect(slide_stored(&b.model.contact, &b.state.contact) == 0.0);
    release(&b);
}

/* Displaces the nodes of foam and shell by up to `size`, and the foam along the shell by `turn` [rad]. */
static void shake(struct bowls *b, double size, double turn)
{
    uint64_t seed = 11;
    for (size_t i = 0; i < COUNT; i++) {
        double move[4];
        for (int k = 0; k < 4; k++) {
            seed = seed * 6364136223846793005u + 1442695040888963407u;
            move[k] = size * ((double)(seed >> 11) / 4503599627370496.0 - 1.0);
        }
        double r = b->foam_r[i], z = b->foam_z[i];
        b->foam_r[i] = r * cos(turn) - z * sin(turn) + move[0];
        b->foam_z[i] = z * cos(turn) + r * sin(turn) + move[1];
        b->state.r[i] += move[2];
        b->state.z[i] += move[3];
    }
}

/*
 * Without friction the forces on foam and shell are minus the gradient of the energy in the penalties, also
 * where nodes have slid over the shell, past its nodes; their sum along the axis is 0.
 */
Test(loose, forces_are_the_gradient_and_balance)
{
    struct bowls b;
    place(&b, 0.0);
    shake(&b, 2e-5, 0.11); /* three segments and a bit */
    press(&b, 0.0);
    double scale = 0.0, worst = 0.0, sum = 0.0, step = 1e-9;
    int touching = 0;
    double force[4][COUNT];
    memcpy(force[0], b.force_r, sizeof b.force_r);
    memcpy(force[1], b.force_z, sizeof b.force_z);
    memcpy(force[2], b.state.force_r, sizeof force[2]);
    memcpy(force[3], b.state.force_z, sizeof force[3]);
    for (size_t i = 0; i < COUNT; i++) {
        touching += b.state.contact.push[i] > 0.0;
        scale = fmax(scale, b.state.contact.push[i]);
        sum += force[1][i] + force[3][i];
    }
    double *const places[4] = {b.foam_r, b.foam_z, b.state.r, b.state.z};
    for (int k = 0; k < 4; k++) {
        for (size_t i = 0; i < COUNT; i++) {
            double x = places[k][i], energy[2];
            for (int way = 0; way < 2; way++) {
                places[k][i] = x + (way ? step : -step);
                press(&b, 0.0);
                energy[way] = slide_stored(&b.model.contact, &b.state.contact);
            }
            places[k][i] = x;
            worst = fmax(worst, fabs(force[k][i] + (energy[1] - energy[0]) / (2 * step)));
        }
    }
    printf("figure: loose shell, %d of %d nodes touch: gradient off by %.2g, sum of forces %.2g of the "
           "largest\n",
           touching, COUNT, worst / scale, fabs(sum) / scale);
    cr_expect(touching > 8 && touching < 32);
    cr_expect(worst < 1e-5 * scale);
    cr_expect(fabs(sum) < 1e-12 * scale);
    release(&b);
}

/*
 * Foam pressed out by d and turned past the shell: friction mu times the push, against the way. Once all
 * slips the loss is the work of friction over the way, less what its elastic part mu N/grip gains. The last
 * node has no foam, as it would leave the shell.
 */
Test(loose, friction_is_coulombs)
{
    static const double mu = 0.25, turn = 1e-4, depth = 1e-4;
    struct bowls b;
    place(&b, mu);
    b.model.contact.stiffness[COUNT - 1] = 0.0;
    double work = 0.0, lost = 0.0, dt = 1e-6, held[COUNT] = {0};
    for (int n = 0; n < 200; n++) {
        for (size_t i = 0; i < COUNT; i++) {
            double r = b.foam_r[i], z = b.foam_z[i], out = n ? 1.0 : 1 + depth / 0.13;
            b.foam_r[i] = out * (i ? r * cos(turn) - z * sin(turn) : r);
            b.foam_z[i] = out * (i ? z * cos(turn) + r * sin(turn) : z);
            b.foam_velocity_r[i] = (b.foam_r[i] - r) / dt;
            b.foam_velocity_z[i] = (b.foam_z[i] - z) / dt;
        }
        press(&b, dt);
        double loss = b.state.contact.friction_loss;
        for (size_t i = 1; n == 99 && i + 1 < COUNT; i++) {
            held[i] = b.state.contact.held[i];
            cr_expect(fabs(held[i] / (mu * b.state.contact.push[i]) + 1) < 1e-12, "node %zu sticks", i);
        }
        lost = n == 99 ? loss : lost;
        for (size_t i = 1; n > 99 && i + 1 < COUNT; i++) {
            work += 0.5 * (b.state.contact.held[i] * b.state.contact.held[i] - held[i] * held[i]) /
                    -b.model.contact.grip[i];
            work -= 0.5 * (b.state.contact.held[i] + held[i]) * turn * (0.13 + depth);
            held[i] = b.state.contact.held[i];
        }
    }
    double loss = b.state.contact.friction_loss - lost;
    printf("figure: loose shell slid by %.2g mm: lost %.7f of the work of friction\n",
           1e5 * turn * (0.13 + depth), loss / work);
    cr_expect(loss > 0.0 && fabs(loss / work - 1) < 2e-3);
    release(&b);
}

/*
 * A strip on a foundation without tension. Half of it, from the load in its middle (there slope 0): with w
 * the way into the foundation, k w the pressure, D w'''' + k w = 0 where it touches, lambda^4 = k/4D, D w'''
 * = P/2 under the load P. What has lifted off bears nothing, so at the border c of the contact moment, shear
 * and w are 0. In F1 = cosh cos, F2 = sinh sin, F3 = cosh sin, F4 = sinh cos of lambda x, w = A F1 + B F2 + C
 * (F3 - F4) has slope 0 and C = P lambda/2k; at lambda c = pi/2 the rest is A = -B = C coth(pi/2):
 *
 *   moment -A F2 + B F1 + C (F3 + F4) = -A sinh + C cosh = 0, shear -A (F3 + F4) + B (F4 - F3) + 2 C F1 = -(A
 * + B) cosh = 0, w = B sinh + C cosh = 0.
 *
 * So it touches over pi/2 lambda on each side and sinks by P lambda/2k coth(pi/2): 9.0 % more than P
 * lambda/2k of the endless strip that is bonded. The strip is a ring of 10 km radius; the penalties are the
 * foundation.
 */
Test(loose, a_strip_lifts_off_its_foundation)
{
    enum { SEGMENTS = 50 };
    static const double thickness = 3e-3, reach = 20e-3, radius = 1e4, pi = 3.14159265358979323846;
    struct body *strip = body_new(SEGMENTS, body_abs, thickness);
    double foam_z[SEGMENTS + 1], mass[SEGMENTS + 1], still[SEGMENTS + 1] = {0}, f_r[SEGMENTS + 1] = {0},
                                                                      f_z[SEGMENTS + 1] = {0};
    for (size_t i = 0; i < strip->count; i++) {
        strip->first_r[i] = radius + 1e-3 * (double)i;
        foam_z[i] = 1.5e-3;
    }
    strip->setup.start = SHELL_CLAMPED; /* the slope is held, its place is free along the axis */
    strip->setup.end = SHELL_FREE;
    body_make(strip);
    for (size_t i = 0; i < strip->count; i++)
        mass[i] = strip->model.mass[i];
    struct loose_row rest = {strip->first_r, foam_z, mass};
    struct loose_row shell = {strip->first_r, strip->first_z, mass};
    struct slide_row foam = {strip->first_r, foam_z, still, still, f_r, f_z};
    struct loose_model model;
    struct loose_state state;
    cr_assert_eq(loose_model_make(strip->count, rest, shell, 1e-7, 0.0, 0.0, &model), STATUS_OK);
    cr_assert_eq(loose_state_make(&model, shell, 0.0, &state), STATUS_OK);
    double nu = body_abs.poisson, rigidity = body_abs.youngs_modulus * pow(thickness, 3) / 12 / (1 - nu * nu);
    double lambda = 1 / reach, k = 4 * rigidity * pow(lambda, 4), load = 2e-4 * k / lambda; /* a width */
    double ring = 2 * pi * radius, step = 0.7 * shell_stable_step(&strip->model, &strip->state);
    double slow = sqrt(k / (body_abs.density * thickness));
    for (size_t i = 0; i < strip->count; i++)
        model.contact.stiffness[i] = k * ring * 1e-3 * (i == 0 || i + 1 == strip->count ? 0.5 : 1.0);
    for (long n = 0; (double)n * step * slow < 120.0; n++) {
        loose_press(&model, &state, foam, step);
        state.force_z[0] += 0.5 * load * ring;
        shell_forces(&strip->model, &strip->state, state.r, state.z, state.force_r, state.force_z);
        for (size_t i = 0; i < strip->count; i++) {
            state.force_r[i] = 0.0;
            state.force_z[i] -= slow * mass[i] * state.velocity_z[i];
        }
        loose_move(&model, &state, 0.0, step, step);
    }
    double sunk = state.contact.depth[0], expected = load * lambda / (2 * k) / tanh(pi / 2), border = 0.0;
    for (size_t i = 0; i + 1 < strip->count; i++) {
        double here = state.contact.depth[i], next = state.contact.depth[i + 1];
        if (here > 0.0 && next <= 0.0)
            border = 1e-3 * ((double)i + here / (here - next));
    }
    printf(
        "figure: strip on a foundation without tension: sinks %.5f of the closed form, touches %.5f of it\n",
        sunk / expected, border / (pi / 2 * reach));
    cr_expect(fabs(sunk / expected - 1) < 5e-3);
    cr_expect(fabs(border / (pi / 2 * reach) - 1) < 5e-3);
    loose_state_free(&state);
    loose_model_free(&model);
    body_free(strip);
}

/* A helmet of one foam under a stiff elastic shell, on a flat. */
static struct axisymmetric_setup helmet(const struct foam *foam, const double *all)
{
    struct axisymmetric_setup setup = axisymmetric_setup_default();
    setup.helmet.rings = 24;
    setup.helmet.cell = 3e-3;
    setup.helmet.outer_radius = 0.13;
    setup.helmet.shell_thickness = 2e-3;
    setup.helmet.shell = (struct shell_sheet){
        .density = 1800.0, .youngs_modulus = 23e9, .poisson = 0.13, .yield_stress = INFINITY};
    setup.helmet.bond_friction = 0.3;
    setup.helmet.region_count = 1;
    setup.helmet.regions[0] = (struct columns_region){
        .name = "all", .share = all, .layer_count = 1, .layers = {{0.03, 1, {{foam, 1.0}}}}};
    setup.zone_share[0] = all;
    setup.helmet.head_mass = 4.7;
    setup.helmet.speed = 4.5;
    setup.helmet.duration = SANITIZED ? 4e-3 : 15e-3;
    struct anvil_sizes wide = {{10.0, NAN, NAN, NAN, NAN}};
    cr_assert(anvil_make(&setup.helmet.anvil, ANVIL_FLAT, &wide, 0.132));
    return setup;
}

/* Both models: momentum against the impulses of anvil and gravity, and the ledger, with loose shells too. */
Test(loose, a_helmet_keeps_momentum_and_energy)
{
    static double all[64];
    for (size_t i = 0; i < 64; i++)
        all[i] = 1.0;
    struct foam_parameters parameters = foams_polystyrene(50.0);
    struct foam foam = foams_make(&parameters);
    for (int zones = 0; zones < 2; zones++) {
        for (int loose = 0; loose < 2; loose++) {
            struct axisymmetric_setup setup = helmet(&foam, all);
            struct impact_output output;
            char message[HISTORY_MESSAGE] = "";
            setup.helmet.loose = loose;
            enum status status = zones ? run_axisymmetric(&setup, &output, NULL, NULL, message)
                                       : run_columns(&setup.helmet, &output, NULL, NULL, message);
            cr_assert_eq(status, STATUS_OK, "%s", message);
            printf("figure: %s, %s: %.1f g, ledger open by %.2g, impulse by %.2g\n",
                   zones ? "zones" : "columns", loose ? "loose" : "bonded", output.metrics[METRIC_peak],
                   output.balance_error, output.impulse_error);
            cr_expect(output.balance_error < (zones ? 1e-3 : 1e-4));
            cr_expect(!zones || output.impulse_error < 1e-9);
            impact_output_free(&output);
        }
    }
    foam_free(&foam);
}

/*
 * A heavy shell bounces off the anvil under a light elastic foam by columns, the head far off. Foam of length
 * L, density rho, modulus E comes down at v on a shell that now goes up at v: a wave of c = sqrt(E/rho) with
 * strain 2 v/c runs to its free face and back, shortens it by 2 v L/c at the time L/c, and leaves it free of
 * stress when it parts from the loose shell at 2 L/c. Bonded, it is stretched by as much afterwards. The
 * shell weighs 100 times the foam and takes a few us to turn: 2 % are allowed for that.
 */
Test(loose, foam_parts_from_a_shell_that_bounces)
{
    static double all[8] = {1, 1, 1, 1, 1, 1, 1, 1};
    static const double young = 8e6, density = 64.0, length = 0.03, speed = 1.0;
    double wave = length / sqrt(young / density), short_of = 5e-6 / wave; /* records stand 10 us apart */
    struct foam_parameters parameters = foams_plain(density, 3e6, 0.0, young);
    struct foam foam = foams_make(&parameters);
    for (int loose = 0; loose < 2; loose++) {
        struct columns_setup setup = columns_setup_default();
        setup.rings = 4;
        setup.phi_max = 1e-3;
        setup.parallel = 1;
        setup.outer_radius = 0.13;
        setup.shell_thickness = 2e-3;
        setup.shell = (struct shell_sheet){
            .density = 1e5, .youngs_modulus = 1e3, .poisson = 0.0, .yield_stress = INFINITY};
        setup.loose = loose;
        setup.region_count = 1;
        setup.regions[0] = (struct columns_region){.name = "all",
                                                   .share = all,
                                                   .layer_count = 1,
                                                   .layers = {{length, 1, {{&foam, 1.0}}}},
                                                   .gap = 0.05};
        setup.head_mass = 1.0;
        setup.head_radius = 0.05;
        setup.speed = speed;
        setup.gravity = 0.0;
        setup.cell = 0.25e-3;
        setup.duration = 0.6e-3;
        setup.contact_damping = 0.0;
        setup.viscosity_linear = 0.01;
        struct anvil_sizes wide = {{10.0, NAN, NAN, NAN, NAN}};
        cr_assert(anvil_make(&setup.anvil, ANVIL_FLAT, &wide, 0.132));
        struct impact_output output;
        char message[HISTORY_MESSAGE] = "";
        cr_assert_eq(run_columns(&setup, &output, NULL, NULL, message), STATUS_OK, "%s", message);
        double most = 0.0, least = 0.0, whole = 2 * speed * wave;
        for (size_t i = 0; i < output.count; i++) {
            most = fmax(most, output.channel[PULSE_crush][i]);
            least = fmin(least, output.channel[PULSE_crush][i]);
        }
        printf("figure: foam on a shell that bounces, %s: shortened by %.3f of 2 v L/c, stretched by %.3f\n",
               loose ? "loose" : "bonded", most / whole, -least / whole);
        cr_expect(most <= whole && most > (1 - short_of - 0.02) * whole);
        cr_expect(loose ? -least < 0.1 * whole : -least > 0.9 * whole);
        cr_expect(output.balance_error < 1e-4, "ledger %g", output.balance_error);
        impact_output_free(&output);
    }
    foam_free(&foam);
}
