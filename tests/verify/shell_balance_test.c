/*
 * What must hold for any shape: forces are minus the gradient of the stored energy, momentum and energy are
 * kept, rigid motion costs nothing, three instruction sets give the same bits, the time step's bound is one.
 */
#include <stdint.h>

#include "solver/base/isa.h"
#include "solver/base/memory.h"
#include "tests/verify/shell_static.h"

/* splitmix64, Steele, Lea and Flood 2014; -1 .. 1 */
static double noise(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-52 - 1.0;
}

enum { SHAPES = 5 };

/* A cap with openings and a free edge, a complete sphere, a clamped plate with uneven thickness, a cone
 * between two edges, a cap with a clamped edge whose openings cut the hoops. */
static struct body *body_of(int which)
{
    static double bare[BODY_NODES], hoop[BODY_NODES], thick[BODY_NODES];
    for (size_t i = 0; i < BODY_NODES; i++) {
        bare[i] = i > 8 ? 0.02 * (double)(i % 20) : 0.0;
        hoop[i] = which == 4 && i > 8 ? 0.0 : 0.8 * (1 - bare[i]);
        thick[i] = 1.0 + 0.02 * (double)(i % 7);
    }
    struct body *body = body_new(30, body_abs, 3e-3);
    enum shell_end starts[] = {SHELL_POLE, SHELL_POLE, SHELL_POLE, SHELL_CLAMPED, SHELL_POLE};
    enum shell_end ends[] = {SHELL_FREE, SHELL_POLE, SHELL_CLAMPED, SHELL_FREE, SHELL_CLAMPED};
    double reach[] = {1.4, acos(-1.0), 0.0, 0.0, 1.2};
    for (size_t i = 0; i < body->count; i++) {
        double share = (double)i / (double)(body->count - 1), phi = reach[which] * share;
        body->first_r[i] = reach[which] > 0.0 ? 0.13 * sin(phi) : 0.1 * share;
        body->first_z[i] = reach[which] > 0.0 ? 0.13 * cos(phi) : 0.0;
        if (which == 3) {
            body->first_r[i] = 0.03 + 0.05 * share;
            body->first_z[i] = -0.1 * share * share;
        }
    }
    if (which == 1)
        body->first_r[body->count - 1] = 0.0;
    body->setup.start = starts[which];
    body->setup.end = ends[which];
    if (which == 0 || which == 4) {
        body->setup.bare = bare;
        body->setup.hoop = hoop;
    }
    if (which == 2)
        body->setup.thickness_share = thick;
    body_make(body);
    return body;
}

/* Displaces all nodes at random, poles along the axis only. */
static void shake(struct body *body, double size, uint64_t seed)
{
    for (size_t i = 0; i < body->count; i++) {
        double move_r = size * noise(&seed), move_z = size * noise(&seed);
        body->r[i] += body->model.inverse_node_radius[i] > 0.0 ? move_r : 0.0;
        body->z[i] += move_z;
    }
}

static double stored_at(struct body *body)
{
    body_forces(body);
    return shell_stored(&body->model, &body->state);
}

static double largest_force(struct body *body)
{
    double largest = 0.0;
    body_forces(body);
    for (size_t a = 0; a < 2 * body->count; a++)
        largest = fabs(body_force(body, a)) > largest ? fabs(body_force(body, a)) : largest;
    return largest;
}

Test(shell_balance, forces_are_minus_the_gradient_of_the_energy)
{
    for (int which = 0; which < SHAPES; which++) {
        struct body *body = body_of(which);
        cr_assert_eq(largest_force(body), 0.0, "the first shape is free of force");
        shake(body, 8e-4, 7 + (uint64_t)which);
        double scale = largest_force(body), worst = 0.0, step = 1e-6;
        cr_assert_gt(scale, 1.0);
        for (size_t a = 0; a < 2 * body->count; a++) {
            if (a % 2 == 0 && body->model.inverse_node_radius[a / 2] == 0.0)
                continue;
            double *x = body_unknown(body, a), x0 = *x;
            *x = x0 + step;
            double up = stored_at(body);
            *x = x0 - step;
            double down = stored_at(body);
            *x = x0;
            body_forces(body);
            double error = fabs(body_force(body, a) + (up - down) / (2 * step)) / scale;
            worst = error > worst ? error : worst;
        }
        printf("figure: gradient, shape %d: worst difference %.2g of %.3g N\n", which, worst, scale);
        cr_assert_lt(worst, 1e-6);
        body_free(body);
    }
}

