#include "solver/impact/columns.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"
#include "solver/impact/oblique_model.h"

/*
 * The constant part of a helmet by columns: nodes, shell, stacks, masses, contacts. Contact stiffness is set
 * once from the first step, so that it does not change the step it was derived from.
 */

static const double pi = 3.14159265358979323846;
static const double least_share = 1e-9;
static const double largest_bare = 0.999;

enum { LEAST_ROWS = 2 }; /* a layer */

struct columns_setup columns_setup_default(void)
{
    return (struct columns_setup){.rings = 48,
                                  .phi_max = 80.0 * pi / 180.0,
                                  .gravity = 9.80665,
                                  .cell = 1.75e-3,
                                  .duration = 25e-3,
                                  .courant = 0.7,
                                  .viscosity_linear = 0.06,
                                  .viscosity_quadratic = 1.2,
                                  .head_friction = 0.16,
                                  .contact_damping = 0.6,
                                  .contact_points = 4,
                                  .layer_friction = INFINITY,
                                  .helmet_mass = NAN};
}

static double node_angle(const struct columns_setup *setup, size_t i)
{
    return (double)i * setup->phi_max / (double)(setup->rings - 1);
}

/* Border number i of the rings: half-way between nodes, the axis and phi_max at the ends. */
static double ring_edge(size_t rings, double phi_max, size_t i)
{
    double pitch = phi_max / (double)(rings - 1);
    return i == 0 ? 0.0 : i == rings ? phi_max : ((double)i - 0.5) * pitch;
}

void columns_ring_edges(size_t rings, double phi_max, double *edge)
{
    for (size_t i = 0; i <= rings; i++)
        edge[i] = ring_edge(rings, phi_max, i);
}

static double ring_solid_angle(const struct columns_setup *setup, size_t i)
{
    double from = ring_edge(setup->rings, setup->phi_max, i),
           to = ring_edge(setup->rings, setup->phi_max, i + 1);
    return 2.0 * pi * (numeric_cos(from) - numeric_cos(to));
}

/* Area of ring i on the liner's outer face; seen along the axis for parallel columns. */
static double ring_area(const struct columns_setup *setup, size_t i)
{
    double radius = setup->outer_radius;
    if (!setup->parallel)
        return radius * radius * ring_solid_angle(setup, i);
    double a = radius * numeric_sin(ring_edge(setup->rings, setup->phi_max, i));
    double b = radius * numeric_sin(ring_edge(setup->rings, setup->phi_max, i + 1));
    return pi * (b * b - a * a);
}

static enum status make_nodes(struct columns_model *model)
{
    const struct columns_setup *setup = &model->setup;
    size_t rings = setup->rings;
    double *next = model->memory = memory_zeroed(8 * rings, sizeof *next);
    if (!next)
        return STATUS_MEMORY;
    double **const arrays[] = {&model->r,        &model->z,           &model->normal_r,
                               &model->normal_z, &model->mass_normal, &model->mass_across,
                               &model->shear,    &model->shear_limit};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += rings)
        *arrays[a] = next;
    model->node_offset = 0.5 * setup->shell_thickness;
    double radius = setup->outer_radius + model->node_offset;
    for (size_t i = 0; i < rings; i++) {
        double sine = numeric_sin(node_angle(setup, i)), cosine = numeric_cos(node_angle(setup, i));
        model->r[i] = i == 0 ? 0.0 : radius * sine;
        model->z[i] = radius * (1.0 - cosine) + model->node_offset;
        model->normal_r[i] = i == 0 || setup->parallel ? 0.0 : sine;
        model->normal_z[i] = i == 0 || setup->parallel ? -1.0 : -cosine;
    }
    return STATUS_OK;
}

/* Shell over the nodes; rings that are open almost whole keep a trace, so that every node has mass. */
static enum status make_shell(struct columns_model *model)
{
    const struct columns_setup *setup = &model->setup;
    double bare[COLUMNS_RINGS];
    if (setup->shell_thickness <= 0.0)
        return STATUS_OK;
    for (size_t i = 0; i < setup->rings; i++) {
        double share = setup->bare ? setup->bare[i] : 0.0;
        bare[i] = share < largest_bare ? share : largest_bare;
    }
    struct shell_setup shell = {.node_count = setup->rings,
                                .r = model->r,
                                .z = model->z,
                                .thickness = setup->shell_thickness,
                                .sheet = setup->shell,
                                .start = SHELL_POLE,
                                .end = SHELL_FREE,
                                .bare = bare,
                                .hoop = setup->hoop};
    enum status status = shell_model_make(&shell, &model->shell);
    if (status != STATUS_OK)
        return status;
    model->has_shell = 1;
    model->is_loose = setup->loose;
    for (size_t i = 0; i < setup->rings; i++) {
        model->mass_normal[i] += model->shell.mass[i];
        model->mass_across[i] += model->shell.mass[i];
    }
    return STATUS_OK;
}

