#ifndef FOAMPULSE_CASES_FOAMS_H
#define FOAMPULSE_CASES_FOAMS_H

#include "cases/case.h"
#include "materials/registry.h"

/*
 * From what a case says of foams to the foams of materials/.
 */

/* The case's own foam of this name; NULL when there is none. */
const struct case_foam *case_foam_find(const struct case_file *file, const char *name);

/* What a case says of an own foam, in the registry's terms; borrows from it. */
struct registry_own case_foam_own(const struct case_foam *foam);

/* Makes the foam of a part of a layer at a temperature [degC], own foams before those of the registry; as
 * registry_foam otherwise. */
enum status case_foam_make(const struct case_file *file, const struct registry *registry,
                           const struct case_part *part, double temperature, struct foam *foam,
                           struct registry_report *report, struct errors *errors);

/* Pressure [Pa] and density [kg/m3] of the case's comfort padding; 0 without any. As registry_comfort. */
enum status case_comfort(const struct case_file *file, const struct registry *registry, double *pressure,
                         double *density, struct errors *errors);

#endif