Test(shell_balance, momentum_along_the_axis_is_kept)
{
    for (int which = 0; which < SHAPES; which++) {
        struct body *body = body_of(which);
        shake(body, 8e-4, 17);
        double scale = largest_force(body), sum = 0.0;
        for (size_t i = 0; i < body->count; i++)
            sum += body->force_z[i];
        cr_assert_lt(fabs(sum), 1e-12 * scale, "%g of %g N", sum, scale);
        body_free(body);
    }
}

Test(shell_balance, a_shift_along_the_axis_costs_nothing)
{
    for (int which = 0; which < SHAPES; which++) {
        struct body *body = body_of(which);
        for (size_t i = 0; i < body->count; i++)
            body->z[i] += 0.25;
        double stiffness = body->model.membrane_s[1] * body->model.inverse_length[1];
        cr_assert_lt(largest_force(body), 1e-12 * stiffness);
        body_free(body);
    }
}

/* On a circle of 10 km a strip turns about its edge by 70 deg with hoop strains of 6e-6; without lateral
 * contraction they do not reach the meridian. */
Test(shell_balance, a_rotation_costs_nothing)
{
    struct shell_sheet sheet = body_abs;
    sheet.poisson = 0.0;
    struct body *strip = body_new(20, sheet, 3e-3);
    for (size_t i = 0; i < strip->count; i++)
        strip->first_r[i] = 1e4 + 5e-3 * (double)i;
    strip->setup.start = strip->setup.end = SHELL_FREE;
    body_make(strip);
    double angle = 70 * acos(-1.0) / 180;
    for (size_t i = 0; i < strip->count; i++) {
        strip->r[i] = 1e4 + 5e-3 * (double)i * cos(angle);
        strip->z[i] = 5e-3 * (double)i * sin(angle);
    }
    double pull = strip->model.membrane_s[1] * strip->model.inverse_length[1];
    cr_assert_lt(largest_force(strip), 1e-9 * pull, "%g", largest_force(strip) / pull);
    for (size_t i = 0; i + 1 < strip->count; i++) {
        cr_assert_lt(fabs(strip->state.strain_s[i]), 1e-9);
        cr_assert_lt(fabs(strip->state.curvature_s[i]), 1e-6);
    }
    body_free(strip);
}

/* The angle between two segments of any directions, against the C library. */
Test(shell_balance, turns_are_angles)
{
    struct body *strip = body_new(2, body_abs, 3e-3);
    for (size_t i = 0; i < strip->count; i++)
        strip->first_r[i] = 0.1 + 1e-2 * (double)i;
    strip->setup.start = strip->setup.end = SHELL_FREE;
    body_make(strip);
    uint64_t seed = 3;
    double worst = 0.0;
    for (int n = 0; n < 20000; n++) {
        double turn = 3.14 * noise(&seed) * (n % 2 ? 1.0 : 1e-3), slope = 3.14 * noise(&seed);
        strip->r[1] = strip->r[0] + 1e-2 * cos(slope);
        strip->z[1] = strip->z[0] + 1e-2 * sin(slope);
        strip->r[2] = strip->r[1] + 1e-2 * cos(slope + turn);
        strip->z[2] = strip->z[1] + 1e-2 * sin(slope + turn);
        body_forces(strip);
        const double *r = strip->state.direction_r, *z = strip->state.direction_z;
        double across = r[0] * z[1] - z[0] * r[1], along = r[0] * r[1] + z[0] * z[1];
        /* beyond a right angle 1 + along loses what the directions do not have: compare the direction */
        double off = fabs(strip->state.turn[1] - atan2(across, along));
        worst = fmax(worst, off / (1e-16 + (along > 0.0 ? fabs(turn) : 1.0 / (1.0 + along))));
    }
    printf("figure: turns: worst %.2g of the angle\n", worst);
    cr_assert_lt(worst, 4e-15);
    body_free(strip);
}