/* Where a column starts on the head, and how much room it has there. */
static void place_column(const struct columns_model *model, const struct columns_region *region, size_t node,
                         struct columns_group *group, size_t column, double liner_thickness)
{
    const struct columns_setup *setup = &model->setup;
    group->node[column] = (int)node;
    group->space[column] = region->comfort_thickness + region->gap +
                           setup->mismatch * (1.0 - numeric_cos(node_angle(setup, node)));
    group->head_distance[column] = setup->outer_radius - liner_thickness - group->space[column];
    if (setup->parallel) {
        group->head_distance[column] = setup->head_radius;
        double centre = setup->outer_radius + setup->shell_thickness;
        group->anchor_r[column] = model->r[node];
        group->anchor_z[column] = model->z[node] + model->node_offset + liner_thickness +
                                  group->space[column] + setup->head_radius - centre;
    }
}

static double slowest_layer_plateau(const struct columns_region *region)
{
    double least = INFINITY;
    for (size_t layer = 0; layer < region->layer_count; layer++) {
        double sum = 0.0;
        for (size_t part = 0; part < region->layers[layer].part_count; part++)
            sum += region->layers[layer].parts[part].share * region->layers[layer].parts[part].foam->plateau;
        least = sum < least ? sum : least;
    }
    return least;
}

/* Shear of a stack: layers in series, G = E / 2 by shares. */
static double stack_shear(const struct columns_region *region)
{
    double compliance = 0.0;
    for (size_t layer = 0; layer < region->layer_count; layer++) {
        double sum = 0.0;
        for (size_t part = 0; part < region->layers[layer].part_count; part++)
            sum +=
                region->layers[layer].parts[part].share * 0.5 * region->layers[layer].parts[part].foam->young;
        compliance += region->layers[layer].thickness / sum;
    }
    return 1.0 / compliance;
}

double columns_thickness(const struct columns_region *region)
{
    return liner_thickness(region->layers, region->layer_count);
}

static enum status take_columns(struct columns_group *group, size_t columns)
{
    double *next = group->memory = memory_zeroed(8 * columns, sizeof *next);
    group->node = memory_zeroed(columns, sizeof *group->node);
    if (!next || !group->node)
        return STATUS_MEMORY;
    group->anchor_r = next;
    group->anchor_z = next + columns;
    group->head_distance = next + 2 * columns;
    group->space = next + 3 * columns;
    group->bearing = next + 4 * columns;
    group->damping = next + 5 * columns;
    group->bond = next + 6 * columns;
    group->bond_damping = next + 7 * columns;
    return STATUS_OK;
}

/* Fills one column and hands its masses to the node: the half cell at a bonded shell along the line,
 * everything across it. */
static void fill_column(struct columns_model *model, const struct columns_region *region, size_t node,
                        struct columns_group *group, size_t column, const struct liner_rows *rows)
{
    const struct columns_setup *setup = &model->setup;
    struct liner_group *liner = &group->liner;
    double share = region->share[node], area = share * ring_area(setup, node);
    place_column(model, region, node, group, column, columns_thickness(region));
    liner_group_column(liner, column, area, setup->parallel ? 0.0 : setup->outer_radius, region->layers,
                       region->layer_count, rows);
    size_t inner = liner->rows * liner->columns + column;
    double inner_radius = setup->outer_radius - columns_thickness(region);
    double inner_area = share * inner_radius * inner_radius * ring_solid_angle(setup, node);
    liner->mass[inner] += inner_area * region->comfort_thickness * region->comfort_density;
    double across = 0.0;
    for (size_t k = column; k <= inner; k += liner->columns) {
        liner->gravity[k] = -setup->gravity * model->normal_z[node];
        across += liner->mass[k];
    }
    model->mass_normal[node] += model->is_loose ? 0.0 : liner->mass[column];
    model->mass_across[node] += across;
    if (!setup->parallel) {
        model->shear[node] += area * stack_shear(region);
        model->shear_limit[node] += 0.5 * area * slowest_layer_plateau(region);
    }
}

static enum status make_group(struct columns_model *model, int index)
{
    const struct columns_setup *setup = &model->setup;
    const struct columns_region *region = &setup->regions[index];
    size_t columns = 0;
    for (size_t i = 0; i < setup->rings; i++)
        columns += region->share[i] > least_share;
    if (columns == 0 || region->layer_count == 0)
        return STATUS_OK;
    struct columns_group *group = &model->groups[model->group_count++];
    group->region = index;
    struct liner_rows rows;
    liner_cut(region->layers, region->layer_count, setup->cell, LEAST_ROWS, &rows);
    if (take_columns(group, columns) != STATUS_OK || !liner_group_make(&group->liner, columns, &rows))
        return STATUS_MEMORY;
    size_t column = 0;
    for (size_t i = 0; i < setup->rings; i++) {
        if (region->share[i] > least_share)
            fill_column(model, region, i, group, column++, &rows);
    }
    group->liner.viscosity_linear = setup->viscosity_linear;
    group->liner.viscosity_quadratic = setup->viscosity_quadratic;
    model->cell_count += rows.rows * columns;
    model->layer_count += region->layer_count;
    return STATUS_OK;
}

