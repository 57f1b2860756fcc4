#include "solver/impact/oblique_model.h"

#include <math.h>

#include "solver/base/numeric.h"

static const double shear_cell = 4e-3; /* [m]: 35 mm of foam is crossed in 0.1 ms of a pulse of 8 ms */

_Static_assert((int)SHEAR_REGIONS >= (int)COLUMNS_REGIONS, "every region of a helmet has its shear");

/* Mass [kg] of the shell on the rings, and its moment of inertia [kg m2] about an axis across the site's. */
static double shell_on_rings(const struct columns_setup *helmet, double radius, double *inertia)
{
    double edge[COLUMNS_RINGS + 1], sum = 0.0;
    columns_ring_edges(helmet->rings, helmet->phi_max, edge);
    *inertia = 0.0;
    for (size_t i = 0; i < helmet->rings && helmet->shell_thickness > 0.0; i++) {
        double a = numeric_cos(edge[i]), b = numeric_cos(edge[i + 1]),
               there = helmet->bare ? 1.0 - helmet->bare[i] : 1.0;
        double mass = helmet->shell.density * helmet->shell_thickness * radius * radius * 2.0 *
                      3.14159265358979323846 * (a - b) * there;
        sum += mass;
        *inertia += mass * radius * radius * 0.5 * (1.0 + (a * a + a * b + b * b) / 3.0);
    }
    return sum;
}

static void take_liner(const struct columns_setup *helmet, struct shear_setup *liner)
{
    *liner = (struct shear_setup){.rings = helmet->rings,
                                  .phi_max = helmet->phi_max,
                                  .outer_radius = helmet->outer_radius,
                                  .cell = shear_cell,
                                  .mismatch = helmet->mismatch,
                                  .region_count = helmet->region_count,
                                  .slip_friction = helmet->layer_friction,
                                  .bond_friction = helmet->loose ? helmet->bond_friction : INFINITY};
    for (size_t k = 0; k < helmet->region_count; k++) {
        const struct columns_region *region = &helmet->regions[k];
        liner->regions[k] =
            (struct shear_region){.share = region->share,
                                  .layer_count = region->layer_count,
                                  .layers = region->layers,
                                  .room = region->comfort_thickness + region->gap,
                                  .inner_mass = region->comfort_thickness * region->comfort_density};
    }
}

enum status oblique_of_helmet(const struct columns_setup *helmet, double mass, struct oblique_model *model)
{
    double radius = helmet->outer_radius + 0.5 * helmet->shell_thickness, inertia;
    struct oblique_setup setup = helmet->oblique;
    struct shear_setup liner;
    *model = (struct oblique_model){.setup = setup, .shear.step = INFINITY};
    if (!setup.active)
        return STATUS_OK;
    setup.head_mass = helmet->head_mass;
    setup.helmet_mass = mass;
    setup.head_friction = helmet->head_friction;
    take_liner(helmet, &liner);
    enum status status = oblique_model_make(&setup, &liner, model);
    if (status != STATUS_OK)
        return status;
    double rest = mass - shell_on_rings(helmet, radius, &inertia) - model->shear.mass;
    double given = setup.helmet_inertia - shear_inertia(&model->shear);
    model->setup.shell_inertia = inertia + (rest > 0.0 ? 2.0 / 3.0 * rest * radius * radius : 0.0);
    if (!isnan(given))
        model->setup.shell_inertia = given > inertia ? given : inertia;
    return STATUS_OK;
}
