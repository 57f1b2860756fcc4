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

/* The segment of a table that holds u; the last one goes on beyond the table. */
static inline struct foam_line foam_segment(const double *table, double last, double step, double u)
{
    double place = u * (1.0 / step);
    int32_t i = (int32_t)(place < last ? place : last);
    double low = table[i], slope = (table[i + 1] - low) * (1.0 / step);
    struct foam_line line = {low - slope * ((double)i * step), slope};
    return line;
}

/* What a foam's table needs at every look-up. */
struct foam_table {
    const double *plateau, *densification; /* (count); the second may be NULL */
    double last;                           /* index of the last segment */
    double step;
    double inverse_young; /* 1/E [1/Pa] */
};

static inline struct foam_table foam_table(const struct foam *foam)
{
    struct foam_table table = {foam->yield_table, foam->densification_table, (double)(foam->table_count - 2),
                               foam->table_step, 1.0 / foam->young};
    return table;
}

/* The line of Y_f at u: f (A + B u/sqrt f) plus densification. `root` is sqrt f. */
static inline struct foam_line foam_yield_line(struct foam_table table, int densifies, double root, double u)
{
    struct foam_line line = foam_segment(table.plateau, table.last, table.step, u / root);
    line.intercept *= root * root;
    line.slope *= root;
    if (densifies) {
        struct foam_line more = foam_segment(table.densification, table.last, table.step, u);
        line.intercept += more.intercept;
        line.slope += more.slope;
    }
    return line;
}

/* u on a line where kappa + Y/E = t. */
static inline double foam_line_meets(struct foam_table table, struct foam_line line, double t)
{
    double b = 0.5 * line.slope * table.inverse_young;
    double square = b * b + (t - line.intercept * table.inverse_young);
    double u = sqrt(square > 0.0 ? square : 0.0) - b;
    return u > 0.0 ? u : 0.0;
}

/* Gas pressure above the atmosphere [Pa] at strain m of the matter: p0 m/(1 - m - R), zero in tension; beyond
 * 0.98 (1 - R) straight on. Boyle's law at constant temperature and no lateral strain (Gilchrist and Mills).
 */
struct foam_gas {
    double pressure, slope;
};

static inline struct foam_gas foam_gas(const struct foam *foam, double m)
{
    double room = 1.0 - foam->relative_density, limit = 0.98 * room;
    double inside = m < limit ? m : limit;
    inside = inside > 0.0 ? inside : 0.0;
    double inverse = 1.0 / (room - inside);
    double slope = foam->gas_pressure * room * inverse * inverse;
    double beyond = m > limit ? m - limit : 0.0;
    struct foam_gas gas = {foam->gas_pressure * inside * inverse + slope * beyond, slope};
    return gas;
}

#endif