/* A cylinder strained by 1 % along and 2 % round, then with its middle ring pushed in: bending strain t/2
 * times the turn over the span adds up at a face; shortened by 10 %, the step is 10 % shorter. */
Test(shell_balance, strain_and_step_are_reported)
{
    struct body *body = body_new(20, body_abs, 3e-3);
    for (size_t i = 0; i < body->count; i++) {
        body->first_r[i] = 0.1;
        body->first_z[i] = 5e-3 * (double)i;
    }
    body->setup.start = body->setup.end = SHELL_FREE;
    body_make(body);
    size_t node = 0;
    cr_assert_eq(shell_largest_strain(&body->model, &body->state, NULL), 0.0);
    double step = shell_stable_step(&body->model, &body->state);
    for (size_t i = 0; i < body->count; i++) {
        body->r[i] = 0.1 * 1.02;
        body->z[i] = 5e-3 * 1.01 * (double)i;
    }
    body_forces(body);
    cr_assert_float_eq(shell_largest_strain(&body->model, &body->state, &node), 0.02, 1e-12);
    cr_assert_eq(shell_stable_step(&body->model, &body->state), step);
    double dent = 4e-4;
    memcpy(body->r, body->first_r, sizeof body->r);
    memcpy(body->z, body->first_z, sizeof body->z);
    body->r[10] -= dent;
    body_forces(body);
    double slope = atan2(dent, 5e-3), stretch = 1 / cos(slope) - 1, bend = 1.5e-3 * 2 * slope / 5e-3;
    cr_assert_float_eq(shell_largest_strain(&body->model, &body->state, &node), stretch + bend, 1e-9);
    cr_assert_eq(node, 10);
    for (size_t i = 0; i < body->count; i++) {
        body->r[i] = 0.1;
        body->z[i] = 5e-3 * 0.9 * (double)i;
    }
    body_forces(body);
    cr_assert_float_eq(shell_stable_step(&body->model, &body->state), 0.9 * step, 1e-9 * step);
    body_free(body);
}

/* A plate bent up and the same bent down. */
Test(shell_balance, mirror_images_have_mirrored_forces)
{
    struct body *up = body_of(2), *down = body_of(2);
    shake(up, 8e-4, 23);
    for (size_t i = 0; i < up->count; i++) {
        down->r[i] = up->r[i];
        down->z[i] = -up->z[i];
    }
    double scale = largest_force(up);
    body_forces(down);
    for (size_t i = 0; i < up->count; i++) {
        cr_assert_float_eq(up->force_r[i], down->force_r[i], 1e-13 * scale);
        cr_assert_float_eq(up->force_z[i], -down->force_z[i], 1e-13 * scale);
    }
    body_free(up);
    body_free(down);
}

/* Openings: mass and all forces times 1 - bare; without hoop stiffness a widened ring has no hoop force. */
Test(shell_balance, openings_take_their_share)
{
    double bare[BODY_NODES], hoop[BODY_NODES] = {0};
    for (size_t i = 0; i < BODY_NODES; i++)
        bare[i] = 0.3;
    struct body *bodies[3];
    for (int k = 0; k < 3; k++) {
        bodies[k] = body_new(20, body_abs, 3e-3);
        for (size_t i = 0; i < bodies[k]->count; i++) {
            bodies[k]->first_r[i] = 0.1;
            bodies[k]->first_z[i] = 5e-3 * (double)i;
        }
        bodies[k]->setup.start = bodies[k]->setup.end = SHELL_FREE;
        bodies[k]->setup.bare = k ? bare : NULL;
        bodies[k]->setup.hoop = k == 2 ? hoop : NULL;
        body_make(bodies[k]);
        for (size_t i = 0; i < bodies[k]->count; i++) {
            bodies[k]->r[i] *= 1.01;
            bodies[k]->z[i] *= 1.02;
        }
        body_forces(bodies[k]);
    }
    double scale = fabs(bodies[0]->force_z[0]);
    for (size_t i = 0; i < bodies[0]->count; i++) {
        cr_assert_float_eq(bodies[1]->model.mass[i], 0.7 * bodies[0]->model.mass[i], 1e-15);
        cr_assert_float_eq(bodies[1]->force_r[i], 0.7 * bodies[0]->force_r[i], 1e-9 * scale);
        cr_assert_float_eq(bodies[1]->force_z[i], 0.7 * bodies[0]->force_z[i], 1e-9 * scale);
        cr_assert_lt(fabs(bodies[2]->force_r[i]), 1e-9 * scale);
    }
    for (int k = 0; k < 3; k++)
        body_free(bodies[k]);
}

