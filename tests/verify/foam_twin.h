#ifndef FOAMPULSE_TESTS_FOAM_TWIN_H
#define FOAMPULSE_TESTS_FOAM_TWIN_H

/*
 * The foam law a second time: one zone, straight from the formulas, with the C library and root finding
 * instead of tables, and once more as ordinary differential equations for a general integrator. Slow and
 * obvious; shares no code with materials/ beside the structs that hold the parameters.
 */
#include <math.h>

#include "materials/foam.h"

/* S(e) without densification. */
static inline double twin_plateau(const struct foam_parameters *p, double e)
{
    double yield = p->collapse_stress, drop = p->youngs_modulus - p->hardening;
    if (p->sharp)
        return fmin(p->youngs_modulus * e, yield + p->hardening * e);
    return -yield * expm1(-drop * e / yield) + p->hardening * e;
}

static inline double twin_densification(const struct foam_parameters *p, double e)
{
    double room = 1 - p->density / p->solid_density, from = 0.9 * room;
    if (p->densification_modulus <= 0 || e <= from)
        return 0;
    double width = room - from, end = from;
    double slope_before = p->sharp
                              ? p->hardening
                              : (p->youngs_modulus - p->hardening) *
                                        exp(-(p->youngs_modulus - p->hardening) * from / p->collapse_stress) +
                                    p->hardening;
    end += width * (0.9 * p->youngs_modulus - slope_before) / (2 * p->densification_modulus);
    if (e <= end)
        return p->densification_modulus * (e - from) * (e - from) / width;
    return p->densification_modulus * ((end - from) * (end - from) + 2 * (end - from) * (e - end)) / width;
}

static inline double twin_virgin(const struct foam_parameters *p, int dense, double e)
{
    return twin_plateau(p, e) + (dense ? twin_densification(p, e) : 0);
}

/* Y(kappa) by bisection on e - S(e)/E = kappa: the largest such strain. */
static inline double twin_bisected(const struct foam_parameters *p, int dense, double kappa)
{
    double low = 0, high = 1;
    while (high - twin_virgin(p, dense, high) / p->youngs_modulus <= kappa)
        high *= 2;
    for (int i = 0; i < 200 && high - low > 1e-16 * high; i++) {
        double e = 0.5 * (low + high);
        if (e - twin_virgin(p, dense, e) / p->youngs_modulus <= kappa)
            low = e;
        else
            high = e;
    }
    return twin_virgin(p, dense, low);
}

/* Y_f(kappa) = f Y_plateau(kappa/f) + Y_densification(kappa). */
static inline double twin_yield(const struct foam_parameters *p, double factor, double kappa)
{
    double yield = factor * twin_bisected(p, 0, kappa / factor);
    if (p->densification_modulus > 0)
        yield += twin_bisected(p, 1, kappa) - twin_bisected(p, 0, kappa);
    return yield;
}

/* kappa with kappa + Y_f(kappa)/E = t. */
static inline double twin_plastic(const struct foam_parameters *p, double factor, double t)
{
    if (p->densification_modulus <= 0)
        return t - factor * twin_plateau(p, t / factor) / p->youngs_modulus;
    double low = 0, high = t;
    for (int i = 0; i < 100; i++) {
        double kappa = 0.5 * (low + high);
        if (kappa + twin_yield(p, factor, kappa) / p->youngs_modulus < t)
            low = kappa;
        else
            high = kappa;
    }
    return low;
}

static inline double twin_gas(const struct foam_parameters *p, double m)
{
    double room = 1 - p->density / p->solid_density, limit = 0.98 * room;
    if (m <= 0)
        return 0;
    if (m <= limit)
        return p->gas_pressure * m / (room - m);
    return p->gas_pressure *
           (limit / (room - limit) + room / ((room - limit) * (room - limit)) * (m - limit));
}

static inline double twin_factor(const struct foam_parameters *p, double rate)
{
    return 1 + p->rate_gain * log10(fmax(rate / p->rate_reference, 1));
}

struct twin {
    double matter, skeleton, plastic, rate, stress;
};