/* First step: stiffest virgin cell, and the shell. */
static double first_step(const struct columns_model *model)
{
    double step = model->has_shell ? 2.0 / model->shell.largest_frequency : INFINITY;
    for (size_t g = 0; g < model->group_count; g++) {
        const struct liner_group *liner = &model->groups[g].liner;
        for (size_t b = 0; b < liner->block_count; b++) {
            const struct liner_block *block = &liner->blocks[b];
            double slope = block->foam->young + block->foam->gas_pressure;
            size_t from = block->first_row * liner->columns;
            for (size_t k = from; k < from + block->row_count * liner->columns; k++) {
                double limit = sqrt(liner->inertia[k] / slope);
                step = limit < step ? limit : step;
            }
        }
    }
    return model->setup.courant * step;
}

/* Penalty between a loose shell and the end of one column, of the lighter side: the foam, or what of the
 * shell's node lies over it. */
static void set_bond(struct columns_model *model, struct columns_group *group, size_t c)
{
    int node = group->node[c];
    double over = model->mass_normal[node] * model->setup.regions[group->region].share[node];
    double mass = group->liner.mass[c], shell = over * PENALTY_ON_SHELL / PENALTY_ON_FOAM;
    penalty_set(mass < shell ? mass : shell, model->step, PENALTY_ON_FOAM, model->setup.contact_damping,
                &group->bond[c], &group->bond_damping[c]);
}

/* Penalties of the step that is usual on this mesh, so that shorter ones solve the same equations. */
static enum status set_contacts(struct columns_model *model)
{
    const struct columns_setup *setup = &model->setup;
    double usual = columns_setup_default().courant, share = setup->contact_damping;
    double step = model->step * (setup->courant < usual ? usual / setup->courant : 1.0);
    double on_anvil = model->has_shell ? PENALTY_ON_SHELL : PENALTY_ON_FOAM;
    double stiffness[COLUMNS_RINGS], damping[COLUMNS_RINGS];
    for (size_t i = 0; i < setup->rings; i++) {
        stiffness[i] = setup->contact_stiffness;
        penalty_set(model->mass_normal[i], step, on_anvil, share, &stiffness[i], &damping[i]);
    }
    for (size_t g = 0; g < model->group_count; g++) {
        struct columns_group *group = &model->groups[g];
        size_t inner = group->liner.rows * group->liner.columns;
        for (size_t c = 0; c < group->liner.columns; c++) {
            penalty_set(group->liner.mass[inner + c], step, PENALTY_ON_FOAM, share, &group->bearing[c],
                        &group->damping[c]);
            if (model->is_loose)
                set_bond(model, group, c);
        }
    }
    if (!model->has_shell)
        return contact_at_nodes(setup->rings, stiffness, damping, model->node_offset, &model->contact);
    return contact_on_segments(setup->rings, model->r, model->shell.length, setup->contact_points, stiffness,
                               damping, model->node_offset, &model->contact);
}

enum status columns_model_make(const struct columns_setup *setup, struct columns_model *model)
{
    *model = (struct columns_model){.setup = *setup};
    enum status status = make_nodes(model);
    if (status == STATUS_OK)
        status = make_shell(model);
    for (size_t k = 0; status == STATUS_OK && k < setup->region_count; k++)
        status = make_group(model, (int)k);
    if (status != STATUS_OK) {
        columns_model_free(model);
        return status;
    }
    double rest = setup->helmet_mass - columns_model_mass(model);
    if (rest > 0.0) {
        model->mass_normal[setup->rings - 1] += rest;
        model->mass_across[setup->rings - 1] += rest;
    }
    status = oblique_of_helmet(setup, columns_model_mass(model), &model->oblique);
    model->step = numeric_smaller(first_step(model), setup->courant * model->oblique.shear.step);
    if (status == STATUS_OK)
        status = set_contacts(model);
    if (status != STATUS_OK)
        columns_model_free(model);
    return status;
}

void columns_model_free(struct columns_model *model)
{
    for (size_t g = 0; g < model->group_count; g++) {
        liner_group_free(&model->groups[g].liner);
        memory_free(model->groups[g].memory);
        memory_free(model->groups[g].node);
    }
    oblique_model_free(&model->oblique);
    shell_model_free(&model->shell);
    contact_model_free(&model->contact);
    memory_free(model->memory);
    *model = (struct columns_model){0};
}

double columns_model_mass(const struct columns_model *model)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->setup.rings; i++)
        sum += model->mass_across[i];
    return sum;
}
