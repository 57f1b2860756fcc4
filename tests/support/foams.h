#ifndef FOAMPULSE_SUPPORT_FOAMS_H
#define FOAMPULSE_SUPPORT_FOAMS_H

#include <criterion/criterion.h>
#include <math.h>
#include <stdio.h>

#include "materials/foam.h"

/* Foams that several tests are made of, and a check that prints its figure. */

/* EPS by the default formulas, at 23 degC. */
static inline struct foam_parameters foams_polystyrene(double density)
{
    double r = density / 1050;
    return (struct foam_parameters){.name = "eps",
                                    .density = density,
                                    .solid_density = 1050,
                                    .solid_modulus = 3e9,
                                    .temperature = 23,
                                    .youngs_modulus = 0.694 * 3e9 * pow(r, 1.54),
                                    .collapse_stress = 840 * pow(density, 1.6),
                                    .gas_pressure = 101325,
                                    .unloading_softening = 3,
                                    .tensile_strength = 4e5,
                                    .rate_gain = 0.06,
                                    .rate_reference = 1.67e-3,
                                    .rate_time = 50e-6};
}

/* Plateau + gas with a sharp knee, no rate, unloading as steep as loading: the material of the closed forms.
 */
static inline struct foam_parameters foams_plain(double density, double plateau, double gas, double young)
{
    return (struct foam_parameters){.name = "plain",
                                    .density = density,
                                    .solid_density = 1050,
                                    .temperature = 23,
                                    .youngs_modulus = young,
                                    .collapse_stress = plateau,
                                    .sharp = 1,
                                    .gas_pressure = gas,
                                    .tensile_strength = 1e9,
                                    .rate_reference = 1,
                                    .rate_time = 50e-6,
                                    .shear_modulus = young / 2,
                                    .shear_strength = plateau};
}

/* A foam of sound parameters. */
static inline struct foam foams_make(const struct foam_parameters *parameters)
{
    struct foam foam;
    struct errors errors = {0};
    enum status status = foam_make(parameters, &foam, &errors);
    cr_assert(status == STATUS_OK, "%s", errors.kept[0].text);
    return foam;
}

/* Holds a value to what is expected within a relative tolerance, and prints both. */
static inline void near(const char *what, double value, double expected, double tolerance)
{
    double error = value / expected - 1.0;
    printf("figure: %-46s %12.6g  expected %12.6g  %+.3f %% (limit %.2f %%)\n", what, value, expected,
           error * 100.0, tolerance * 100.0);
    cr_expect(fabs(error) <= tolerance, "%s: %g, expected %g within %g", what, value, expected, tolerance);
}

#endif
