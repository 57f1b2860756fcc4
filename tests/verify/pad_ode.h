#ifndef FOAMPULSE_TESTS_PAD_ODE_H
#define FOAMPULSE_TESTS_PAD_ODE_H

/*
 * The bench pad a second time, as ordinary differential equations for a general integrator: the same cells,
 * masses and striker, the foam's memory as states in rate form (foam_twin.h), no time step anywhere. Shares
 * no code with the solver. The striker rides on the top node, which holds as long as the two press on each
 * other.
 */
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <stddef.h>

#include "tests/verify/foam_twin.h"

enum { PAD_ODE_CELLS = 64 };

struct pad_ode {
    size_t cells;                                      /* from the anvil */
    double length;                                     /* of a cell [m] */
    double area;                                       /* [m2] */
    double striker;                                    /* [kg] */
    double gravity;                                    /* [m/s2] */
    double linear, quadratic;                          /* viscosity */
    const struct foam_parameters *foam[PAD_ODE_CELLS]; /* (cells) */
    double mass[PAD_ODE_CELLS + 1];                    /* nodes, with the striker [kg] */
    double return_time;                                /* of the yield condition [s] */
    twin_curve *curve;                                 /* yield stress; NULL: twin_slopes */
};

/*
 * Unknowns: shortening w_i = way of node i towards the anvil, velocities v_i (nodes 1 .. cells), impulse of
 * the striker, then (skeleton, u, rate, gap) of each cell. Cell i lies between nodes i and i + 1; its strain
 * is (w_{i+1} - w_i)/length.
 */
static inline size_t pad_ode_size(const struct pad_ode *pad)
{
    return 6 * pad->cells + 1;
}

static inline size_t pad_ode_impulse(const struct pad_ode *pad)
{
    return 2 * pad->cells;
}

static inline double *pad_ode_zone(const struct pad_ode *pad, double *y, size_t cell)
{
    return y + 2 * pad->cells + 1 + 4 * cell;
}

/* Stiffest slope of stress against strain: unloading modulus and slope of the gas. */
static inline double pad_ode_tangent(const struct foam_parameters *p, double u, double m)
{
    return p->youngs_modulus / (1 + p->unloading_softening * twin_kappa(p, u)) + twin_gas_slope(p, m);
}

/* Viscous stress I d (C1 sqrt(tangent/I) + C2 d) of a cell that shortens at rate d, I = density length^2. */
static inline double pad_ode_viscous(const struct pad_ode *pad, const struct foam_parameters *p, double d,
                                     double tangent)
{
    double inertia = p->density * pad->length * pad->length;
    return d > 0 ? inertia * d * (pad->linear * sqrt(tangent / inertia) + pad->quadratic * d) : 0;
}

/* Force of cell i [N]; writes the slopes of its memory. */
static inline double pad_ode_cell(const struct pad_ode *pad, size_t i, const double *y, double *slope)
{
    const struct foam_parameters *p = pad->foam[i];
    const double *w = y, *v = y + pad->cells, *zone = y + 2 * pad->cells + 1 + 4 * i;
    double e = (w[i] - (i ? w[i - 1] : 0)) / pad->length, d = (v[i] - (i ? v[i - 1] : 0)) / pad->length;
    struct twin_state z = {zone[0], zone[1], zone[2], zone[3]};
    twin_curve *curve = pad->curve ? pad->curve : twin_slopes;
    struct twin_state rates = twin_rates_on(curve, p, &z, e, d, pad->return_time);
    double *out = pad_ode_zone(pad, slope, i);
    out[0] = rates.skeleton;
    out[1] = rates.u;
    out[2] = rates.rate;
    out[3] = rates.gap;
    double tangent = pad_ode_tangent(p, z.u, e + fmax(z.gap, 0));
    return pad->area * (twin_stress(p, &z, e) + pad_ode_viscous(pad, p, d, tangent));
}

static inline int pad_ode_slopes(double t, const double y[], double slope[], void *context)
{
    const struct pad_ode *pad = context;
    size_t n = pad->cells;
    double below = pad_ode_cell(pad, 0, y, slope);
    (void)t;
    for (size_t i = 0; i < n; i++) {
        double above = i + 1 < n ? pad_ode_cell(pad, i + 1, y, slope) : 0;
        slope[i] = y[n + i];
        slope[n + i] = pad->gravity - (below - above) / pad->mass[i + 1];
        below = i + 1 < n ? above : below;
    }
    slope[pad_ode_impulse(pad)] = below * pad->striker / pad->mass[n];
    return 0;
}

/* A pad of one foam a cell; mass of each cell halved to its nodes. */
static inline void pad_ode_fill(struct pad_ode *pad)
{
    for (size_t i = 0; i <= pad->cells; i++)
        pad->mass[i] = 0;
    for (size_t i = 0; i < pad->cells; i++) {
        double half = 0.5 * pad->foam[i]->density * pad->area * pad->length;
        pad->mass[i] += half;
        pad->mass[i + 1] += half;
    }
    pad->mass[pad->cells] += pad->striker;
}

/* Foam at rest, striker and top node with their common velocity; `scale` are the sizes of the unknowns that
 * errors are measured by. */
static inline void pad_ode_start(const struct pad_ode *pad, double speed, double *y, double *scale)
{
    size_t n = pad->cells;
    for (size_t i = 0; i < pad_ode_size(pad); i++)
        y[i] = 0;
    y[2 * n - 1] = speed * pad->striker / pad->mass[n];
    for (size_t i = 0; i < n; i++) {
        double *zone = pad_ode_zone(pad, scale, i);
        scale[i] = pad->length;
        scale[n + i] = speed;
        zone[0] = pad->foam[i]->collapse_stress;
        zone[1] = zone[3] = 1;
        zone[2] = 100;
    }
    scale[pad_ode_impulse(pad)] = pad->striker * speed;
}

#endif
