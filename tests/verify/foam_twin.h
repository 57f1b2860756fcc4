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
    while (high - twin_virgin(p, dense, high) / p->youngs_modulus <= kappa + 1e-14 * high)
        high *= 2;
    for (int i = 0; i < 200 && high - low > 1e-16 * high; i++) {
        double e = 0.5 * (low + high);
        if (e - twin_virgin(p, dense, e) / p->youngs_modulus <= kappa + 1e-14 * e)
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

/* Slope of the gas at strain m, of the solid beyond. */
static inline double twin_gas_slope(const struct foam_parameters *p, double m)
{
    double room = 1 - p->density / p->solid_density, limit = 0.98 * room, at = fmin(fmax(m, 0), limit);
    double slope = p->gas_pressure * room / ((room - at) * (room - at));
    double more = p->gas_pressure > 0 ? fmax(p->solid_modulus - slope, 0) / (1 - limit) : 0;
    return slope + (m > limit ? more * (m - limit) : 0);
}

static inline double twin_gas(const struct foam_parameters *p, double m)
{
    double room = 1 - p->density / p->solid_density, limit = 0.98 * room;
    if (m <= 0)
        return 0;
    if (m <= limit)
        return p->gas_pressure * m / (room - m);
    return p->gas_pressure * limit / (room - limit) +
           0.5 * (twin_gas_slope(p, limit) + twin_gas_slope(p, m)) * (m - limit);
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
 * Rate form, for a general integrator. State of a zone: skeleton s, u = sqrt(kappa), rate r, matter m; the
 * zone is moved with de/dt. With d = dm/dt: open crack (e < m, or at the cut and de/dt < 0): d = 0, else d =
 * de/dt; dr/dt = (max(d, 0) - r)/tau, f = 1 + k log10(max(r/r_ref, 1)); below yield: ds/dt = E_u d, dkappa/dt
 * = 0; at yield d = dkappa/dt (1 + Y_f'/E) + (dY_f/df) (df/dt)/E_u, so that with Y_u = dY_f/du, dkappa = 2 u
 * du, du/dt = (d - Y_f,f f'/E_u)/(2 u + Y_u/E), if positive, and ds/dt = Y_u du/dt + Y_f,f f'. u instead of
 * kappa, because Y starts like sqrt(kappa). An integrator leaves s = Y by its error: within 1e-5 of Y counts
 * as at yield, and the distance decays with `return_time`, which any value well above its steps suits.
 */
struct twin_state {
    double skeleton, u, rate, gap;
};

struct twin_slopes {
    double yield, by_u, by_factor;
};

/* kappa of u, and dkappa/du. */
static inline double twin_kappa(const struct foam_parameters *p, double u)
{
    return p->sharp ? u : u * u;
}

static inline double twin_kappa_slope(const struct foam_parameters *p, double u)
{
    return p->sharp ? 1 : 2 * u;
}

/* Y without densification and dY/dkappa, by Newton steps on e - S(e)/E = kappa from the right. */
static inline void twin_newton(const struct foam_parameters *p, double kappa, double *yield, double *slope)
{
    double drop = p->youngs_modulus - p->hardening, plastic = p->collapse_stress, young = p->youngs_modulus;
    if (p->sharp) {
        *slope = p->hardening / (1 - p->hardening / young);
        *yield = plastic / (1 - p->hardening / young) + *slope * kappa;
        return;
    }
    double e = 1.2 * kappa / (1 - p->hardening / young) + sqrt(2 * kappa * plastic / drop) + plastic / drop,
           rise = 0;
    for (int i = 0; i < 60 && kappa > 0; i++) {
        rise = drop * exp(-drop * e / plastic) + p->hardening;
        double step = (e - twin_plateau(p, e) / young - kappa) / (1 - rise / young);
        e -= step;
        if (fabs(step) < 1e-15 * e)
            break;
    }
    e = kappa > 0 ? e : 0;
    *yield = twin_plateau(p, e);
    *slope = kappa > 0 ? rise / (1 - rise / young) : INFINITY;
}

static inline struct twin_slopes twin_slopes(const struct foam_parameters *p, double factor, double u)
{
    double v = p->sharp ? fmax(u, 0) : fmax(u, 1e-10), kappa = twin_kappa(p, v), yield, slope;
    twin_newton(p, kappa / factor, &yield, &slope);
    return (struct twin_slopes){factor * yield, twin_kappa_slope(p, v) * slope,
                                yield - kappa / factor * slope};
}

/* Y_f and its slopes, without densification; twin_slopes or a faster one. */
typedef struct twin_slopes twin_curve(const struct foam_parameters *p, double factor, double u);

/* Time derivative of a zone's state at strain e. */
static inline struct twin_state twin_rates_on(twin_curve *curve, const struct foam_parameters *p,
                                              const struct twin_state *z, double e, double speed,
                                              double return_time)
{
    double kappa = twin_kappa(p, z->u), from = p->sharp ? 0 : p->collapse_stress / p->youngs_modulus;
    double modulus = p->youngs_modulus / (1 + p->unloading_softening * kappa);
    double room = kappa > from ? z->skeleton + twin_gas(p, e + z->gap) + p->crushed_tension
                               : z->skeleton + p->tensile_strength;
    int open = z->gap > 0 || (room <= 0 && speed < 0);
    double d = open ? 0 : speed, rate_slope = (fmax(d, 0) - z->rate) / p->rate_time;
    struct twin_state slope = {modulus * d, 0, rate_slope, open ? -speed : 0};
    double factor = twin_factor(p, z->rate);
    double factor_slope = z->rate > p->rate_reference ? p->rate_gain / (log(10) * z->rate) * rate_slope : 0;
    struct twin_slopes y = curve(p, factor, z->u);
    double flow =
        (d - y.by_factor * factor_slope / modulus) / (twin_kappa_slope(p, z->u) + y.by_u / p->youngs_modulus);
    if (z->skeleton >= y.yield * (1 - 1e-5) && flow > 0) {
        slope.u = flow;
        slope.skeleton = y.by_u * flow + y.by_factor * factor_slope - (z->skeleton - y.yield) / return_time;
    }
    return slope;
}

static inline struct twin_state twin_rates(const struct foam_parameters *p, const struct twin_state *z,
                                           double e, double speed, double return_time)
{
    return twin_rates_on(twin_slopes, p, z, e, speed, return_time);
}

/* Stress of a zone at strain e: none across an open crack. */
static inline double twin_stress(const struct foam_parameters *p, const struct twin_state *z, double e)
{
    return z->gap > 0 ? 0 : z->skeleton + twin_gas(p, e + z->gap);
}

#endif
