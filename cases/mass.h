#ifndef FOAMPULSE_CASES_MASS_H
#define FOAMPULSE_CASES_MASS_H

#include "cases/case.h"
#include "cases/stack.h"
#include "solver/base/status.h"

/* Densities [kg/m3] of a helmet's shell and comfort padding for stack_masses; 0 where it has none. Those of
 * the case come before those of the data files. On failure both are 0. */
enum status case_densities(const struct case_file *file, double *shell, double *comfort,
                           struct errors *errors);

/* With `helmet_mass` the other parts get what is left of it: STATUS_INPUT, at its place, when that is less
 * than nothing. */
enum status case_masses_check(const struct case_file *file, const struct stack_masses *masses,
                              struct errors *errors);

/* What a helmet weighs by part. `share` (region_count + 1) gets the regions' shares of the sphere and
 * `region_liner` (region_count) the liner's mass by region [kg]; both may be NULL. STATUS_INPUT when the
 * parts weigh more than `helmet_mass`. On failure the masses are zeroed. */
enum status case_masses(const struct case_file *file, struct stack_masses *masses, double *share,
                        double *region_liner, struct errors *errors);

#endif
