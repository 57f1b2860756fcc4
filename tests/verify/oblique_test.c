#include <criterion/criterion.h>
#include <gsl/gsl_math.h>
#include <gsl/gsl_sf_ellint.h>
#include <math.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "solver/impact/oblique_model.h"
#include "solver/impact/run.h"
#include "tests/support/foams.h"
#include "tests/support/sanitized.h"

/*
 * Motion along the face and rotation against closed forms. Each test prints the figure it checks.
 *
 * One rigid body, mass m, moment of inertia I about its centre of gravity, contact at r from it, normal
 * through it: the normal impulse is J = m (1 + e) v_n. Friction T slows the centre by T/m and turns the body
 * by T r/I, so the slip v_t - w r falls by T (1/m + r^2/I) = T (1 + L)/m with L = m r^2/I. While it slides
 * T = mu F; it never sticks when mu J (1 + L)/m < v_t, that is v_t > mu (1 + e) (1 + L) v_n, and then
 * turns by mu J r/I. Else the slip ends at an impulse m v_t/(1 + L), with w = (v_t/r) L/(1 + L).
 */

static const double pi = 3.14159265358979323846;

struct unit {
    double mass, inertia, arm, friction, restitution, normal, along;
};

/* What a rigid unit did. */
struct unit_end {
    double rate, most_torque, sticks_from, force_there, slid;
    double most_slip; /* from the second step of sticking until the force is gone [m/s] */
};

static const double unit_spring = 584e3; /* [N/m] */

/* Normal force [N]: a linear spring, its unloading quicker by the restitution, so that it gives back e of the
 * impulse. */
static double unit_force(const struct unit *unit, double t)
{
    double omega = sqrt(unit_spring / unit->mass), most = unit->normal * sqrt(unit_spring * unit->mass);
    double top = 0.5 * pi / omega;
    if (t < top)
        return most * sin(omega * t);
    double after = omega * (t - top) / unit->restitution;
    return after < 0.5 * pi ? most * cos(after) : 0.0;
}

static struct unit_end drop_unit(const struct unit *unit)
{
    struct oblique_setup setup = {.active = 1,
                                  .speed = unit->along,
                                  .face_friction = unit->friction,
                                  .head_mass = unit->mass,
                                  .shell_inertia = unit->inertia};
    struct oblique_model model;
    struct oblique_state state;
    struct unit_end end = {0};
    const double dt = 1e-6;
    cr_assert_eq(oblique_model_make(&setup, NULL, &model), STATUS_OK);
    cr_assert_eq(oblique_state_make(&model, &state), STATUS_OK);
    for (int i = 0; i < 8000; i++) {
        struct oblique_load load = {.time = (i + 0.5) * dt, .height = unit->arm};
        load.face_force = unit_force(unit, load.time);
        oblique_act(&model, &state, &load, dt);
        end.most_torque = fmax(end.most_torque, fabs(state.friction) * unit->arm);
        if (isnan(state.sticks_from))
            end.force_there = load.face_force;
        if (state.sticks_from < load.time && load.face_force > 0.0)
            end.most_slip = fmax(end.most_slip, fabs(state.slip));
        oblique_move(&model, &state, dt, dt);
    }
    end.rate = state.shell_rate;
    end.sticks_from = state.sticks_from;
    end.slid = state.slid;
    oblique_state_free(&state);
    oblique_model_free(&model);
    return end;
}

static const struct unit usual = {6.0, 0.055, 0.15, 0.5, 0.3, 5.657, 5.657};

static double critical_speed(const struct unit *unit)
{
    double lambda = unit->mass * unit->arm * unit->arm / unit->inertia;
    return unit->friction * (1.0 + unit->restitution) * (1.0 + lambda) * unit->normal;
}

/* The slip ends where the impulse is m v_t/((1 + L) mu): with the spring 1 - cos(w t) = that over
 * F_max/w, 3.642 ms and 9604.9 N. */
