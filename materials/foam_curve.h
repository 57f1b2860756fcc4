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
    double crushed_tension, tensile_strength; /* [Pa] */
    double crushed_from, rate_gain, rate_reference;
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
        .crushed_tension = foam->crushed_tension,
        .tensile_strength = foam->tensile_strength,
        .crushed_from = foam->crushed_from,
        .rate_gain = foam->rate_gain,
        .rate_reference = foam->rate_reference,
    };
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

/* Gas pressure above the atmosphere [Pa] at strain m of the matter: p0 m/(1 - m - R), zero in tension; beyond
 * 0.98 (1 - R) straight on. Boyle's law at constant temperature and no lateral strain (Gilchrist and Mills).
 */
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
    struct foam_gas gas = {values.gas_pressure * inside * inverse + slope * beyond, slope};
    return gas;
}

/* Unloading modulus E/(1 + a kappa) [Pa]. */
static inline double foam_unloading(struct foam_values values, double kappa)
{
    return values.young / (1.0 + values.softening * kappa);
}

#endif
