#ifndef FOAMPULSE_MATERIALS_FOAM_CURVE_H
#define FOAMPULSE_MATERIALS_FOAM_CURVE_H

#include <math.h>
#include <stdint.h>

#include "solver/base/numeric.h"
#include "solver/impact/law.h"

/*
 * The yield stress Y(kappa) of a foam as a broken line in u = sqrt(kappa), and its inverse.
 *
 * Y starts as sqrt(2 sigma_pl E kappa) where the knee is rounded, which is straight in u. On a segment
 * Y = intercept + slope u, so that kappa + Y/E = t is a quadratic in u: going from strain to yield stress and
 * back uses the same line and does not drift.
 *
 * With the rate factor f the plateau part is f Y(kappa/f), because S_f(e) = f S(e/f) for a virgin curve whose
 * only stress scale besides E and H is sigma_pl; the part that densification adds does not depend on rate.
 */

/* Y = intercept + slope u [Pa]. */
struct foam_line {
    double intercept, slope;
};

/* Index of the segment that holds u, in the low bits of a double; the last one goes on beyond the table.
 * Rounding place - 1/2 may take either neighbour where u is a node: both lines meet there. */
static inline double foam_place(double last, double step, double u)
{
    double place = u * (1.0 / step) - 0.5;
    return (place < last ? place : last) + NUMERIC_ROUND;
}

/* The segment of a table that holds u. */
static inline struct foam_line foam_segment(const double *table, double last, double step, double u)
{
    double shifted = foam_place(last, step, u);
    int64_t i = (int64_t)(numeric_bits(shifted) - numeric_bits(NUMERIC_ROUND));
    double low = table[i], slope = (table[i + 1] - low) * (1.0 / step);
    struct foam_line line = {low - slope * ((shifted - NUMERIC_ROUND) * step), slope};
    return line;
}

/* What the law needs of a foam, by value: so a compiler knows that storing a zone's state changes none of it.
 */
struct foam_values {
    const double *plateau, *densification; /* tables, (count); the second may be NULL */
    double last;                           /* index of the last segment */
    double step;
    double young, inverse_young; /* E [Pa], 1/E [1/Pa] */
    double softening;
    double gas_pressure, room;                /* p0 [Pa], 1 - R */
    double solid;                             /* gain of the slope by strain in the solid stage [Pa] */
    double crushed_tension, tensile_strength; /* [Pa] */
    double crushed_from, rate_gain, rate_reference;
    double floor_share;
};

static inline struct foam_values foam_values(const struct foam *foam)
{
    return (struct foam_values){
        .plateau = foam->yield_table,
        .densification = foam->densification_table,
        .last = (double)foam->table_count - 2,
        .step = foam->table_step,
        .young = foam->young,
        .inverse_young = 1.0 / foam->young,
        .softening = foam->softening,
        .gas_pressure = foam->gas_pressure,
        .room = 1.0 - foam->relative_density,
        .solid = foam->solid_growth,
        .crushed_tension = foam->crushed_tension,
        .tensile_strength = foam->tensile_strength,
        .crushed_from = foam->crushed_from,
        .rate_gain = foam->rate_gain,
        .rate_reference = foam->rate_reference,
        .floor_share = foam->floor_share,
    };
}

/* Rate factor f = 1 + k log10(r/r_ref), 1 up to r_ref. With r/r_ref = 2^n m, m in sqrt(1/2) .. sqrt 2, ln m =
 * 2 (s + s^3/3 + s^5/5 ...), s = (m - 1)/(m + 1): six terms leave 2e-11 of it. */
static inline double foam_rate_factor(struct foam_values values, double rate)
{
    double ratio = rate * (1.0 / values.rate_reference);
    uint64_t root_half = UINT64_C(0x3fe6a09e667f3bcd), one = UINT64_C(0x3ff0000000000000);
    uint64_t shifted = numeric_bits(ratio > 1.0 ? ratio : 1.0) + (one - root_half);
    double exponent = numeric_from_bits((shifted >> 52) | UINT64_C(0x4330000000000000)) - (0x1p52 + 1023.0);
    double m = numeric_from_bits((shifted & UINT64_C(0x000fffffffffffff)) + root_half);
    double s = (m - 1.0) / (m + 1.0), z = s * s, zz = z * z;
    double low = (1.0 + z * (1.0 / 3.0)) + zz * (1.0 / 5.0 + z * (1.0 / 7.0));
    double series = low + zz * zz * (1.0 / 9.0 + z * (1.0 / 11.0));
    /* log10 of 2, and 2 log10 of e */
    return 1.0 + values.rate_gain * (exponent * 0.30102999566398120 + s * series * 0.86858896380650366);
}

/* The line of Y_f at u: f (A + B u/sqrt f) plus densification. `root` is sqrt f, `inverse` 1/root. */
static inline struct foam_line foam_yield_line(struct foam_values values, int densifies, double root,
                                               double inverse, double u)
{
    struct foam_line line = foam_segment(values.plateau, values.last, values.step, u * inverse);
    line.intercept *= root * root;
    line.slope *= root;
    if (densifies) {
        struct foam_line more = foam_segment(values.densification, values.last, values.step, u);
        line.intercept += more.intercept;
        line.slope += more.slope;
    }
    return line;
}

/* u on a line where kappa + Y/E = t. */
static inline double foam_line_meets(struct foam_values values, struct foam_line line, double t)
{
    double b = 0.5 * line.slope * values.inverse_young;
    double square = b * b + (t - line.intercept * values.inverse_young);
    double u = sqrt(square > 0.0 ? square : 0.0) - b;
    return u > 0.0 ? u : 0.0;
}

/* Gas pressure above the atmosphere [Pa] at strain m of the matter: p0 m/(1 - m - R), zero in tension.
 * Boyle's law at constant temperature and no lateral strain (Gilchrist and Mills). Beyond 0.98 (1 - R), where
 * the pores are as good as closed, it goes on with its slope there, which grows with the strain so that it is
 * the solid's modulus at strain 1; without one the slope stays. */
struct foam_gas {
    double pressure, slope;
};

static inline struct foam_gas foam_gas(struct foam_values values, double m)
{
    double limit = 0.98 * values.room;
    double inside = m < limit ? m : limit;
    inside = inside > 0.0 ? inside : 0.0;
    double inverse = 1.0 / (values.room - inside);
    double slope = values.gas_pressure * values.room * inverse * inverse;
    double beyond = m > limit ? m - limit : 0.0;
    double grown = values.solid * beyond;
    struct foam_gas gas = {values.gas_pressure * inside * inverse + (slope + 0.5 * grown) * beyond,
                           slope + grown};
    return gas;
}

/* Unloading modulus E/(1 + a kappa) [Pa]. */
static inline double foam_unloading(struct foam_values values, double kappa)
{
    return values.young / (1.0 + values.softening * kappa);
}

#endif
