#ifndef FOAMPULSE_MATERIALS_FOAM_H
#define FOAMPULSE_MATERIALS_FOAM_H

#include "solver/base/status.h"
#include "solver/impact/law.h"

/*
 * Crushable foam: skeleton with plastic crush and unloading, gas in closed cells, rate state, tension cut.
 *
 * Virgin curve S(e), slope E at 0 (compression positive, nominal strain):
 *   rounded knee  sigma_pl (1 - exp(-(E - H) e/sigma_pl)) + H e
 *   sharp knee    min(E e, sigma_pl + H e)
 *   or a measured curve, straight between its points;
 *   densification E_d max(0, e - e_d)^2/(1 - R - e_d), e_d = 0.9 (1 - R), straight on where S would become
 *   steeper than 0.9 E.
 * Yield stress Y(kappa) = S(kappa + Y/E); unloading on E_u = E/(1 + a kappa). Loading follows S, unloading
 * E_u, reloading E_u up to the virgin curve. With the rate factor f = 1 + k log10(max(r/r_ref, 1)) the part
 * without densification is S_f(e) = f S(e/f).
 */

/* One foam at one density and one temperature. SI. */
struct foam_parameters {
    char name[FOAM_NAME];
    double density, solid_density; /* [kg/m3] */
    double temperature;            /* [degC] */
    double youngs_modulus;         /* E [Pa] */
    double collapse_stress;        /* sigma_pl [Pa] */
    double hardening;              /* H [Pa] */
    int sharp;                     /* the knee */
    double gas_pressure;           /* p0 [Pa]; 0 for open cells */
    double solid_modulus;          /* E_s [Pa] of the solid, met where pores are closed; 0: not counted */
    double unloading_softening;    /* a */
    double tensile_strength, crushed_tension;
    double rate_gain, rate_reference, rate_time;
    double shear_modulus, shear_strength, shear_friction;
    double densification_modulus; /* E_d [Pa], 0 for none */
    /* Measured curve instead of sigma_pl, H and knee: total stress [Pa] at rising strain, (curve_count),
     * without the origin; the gas is taken off. Owned by the caller, not kept. */
    size_t curve_count;
    const double *curve_strain, *curve_stress;
};

/* The only foam law. */
extern const struct law foam_law;

/* Makes the tables of a foam; release it with foam_free. STATUS_INPUT with a sentence naming the parameter
 * when a value is out of its range or the law would create energy; STATUS_MEMORY. `foam` is zeroed on
 * failure. */
enum status foam_make(const struct foam_parameters *parameters, struct foam *foam, struct errors *errors);

void foam_free(struct foam *foam);

/* Energy per volume [J/m3] that the virgin curve at the reference rate has taken up at a strain of 0 .. 1. */
double foam_energy(const struct foam *foam, double strain);

/* A new plateau sigma_pl such that the total virgin curve at the reference rate has `stress` [Pa] at strain
 * 0.1, the way data sheets give it; NaN when the gas alone carries more. Other parameters as given. */
double foam_collapse_from_stress_10(const struct foam_parameters *parameters, double stress);

#endif