Test(oblique, slides_then_rolls)
{
    struct unit_end end = drop_unit(&usual);
    near("critical speed, m/s", critical_speed(&usual), 12.70, 1e-3);
    near("slip ends at, ms", 1e3 * end.sticks_from, 3.642, 5e-3);
    near("normal force there, N", end.force_there, 9604.9, 5e-3);
    near("peak rotational acceleration, rad/s2", end.most_torque / usual.inertia, 13098.0, 5e-3);
    near("change of rate by rolling, rad/s", end.rate, 26.796, 5e-3);
    cr_expect(end.most_slip < 1e-12, "a shell that sticks slips at %g m/s", end.most_slip);
}

Test(oblique, slides_throughout)
{
    struct unit unit = usual;
    unit.friction = 0.2;
    struct unit_end end = drop_unit(&unit);
    near("critical speed, m/s", critical_speed(&unit), 5.081, 1e-3);
    cr_expect(isnan(end.sticks_from), "sticks from %g s", end.sticks_from);
    near("peak rotational acceleration, rad/s2", end.most_torque / unit.inertia, 5776.0, 5e-3);
    near("change of rate by sliding, rad/s", end.rate, 24.068, 5e-3);
}

/* Without friction nothing turns, and the shell slides by its speed x the time of contact. */
Test(oblique, slides_without_friction)
{
    struct unit unit = usual;
    unit.friction = 0.0;
    double top = 0.5 * pi / sqrt(unit_spring / unit.mass);
    struct unit_end end = drop_unit(&unit);
    cr_expect_eq(end.rate, 0.0);
    cr_expect(isnan(end.sticks_from));
    near("slid without friction, m", end.slid, unit.along * top * (1.0 + unit.restitution), 2e-3);
}

Test(oblique, slips_throughout_above_the_critical_speed)
{
    struct unit unit = usual;
    unit.along = 0.995 * critical_speed(&unit);
    cr_expect(!isnan(drop_unit(&unit).sticks_from), "0.5 %% below it still slides");
    unit.along = 1.005 * critical_speed(&unit);
    cr_expect(isnan(drop_unit(&unit).sticks_from), "0.5 %% above it rolls");
}

Test(oblique, rotation_of_a_sliding_unit)
{
    struct unit unit = usual, heavy = usual;
    unit.along = 20.0;
    double rate = drop_unit(&unit).rate;
    unit.along = 40.0;
    near("twice the speed along the face, rate", drop_unit(&unit).rate, rate, 1e-9);
    heavy.along = 40.0;
    heavy.inertia *= 2.0;
    near("twice the inertia, rate", drop_unit(&heavy).rate, 0.5 * rate, 1e-9);
}

/* (2/pi) E(sin^2 phi) by GSL. */
Test(oblique, mean_speed_of_a_ring)
{
    for (double phi = 0.0; phi <= 0.5 * pi; phi += pi / 180.0)
        cr_expect(fabs(shear_slip_weight(phi) -
                       2.0 / pi * gsl_sf_ellint_Ecomp(fabs(sin(phi)), GSL_PREC_DOUBLE)) < 1e-14,
                  "%g rad: %.17g", phi, shear_slip_weight(phi));
}

/* --- the liner --- */

enum { RINGS_MOST = 48 };
static double all_of_it[RINGS_MOST];

static struct shear_setup one_layer(struct liner_layer *layer, const struct foam *foam, double thickness,
                                    size_t rings)
{
    *layer = (struct liner_layer){thickness, 1, {{foam, 1.0}}};
    for (size_t i = 0; i < rings; i++)
        all_of_it[i] = 1.0;
    return (struct shear_setup){.rings = rings,
                                .phi_max = 70.0 * pi / 180.0,
                                .outer_radius = 0.130,
                                .cell = 4e-3,
                                .region_count = 1,
                                .regions = {{.share = all_of_it, .layer_count = 1, .layers = layer}},
                                .slip_friction = INFINITY,
                                .bond_friction = INFINITY};
}