/* Central differences from rest at the present place, velocities given: returns the largest change of kinetic
 * + stored + dissipated energy over the energy at the start; INFINITY when it blows up. */
static double run(struct body *body, double *velocity_r, double *velocity_z, double step, int steps)
{
    double start = 0.0, worst = 0.0;
    for (int n = 0; n <= steps; n++) {
        double kinetic = 0.0;
        body_forces(body);
        for (size_t i = 0; i < body->count; i++) {
            double kick = (n ? step : 0.5 * step) / body->model.mass[i];
            double before_r = velocity_r[i], before_z = velocity_z[i];
            velocity_r[i] += body->held_r[i] ? 0.0 : body->force_r[i] * kick;
            velocity_z[i] += body->held_z[i] ? 0.0 : body->force_z[i] * kick;
            kinetic += 0.5 * body->model.mass[i] * (before_r * velocity_r[i] + before_z * velocity_z[i]);
            body->r[i] += body->held_r[i] ? 0.0 : velocity_r[i] * step;
            body->z[i] += body->held_z[i] ? 0.0 : velocity_z[i] * step;
        }
        double energy =
            kinetic + shell_stored(&body->model, &body->state) + shell_dissipated(&body->model, &body->state);
        start = n ? start : energy;
        double error = fabs(energy / start - 1);
        if (!(error < 1e6))
            return INFINITY;
        worst = error > worst ? error : worst;
    }
    return worst;
}

static void kick(const struct body *body, double *velocity_r, double *velocity_z, double speed, uint64_t seed)
{
    for (size_t i = 0; i < body->count; i++) {
        double move_r = speed * noise(&seed), move_z = speed * noise(&seed);
        velocity_r[i] = body->held_r[i] ? 0.0 : move_r;
        velocity_z[i] = body->held_z[i] ? 0.0 : move_z;
    }
}

/* The bound against the largest eigenvalue of the linearised shell; noise at the stated safety of 0.7 stays,
 * a step beyond the true limit blows up. */
Test(shell_balance, the_step_is_stable)
{
    double *squares = calloc(2 * BODY_NODES, sizeof *squares);
    double velocity_r[BODY_NODES], velocity_z[BODY_NODES];
    for (int which = 0; which < SHAPES; which++) {
        struct body *body = body_of(which);
        body->held_z[0] = body->held_z[0] && body->setup.start == SHELL_CLAMPED;
        double largest = sqrt(squares[body_frequencies(body, squares) - 1]);
        body_forces(body);
        double step = shell_stable_step(&body->model, &body->state),
               ratio = body->model.largest_frequency / largest;
        printf("figure: step, shape %d: %.3f us, bound / largest frequency %.3f\n", which, 1e6 * step, ratio);
        cr_assert_geq(ratio, 1 - 1e-6);
        cr_assert_lt(ratio, 1.4);
        kick(body, velocity_r, velocity_z, 0.5, 31);
        double calm = run(body, velocity_r, velocity_z, 0.7 * step, 4000);
        cr_assert_lt(calm, 0.01, "%g", calm);
        body_free(body);
        body = body_of(which);
        kick(body, velocity_r, velocity_z, 1e-6, 31);
        cr_assert_eq(run(body, velocity_r, velocity_z, 1.01 * 2 / largest, 4000), INFINITY);
        body_free(body);
    }
    free(squares);
}

