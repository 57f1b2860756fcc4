#ifndef FOAMPULSE_STUDY_RESOLVE_H
#define FOAMPULSE_STUDY_RESOLVE_H

#include "cases/case.h"
#include "cases/result.h"
#include "cases/stack.h"
#include "materials/registry.h"
#include "materials/shell_material.h"
#include "solver/impact/axisymmetric.h"
#include "solver/impact/pad.h"

/*
 * Step 2 of the life of a run and the set-up of step 3: what a case names becomes what the solvers take. A
 * foam is made once for each impact, at its temperature; the shares of the regions on the site's rings and
 * the closed stacks follow from the case's map.
 */

enum { RESOLVE_SENTENCE = 256 };

/* What all impacts of a case share. */
struct resolver {
    const struct case_file *file;
    struct registry registry;
    struct shell_materials shells;
    struct shell_choice shell;
    double comfort_stress, comfort_density; /* 0 without a comfort layer */
    struct stack_masses masses;             /* zero for a pad */
    int axisymmetric;                       /* set up for the model of this name; set by the caller */
};

/* One impact, set up. The setups point into the arrays here. */
struct resolved {
    size_t foam_count;
    struct foam *foams; /* owned */
    double *shares;     /* by region and ring, and the bare share */
    struct pad_setup pad;
    struct columns_setup columns;
    double aside;        /* of the centre of gravity from the plane of motion [m] */
    double *zone_shares; /* the same between rings, without the bare share; NULL for columns */
    struct axisymmetric_setup zones;
};

/* Loads materials and closes the helmet. Errors are located in the case. On failure zeroed. */
enum status resolver_make(const struct case_file *file, struct resolver *resolver, struct errors *errors);
void resolver_free(struct resolver *resolver);

/* Adds what the materials assume (values from memory, extrapolated densities) to a list. */
enum status resolver_assumptions(const struct resolver *resolver, char ***list, size_t *count);

/* What resists crushing in each region (region_count) [Pa/m]: the plateau of its weakest layer, which yields
 * first, over the thickness of its foam; 0 for an opening, NaN where a foam has no value at this temperature.
 */
enum status resolve_stiffness(const struct resolver *resolver, double temperature, double *stiffness);

/* Sets up one impact. STATUS_OK with a sentence when it cannot be computed for want of data or by this
 * version ("" when it can). */
enum status resolve_impact(const struct resolver *resolver, const struct case_impact *impact,
                           struct resolved *resolved, char sentence[RESOLVE_SENTENCE], struct errors *errors);
void resolved_free(struct resolved *resolved);

#endif