static struct foam elastic(double modulus, double density)
{
    struct foam_parameters parameters = foams_plain(50.0, modulus, 0.0, 2.0 * modulus);
    parameters.shear_strength = 1e3 * modulus;
    struct foam foam = foams_make(&parameters);
    foam.plateau = 1e3 * modulus; /* of the shear, which reads nothing else */
    foam.density = density;
    return foam;
}

/* The outer face is turned at a constant rate from rest: a step of the rate runs inwards at sqrt(G/rho) and
 * doubles at the free inner face. On a shell thin against its radius nothing else changes it. */
Test(oblique, shear_wave)
{
    const double modulus = 4e6, density = 50.0, thickness = 0.040;
    struct liner_layer layer;
    struct foam foam = elastic(modulus, density);
    struct shear_setup setup = one_layer(&layer, &foam, thickness, 4);
    struct shear_model model;
    struct shear_state state;
    double push[4] = {0};
    setup.outer_radius = 40.0;
    setup.cell = 0.1e-3;
    cr_assert_eq(shear_model_make(&setup, &model), STATUS_OK);
    cr_assert_eq(shear_state_make(&model, &state), STATUS_OK);
    double dt = 0.5 * model.step, t = 0.0;
    size_t last = model.rows * model.rings;
    while (state.rate[last] < 1.0 && t < 1e-3) {
        for (size_t i = 0; i < 4; i++) {
            state.rate[i] = 1.0;
            state.angle[i] = t;
        }
        shear_act(&model, &state, push);
        for (size_t i = 0; i < 4; i++) {
            state.rate[last + i] -= state.torque[last - 4 + i] / model.inertia[last + i] * dt;
            state.angle[last + i] += state.rate[last + i] * dt;
        }
        shear_move(&model, &state, dt, dt);
        t += dt;
    }
    near("shear wave, m/s", thickness / t, sqrt(modulus / density), 0.01);
    shear_state_free(&state);
    shear_model_free(&model);
    foam_free(&foam);
}

/* Slow turn of the outer face against a held inner one, elastic: the torque of a spherical shell in torsion
 * about a diameter. With u = A(R) x r the shear stress is G R A', its moment over the whole sphere
 * (8 pi/3) R^4 G A', so from R_i to R_o the stiffness is 8 pi G / (1/R_i^3 - 1/R_o^3). The rings reach to
 * 90 deg: half of it. */
Test(oblique, stiffness_of_a_sphere_in_torsion)
{
    const double modulus = 4e6, inner = 0.095, outer = 0.130;
    struct liner_layer layer;
    struct foam foam = elastic(modulus, 50.0);
    struct shear_setup setup = one_layer(&layer, &foam, outer - inner, RINGS_MOST);
    struct shear_model model;
    struct shear_state state;
    double push[RINGS_MOST] = {0}, compliance, sum = 0.0;
    setup.phi_max = 0.5 * pi;
    setup.cell = 1e-3;
    cr_assert_eq(shear_model_make(&setup, &model), STATUS_OK);
    cr_assert_eq(shear_state_make(&model, &state), STATUS_OK);
    for (size_t i = 0; i < model.rings; i++) {
        compliance = 0.0;
        for (size_t j = 0; j < model.rows; j++)
            compliance += 1.0 / model.stiffness[j * model.rings + i];
        sum += 1.0 / compliance;
    }
    near("torsion of half a sphere, N m/rad", sum,
         0.5 * 8.0 * pi * modulus / (1.0 / (inner * inner * inner) - 1.0 / (outer * outer * outer)), 2e-3);
    cr_expect_eq(shear_act(&model, &state, push), 0.0);
    shear_state_free(&state);
    shear_model_free(&model);
    foam_free(&foam);
}

/* --- head, liner and shell under given normal forces --- */

struct trio {
    double room;    /* between liner and head [m] */
    double stiffer; /* times the liner is; 0: as EPS is */
    struct foam foam;
    struct liner_layer layer;
    struct oblique_model model;
    struct oblique_state state;
    double push[RINGS_MOST];
    double worst, momentum; /* ledger open at most, over the first energy; angular momentum at the end */
};