/* Where skeleton + gas, unloading from a state, reach -sigma_tc, by bisection. */
static inline double twin_cut(const struct foam_parameters *p, const struct twin *z, double modulus)
{
    double low = z->matter - 2, high = z->matter;
    for (int i = 0; i < 200; i++) {
        double m = 0.5 * (low + high);
        if (z->skeleton + modulus * (m - z->matter) + twin_gas(p, m) < -p->crushed_tension)
            low = m;
        else
            high = m;
    }
    return high;
}

/* One step to zone strain e. */
static inline void twin_step(const struct foam_parameters *p, struct twin *z, double e, double dt)
{
    double from = p->sharp ? 0 : p->collapse_stress / p->youngs_modulus;
    double modulus = p->youngs_modulus / (1 + p->unloading_softening * z->plastic);
    double d = fmax(e - z->matter, 0) / dt;
    z->rate = p->rate_time > 0 ? d + (z->rate - d) * exp(-dt / p->rate_time) : d;
    double factor = twin_factor(p, z->rate), yield = twin_yield(p, factor, z->plastic);
    double trial = z->skeleton + modulus * (e - z->matter);
    int crushed = z->plastic > from;
    double room = crushed ? trial + twin_gas(p, e) + p->crushed_tension : trial + p->tensile_strength;
    if (trial > yield) {
        double t = z->plastic + yield / p->youngs_modulus + (trial - yield) / modulus;
        z->plastic = twin_plastic(p, factor, t);
        z->skeleton = (t - z->plastic) * p->youngs_modulus;
        z->matter = e;
        z->stress = z->skeleton + twin_gas(p, e);
    } else if (room < 0) {
        double stays =
            crushed ? twin_cut(p, z, modulus) : z->matter - (z->skeleton + p->tensile_strength) / modulus;
        z->skeleton = crushed ? -p->crushed_tension - twin_gas(p, stays) : -p->tensile_strength;
        z->matter = stays;
        z->stress = 0;
    } else {
        z->skeleton = trial;
        z->matter = e;
        z->stress = trial + twin_gas(p, e);
    }
}

/*
 * Rate form. State per zone: skeleton s, plastic kappa, rate r, matter m. At zone strain e with velocity
 * de/dt:
 *   open (m > e, or at the cut and de/dt < 0): nothing moves, dr/dt = -r/tau;
 *   dm/dt = de/dt, dr/dt = (max(de/dt, 0) - r)/tau, f = f(r);
 *   below yield ds/dt = E_u de/dt;
 *   at yield, from dm = dkappa (1 + Y'/E) + (dY_f/df) df/E_u:
 *   dkappa/dt = (de/dt - Y_f,f f'/E_u)/(1 + Y_f'/E), if positive, ds/dt = Y_f' dkappa/dt + Y_f,f f'.
 * A general integrator leaves the yield surface by its error; the surplus over Y returns within `relax`
 * (a time far below every other), which is a viscous form of the same law.
 */
struct twin_rates {
    double skeleton, plastic, rate, matter;
};

static inline struct twin_rates twin_rates(const struct foam_parameters *p, double e, double speed,
                                           double skeleton, double plastic, double rate, double matter,
                                           double relax)
{
    double from = p->sharp ? 0 : p->collapse_stress / p->youngs_modulus;
    double modulus = p->youngs_modulus / (1 + p->unloading_softening * plastic);
    double total = skeleton + twin_gas(p, matter);
    double room = plastic > from ? total + p->crushed_tension : skeleton + p->tensile_strength;
    int open = (room <= 0 && speed < 0) || e < matter - 1e-12;
    double d = open ? 0 : speed;
    struct twin_rates rates = {modulus * d, 0, (fmax(d, 0) - rate) / p->rate_time, d};
    double excess = skeleton - twin_yield(p, twin_factor(p, rate), fmax(plastic, 0));
    if (excess > 0) {
        rates.plastic = excess / modulus / relax;
        rates.skeleton -= modulus * rates.plastic;
        /* the part of the flow that hardens costs elastic strain s/E, not s/E_u */
        double h = 1e-7 * (plastic + 1e-3);
        double slope = (twin_yield(p, twin_factor(p, rate), plastic + h) -
                        twin_yield(p, twin_factor(p, rate), plastic)) /
                       h;
        rates.skeleton += slope * (1 - modulus / p->youngs_modulus) * rates.plastic;
    }
    return rates;
}

#endif
