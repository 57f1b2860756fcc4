#include "solver/study/rotation.h"

#include <math.h>

#include "solver/base/numeric.h"
#include "solver/impact/headform.h"

static const double least_offset = 1e-6; /* [m]: below, the centre of gravity lies on the site's axis */

void rotation_direction(const double angles[2], double unit[3])
{
    double level = numeric_cos(angles[0]);
    unit[0] = level * numeric_cos(angles[1]);
    unit[1] = level * numeric_sin(angles[1]);
    unit[2] = -numeric_sin(angles[0]);
}

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static void cross(const double a[3], const double b[3], double c[3])
{
    for (int i = 0; i < 3; i++)
        c[i] = a[(i + 1) % 3] * b[(i + 2) % 3] - a[(i + 2) % 3] * b[(i + 1) % 3];
}

/* The part of v across the unit vector n, as a unit vector; its length. */
static double across(const double v[3], const double n[3], double unit[3])
{
    double along = dot(v, n), part[3];
    for (int i = 0; i < 3; i++)
        part[i] = v[i] - along * n[i];
    double length = sqrt(dot(part, part));
    for (int i = 0; i < 3; i++)
        unit[i] = length > 0.0 ? part[i] / length : 0.0;
    return length;
}

void rotation_setup(const struct case_file *file, const struct case_impact *impact, double gravity,
                    struct oblique_setup *setup, double *aside)
{
    const struct case_headform *head = &file->headform;
    double normal[3], along[3], towards[3], sine = numeric_sin(impact->angle);
    rotation_direction((double[]){impact->elevation, impact->azimuth}, normal);
    *aside = 0.0;
    *setup = (struct oblique_setup){.active = impact->angle > 0.0,
                                    .speed = impact->speed[0] * sine,
                                    .gravity = gravity * sine,
                                    .face_friction = impact->anvil.friction};
    if (setup->active) {
        rotation_direction(impact->towards, towards);
        across(towards, normal, along);
    } else if (across(head->cg_offset, normal, along) > least_offset) {
        setup->active = 1;
    }
    cross(normal, along, setup->axis);
    setup->offset_along = dot(head->cg_offset, along);
    double across_plane = dot(head->cg_offset, setup->axis), deep = dot(head->cg_offset, normal);
    *aside = impact->angle > 0.0 ? sqrt(across_plane * across_plane + deep * deep) : 0.0;
    for (int i = 0; i < 3; i++) {
        double square = setup->axis[i] * setup->axis[i];
        setup->head_inertia += square * head->inertia[i];
        setup->helmet_inertia += square * file->shell.helmet_inertia[i];
    }
}

double rotation_head_friction(const struct case_file *file, const struct case_impact *impact)
{
    const struct headform_skin *skin = headform_skin_find(file->headform.skin);
    if (!isnan(impact->head_friction))
        return impact->head_friction;
    return skin ? skin->friction : headform_skins[0].friction;
}