/* Share of the head's force on a ring: pressure by cos^3 of its angle, area by its sine. */
static double ring_share(size_t i)
{
    double phi = (double)i / (RINGS_MOST - 1) * 70.0 * pi / 180.0;
    return pow(cos(phi), 3.0) * sin(phi);
}

/* What the ledger lacks [J]. */
static double residual(const struct trio *trio, double first, double worked)
{
    double energy[ENERGY_COUNT] = {0}, left = first - worked;
    oblique_book(&trio->model, &trio->state, 1e-6, energy);
    for (int part = 0; part < ENERGY_COUNT; part++)
        left -= energy[part];
    return left;
}

/* A half-sine of 8 ms and 8 kN on the face, four fifths of it on the head. `offset` [m] of the centre of
 * gravity along the face. */
static void push_trio(struct trio *trio, double face_friction, double head_friction, double offset,
                      double along)
{
    struct foam_parameters parameters = foams_polystyrene(50.0);
    parameters.shear_modulus = 0.5 * parameters.youngs_modulus;
    parameters.shear_strength = 0.4e6;
    parameters.shear_friction = 0.364;
    trio->foam = foams_make(&parameters);
    if (trio->stiffer > 0.0) {
        trio->foam.shear_modulus *= trio->stiffer;
        trio->foam.shear_strength = trio->foam.plateau = 1e9;
    }
    struct shear_setup liner = one_layer(&trio->layer, &trio->foam, 0.035, RINGS_MOST);
    liner.regions[0].room = trio->room;
    struct oblique_setup setup = {.active = 1,
                                  .speed = along,
                                  .face_friction = face_friction,
                                  .head_friction = head_friction,
                                  .head_mass = 4.7,
                                  .helmet_mass = 1.3,
                                  .head_inertia = 0.02,
                                  .shell_inertia = 0.011,
                                  .offset_along = offset};
    cr_assert_eq(oblique_model_make(&setup, &liner, &trio->model), STATUS_OK);
    cr_assert_eq(oblique_state_make(&trio->model, &trio->state), STATUS_OK);
    const double dt = 1e-6, duration = 8e-3, first = oblique_initial(&trio->model);
    double worked = 0.0, before = 0.0, sum = 0.0;
    for (size_t i = 0; i < RINGS_MOST; i++)
        sum += ring_share(i);
    for (int i = 0; i < 9000; i++) {
        double t = (i + 0.5) * dt, force = t < duration ? 8e3 * sin(pi * t / duration) : 0.0;
        struct oblique_load load = {
            .time = t, .face_force = force, .head_force = 0.8 * force, .height = 0.12};
        for (size_t k = 0; k < RINGS_MOST; k++)
            trio->push[k] = 0.8 * force * ring_share(k) / sum;
        load.push = trio->push;
        oblique_act(&trio->model, &trio->state, &load, dt);
        /* the work that an offset takes from the fall along the normal: half of it comes after now */
        double work = load.head_force * offset * (trio->state.head_rate + 0.5 * trio->state.head_gain) * dt;
        worked += 0.5 * (before + work);
        before = work;
        trio->worst = fmax(trio->worst, fabs(residual(trio, first, worked)) / first);
        oblique_move(&trio->model, &trio->state, dt, dt);
    }
    trio->momentum = oblique_momentum(&trio->model, &trio->state);
}

static void free_trio(struct trio *trio)
{
    oblique_state_free(&trio->state);
    oblique_model_free(&trio->model);
    foam_free(&trio->foam);
}

