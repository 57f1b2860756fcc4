#ifndef FOAMPULSE_TESTS_ZONES_CONE_H
#define FOAMPULSE_TESTS_ZONES_CONE_H

/*
 * A cone of EPS with its tip cut off, between a plate and a striker: foam that is crushed, shears and is
 * stretched around. By the solver's zones at their default step, and as equations for another integrator.
 * Compared: the largest mean of the striker's deceleration over intervals of 50 us.
 */
#include "tests/support/body.h"
#include "tests/support/foams.h"
#include "tests/verify/zones_ode.h"

enum { CONE_RINGS = 13, CONE_ROWS = 10 };

static const double cone_height = 0.040, cone_wide = 0.060, cone_narrow = 0.040; /* [m] */
static const double cone_striker = 5.0, cone_speed = 5.0;                        /* [kg], [m/s] */
static const double cone_interval = 5e-5, cone_gravity = 9.80665;
static const double cone_linear = 0.06, cone_quadratic = 1.2, cone_hourglass = 0.1, cone_courant = 0.7;

/* EPS 60 that does not tear. */
static inline struct foam_parameters cone_foam(void)
{
    struct foam_parameters p = foams_polystyrene(60);
    p.tensile_strength = p.crushed_tension = 1e9;
    return p;
}

static inline void cone_map(void *context, size_t i, size_t j, double *r, double *z)
{
    double up = (double)j / CONE_ROWS;
    (void)context;
    *r = (double)i / (CONE_RINGS - 1) * (cone_wide + up * (cone_narrow - cone_wide));
    *z = cone_height * up;
}

static inline struct zones_ode cone_equations(const struct foam_parameters *foam, twin_curve *curve)
{
    struct zones_ode ode = {.rings = CONE_RINGS,
                            .rows = CONE_ROWS,
                            .foam = foam,
                            .curve = curve,
                            .striker = cone_striker,
                            .linear = cone_linear,
                            .quadratic = cone_quadratic,
                            .hourglass = cone_hourglass,
                            .return_time = 2e-6};
    for (size_t k = 0; k < zones_ode_nodes(&ode); k++)
        cone_map(NULL, k % CONE_RINGS, k / CONE_RINGS, &ode.r[k], &ode.z[k]);
    zones_ode_fill(&ode);
    return ode;
}

/* What came out of a run. */
struct cone_pulse {
    double peak; /* [g] */
    double end;  /* [s], of the last interval */
    long steps;
};

/* Takes the striker's velocity at the end of an interval. */
static inline void cone_take(struct cone_pulse *pulse, double gained)
{
    pulse->peak = fmax(pulse->peak, gained / cone_interval / cone_gravity);
    pulse->end += cone_interval;
}

/* Forces on the last row as those of one body with the striker; returns its acceleration. */
static inline double cone_tie(struct body *body)
{
    double force = 0, mass = cone_striker;
    for (size_t i = 0; i < CONE_RINGS; i++) {
        size_t k = body_node(body, i, CONE_ROWS);
        force += body->state.force_z[k];
        mass += body->model.mass[k];
    }
    for (size_t i = 0; i < CONE_RINGS; i++) {
        size_t k = body_node(body, i, CONE_ROWS);
        body->state.force_z[k] = force / mass * body->model.mass[k];
    }
    return force / mass;
}

static inline struct body cone_body(const struct foam *foam)
{
    struct body body = body_make(&(struct body_setup){.rings = CONE_RINGS,
                                                      .rows = CONE_ROWS,
                                                      .map = cone_map,
                                                      .foam = foam,
                                                      .viscosity_linear = cone_linear,
                                                      .viscosity_quadratic = cone_quadratic,
                                                      .hourglass = cone_hourglass,
                                                      .fold = 1});
    double mass = cone_striker;
    for (size_t i = 0; i < CONE_RINGS; i++) {
        body.held[body_node(&body, i, 0)] |= BODY_HOLD_Z;
        mass += body.model.mass[body_node(&body, i, CONE_ROWS)];
    }
    for (size_t i = 0; i < CONE_RINGS; i++)
        body.state.velocity_z[body_node(&body, i, CONE_ROWS)] = -cone_speed * cone_striker / mass;
    return body;
}

/* By the solver's zones until the striker turns back, or until `end` where it is not 0. A force lasts from
 * the middle of one step to that of the next, so between these the velocity is straight. `share` of the
 * stable step. */
static inline struct cone_pulse cone_solve(const struct foam *foam, double share, double end)
{
    struct body body = cone_body(foam);
    struct cone_pulse pulse = {0};
    double before = 0, step = body_step_limit(&body, share), time = 0;
    double speed = body.state.velocity_z[body_node(&body, 0, CONE_ROWS)], mark = speed;
    while (end > 0 ? pulse.end < end - 0.5 * cone_interval : mark < 0) {
        double span = 0.5 * (before + step), gain = cone_tie(&body);
        while (pulse.end + cone_interval <= time + span) {
            double at = speed + gain * (pulse.end + cone_interval - time);
            cone_take(&pulse, at - mark);
            mark = at;
        }
        speed += gain * span;
        time += span;
        body_step(&body, span, step);
        before = step;
        step = fmin(body_step_limit(&body, share), 1.1 * step);
        pulse.steps++;
    }
    body_free(&body);
    return pulse;
}

#endif