/* A thick shell on a fine mesh, where bending about the pole sets the step. */
Test(shell_balance, the_step_is_stable_where_bending_sets_it)
{
    double squares[2 * 80], velocity_r[BODY_NODES], velocity_z[BODY_NODES];
    struct body *plate = body_plate(60, 0.03, 4e-3, body_abs, SHELL_FREE);
    double largest = sqrt(squares[body_frequencies(plate, squares) - 1]);
    double step = shell_stable_step(&plate->model, &plate->state),
           ratio = plate->model.largest_frequency / largest;
    printf("figure: step, thick plate: %.4f us, membrane alone %.4f us, bound / largest frequency %.3f\n",
           1e6 * step, 1e6 * 0.5e-3 / sqrt(2.2e9 / 1050 / (1 - 0.37 * 0.37)), ratio);
    cr_assert_geq(ratio, 1 - 1e-6);
    cr_assert_lt(ratio, 1.4);
    kick(plate, velocity_r, velocity_z, 0.1, 37);
    cr_assert_lt(run(plate, velocity_r, velocity_z, 0.7 * step, 4000), 0.01);
    body_free(plate);
}

/* A cap thrown edge-first against its clamp at 3 m/s, deflections of several thicknesses. */
Test(shell_balance, energy_is_kept)
{
    double velocity_r[BODY_NODES] = {0}, velocity_z[BODY_NODES], error[2];
    for (int k = 0; k < 2; k++) {
        struct body *cap = body_of(4);
        for (size_t i = 0; i < cap->count; i++) {
            velocity_r[i] = 0.0;
            velocity_z[i] = -3.0 * (1.0 - cap->first_r[i] / cap->first_r[cap->count - 1]);
        }
        double step = (k ? 0.35 : 0.7) * shell_stable_step(&cap->model, &cap->state);
        error[k] = run(cap, velocity_r, velocity_z, step, k ? 4000 : 2000);
        body_free(cap);
    }
    printf("figure: energy of a thrown cap: error %.2g of the start at 0.7, %.2g at 0.35\n", error[0],
           error[1]);
    cr_assert_lt(error[0], 1e-4);
}

Test(shell_balance, instruction_sets_give_the_same_bits)
{
    static double places[ISA_COUNT][2 * BODY_NODES];
    double velocity_r[BODY_NODES], velocity_z[BODY_NODES];
    for (int isa = 0; isa < ISA_COUNT; isa++) {
        if (isa_force((enum isa)isa) != (enum isa)isa) {
            printf("no %s on this processor: not compared\n", isa_name((enum isa)isa));
            memcpy(places[isa], places[0], sizeof places[0]);
            continue;
        }
        struct body *body = body_of(0);
        kick(body, velocity_r, velocity_z, 5.0, 41);
        run(body, velocity_r, velocity_z, 0.7 * shell_stable_step(&body->model, &body->state), 500);
        for (size_t a = 0; a < 2 * body->count; a++)
            places[isa][a] = *body_unknown(body, a);
        body_free(body);
    }
    for (int isa = 1; isa < ISA_COUNT; isa++)
        cr_assert_eq(memcmp(places[isa], places[0], sizeof places[0]), 0, "%s", isa_name((enum isa)isa));
}

Test(shell_balance, memory_that_runs_out_leaves_nothing)
{
    double r[] = {0.0, 0.1, 0.2, 0.3}, z[4] = {0};
    struct shell_setup setup = {
        .node_count = 4, .r = r, .z = z, .thickness = 3e-3, .sheet = body_abs, .end = SHELL_FREE};
    struct shell_model model;
    struct shell_state state;
    for (size_t k = 0; k < 3; k++) {
        memory_fail_after(k);
        cr_assert_eq(shell_model_make(&setup, &model), STATUS_MEMORY);
        cr_assert_null(model.memory);
    }
    memory_fail_after(SIZE_MAX);
    cr_assert_eq(shell_model_make(&setup, &model), STATUS_OK);
    memory_fail_after(0);
    cr_assert_eq(shell_state_make(&model, &state), STATUS_MEMORY);
    cr_assert_null(state.memory);
    memory_fail_after(SIZE_MAX);
    shell_model_free(&model);
    shell_model_free(&model);
    shell_state_free(&state);
}