Test(oblique, energy_and_angular_momentum_of_head_liner_and_shell)
{
    static const struct {
        double face, head, offset, along;
    } rows[] = {{0.55, 0.16, 0.0, 5.66},  {0.55, 0.75, 0.0, 5.66}, {0.2, 0.3, 0.01, 9.66},
                {0.55, 0.3, -0.01, 5.66}, {0.0, 0.3, 0.01, 3.0},   {2.0, 2.0, 0.0, 1.0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct trio trio = {0};
        push_trio(&trio, rows[i].face, rows[i].head, rows[i].offset, rows[i].along);
        printf("figure: row %zu: head %.2f rad/s, shell %.2f, face %.2f J, head %.2f J, shear %.2f J, ledger "
               "%.1e\n",
               i, trio.state.head_rate, trio.state.shell_rate, trio.state.lost_on_face,
               trio.state.lost_on_head, shear_dissipated(&trio.model.shear, &trio.state.shear), trio.worst);
        cr_expect(trio.worst < 1e-5, "row %zu: ledger open by %g", i, trio.worst);
        near("angular momentum, N m s", trio.momentum, trio.state.angular_impulse, 1e-9);
        cr_expect(trio.state.lost_on_face >= 0.0 && trio.state.lost_on_head >= -1e-9 &&
                  shear_dissipated(&trio.model.shear, &trio.state.shear) >= -1e-9);
        free_trio(&trio);
    }
}

/* A head that cannot slip in a stiff liner turns with the shell as one body: the rolling limit
 * of the closed form, with the inertia of all. */
Test(oblique, sticking_head_rolls_as_one_body)
{
    struct trio trio = {.stiffer = 30.0};
    push_trio(&trio, 2.0, 2.0, 0.0, 4.0);
    double inertia = 0.02 + 0.011 + shear_outer_inertia(&trio.model.shear);
    for (size_t k = RINGS_MOST; k < (trio.model.shear.rows + 1) * RINGS_MOST; k++)
        inertia += trio.model.shear.inertia[k];
    double lambda = 6.0 * 0.12 * 0.12 / inertia;
    near("rate of all together, rad/s", trio.momentum / inertia, 4.0 / 0.12 * lambda / (1.0 + lambda), 0.02);
    free_trio(&trio);
}

/* A head that slides throughout turns by friction x force x its radius x weight of the rings, with padding of
 * 9 mm between it and the liner. */
Test(oblique, sliding_head)
{
    struct trio trio = {.room = 0.009};
    double share = 0.0, sum = 0.0;
    push_trio(&trio, 0.55, 0.02, 0.0, 9.0);
    for (size_t i = 0; i < RINGS_MOST; i++) {
        share += ring_share(i) * shear_slip_weight((double)i / (RINGS_MOST - 1) * 70.0 * pi / 180.0);
        sum += ring_share(i);
    }
    double impulse = 0.8 * 8e3 * 2.0 * 8e-3 / pi;
    near("rate of a sliding head, rad/s", trio.state.head_rate, 0.02 * impulse * 0.086 * share / sum / 0.02,
         5e-3);
    free_trio(&trio);
}

/* Of a helmet: the head's surface lies behind padding, gap and mismatch; its inertia from the geometry, a
 * hollow sphere in the limit of rings all round, or as given less the foam's. */
Test(oblique, bodies_of_a_helmet)
{
    struct foam foam = elastic(4e6, 50.0);
    struct columns_setup setup = columns_setup_default();
    struct oblique_model model;
    for (size_t i = 0; i < RINGS_MOST; i++)
        all_of_it[i] = 1.0;
    setup.rings = RINGS_MOST;
    setup.phi_max = pi;
    setup.outer_radius = 0.130;
    setup.mismatch = 4e-3;
    setup.shell_thickness = 0.5e-3;
    setup.shell.density = 1000.0;
    setup.region_count = 1;
    setup.regions[0] = (struct columns_region){.share = all_of_it,
                                               .layer_count = 1,
                                               .layers = {{0.035, 1, {{&foam, 1.0}}}},
                                               .comfort_thickness = 8e-3,
                                               .gap = 1e-3};
    setup.oblique = (struct oblique_setup){.active = 1, .head_inertia = 0.02, .helmet_inertia = NAN};
    double shell = 1000.0 * 0.5e-3 * 4.0 * pi * 0.13025 * 0.13025;
    cr_assert_eq(oblique_of_helmet(&setup, 0.0, &model), STATUS_OK);
    near("head's radius at the site, m", model.shear.head_radius[0], 0.130 - 0.035 - 0.009, 1e-12);
    near("opposite, with twice the mismatch", model.shear.head_radius[RINGS_MOST - 1], 0.086 - 0.008, 1e-12);
    near("inertia of the shell, kg m2", model.setup.shell_inertia, 2.0 / 3.0 * shell * 0.13025 * 0.13025,
         1e-12);
    near("mass of the foam, kg", model.shear.mass,
         50.0 * 4.0 / 3.0 * pi * (pow(0.130, 3.0) - pow(0.095, 3.0)), 2e-3);
    oblique_model_free(&model);
    setup.oblique.helmet_inertia = 0.05;
    cr_assert_eq(oblique_of_helmet(&setup, 0.0, &model), STATUS_OK);
    near("all of the helmet as given", model.setup.shell_inertia + shear_inertia(&model.shear), 0.05, 1e-12);
    oblique_model_free(&model);
    foam_free(&foam);
}

/* --- centre of gravity off the site's axis --- */

/* A stack of foam that does not crush between anvil and head, with an offset s of the centre of gravity:
 * F = k x with x the way of the centre, x'' = -F (1/m + s^2/I), so the largest acceleration F/m of the centre
 * of gravity falls by 1/sqrt(1 + m s^2/I), and the head takes s F/I of rotation. */
static struct impact_output drop_offset(double offset)
{
    struct foam foam = elastic(4e6, 0.2);
    struct columns_setup setup = columns_setup_default();
    struct anvil_sizes wide = {{10.0, NAN, NAN, NAN, NAN}};
    for (size_t i = 0; i < RINGS_MOST; i++)
        all_of_it[i] = 1.0;
    setup.rings = 24;
    setup.phi_max = 40.0 * pi / 180.0;
    setup.gravity = 0.0;
    setup.parallel = 1;
    setup.outer_radius = 0.130;
    setup.head_radius = 0.095;
    setup.region_count = 1;
    setup.regions[0] = (struct columns_region){
        .name = "all", .share = all_of_it, .layer_count = 1, .layers = {{0.035, 1, {{&foam, 1.0}}}}};
    cr_assert(anvil_make(&setup.anvil, ANVIL_FLAT, &wide, 0.130));
    setup.head_mass = 5.0;
    setup.speed = 1.0;
    setup.duration = 14e-3;
    setup.oblique = (struct oblique_setup){
        .active = offset > 0.0, .head_inertia = 0.02, .offset_along = offset, .axis = {0.0, 1.0, 0.0}};
    struct impact_output output;
    char message[HISTORY_MESSAGE] = "";
    cr_assert_eq(run_columns(&setup, &output, NULL, NULL, message), STATUS_OK, "%s", message);
    foam_free(&foam);
    return output;
}

Test(oblique, offset_centre_of_gravity)
{
    struct impact_output straight = drop_offset(0.0), offset = drop_offset(0.010);
    /* the contact grows with the way: F = c x^2, so energy 1/2 m_eff v^2 = c x^3/3 and F ~ m_eff^(2/3) */
    double lighter = 1.0 / (1.0 + 5.0 * 0.010 * 0.010 / 0.02);
    near("peak with 10 mm offset, to that without",
         offset.metrics[METRIC_peak_unfiltered] / straight.metrics[METRIC_peak_unfiltered],
         pow(lighter, 2.0 / 3.0), 5e-3);
    near("peak rotational acceleration, rad/s2", offset.metrics[METRIC_peak_rot_acc],
         offset.metrics[METRIC_peak] * 9.80665 * 5.0 * 0.010 / 0.02, 1e-3);
    cr_expect(offset.balance_error < 1e-4, "ledger %g", offset.balance_error);
    double rate = 0.0;
    for (size_t i = 0; i < offset.count; i++)
        rate += offset.channel[PULSE_rotational_acceleration][i] * offset.interval;
    near("integral of the rotational acceleration, rad/s", rate,
         offset.channel[PULSE_rotational_velocity][offset.count - 1], 2e-3);
    impact_output_free(&straight);
    impact_output_free(&offset);
}
