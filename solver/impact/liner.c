#include "solver/impact/liner.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"

enum { CELL_ARRAYS = 6, NODE_ARRAYS = 3, ZONE_ARRAYS = 8 };

/* Arrays start on a cache line. */
static size_t padded(size_t count)
{
    return (count + 7) / 8 * 8;
}

static double *take(double **next, size_t count)
{
    double *array = *next;
    *next += padded(count);
    return array;
}

void liner_cut(const struct liner_layer *layers, size_t layer_count, double cell, size_t least,
               struct liner_rows *rows)
{
    rows->rows = rows->block_count = 0;
    for (size_t layer = 0; layer < layer_count; layer++) {
        const struct liner_layer *from = &layers[layer];
        size_t count = (size_t)ceil(from->thickness / cell * (1.0 - 1e-12));
        rows->row_count[layer] = count < least ? least : count;
        for (size_t part = 0; part < from->part_count; part++)
            rows->blocks[rows->block_count++] = (struct liner_block){.foam = from->parts[part].foam,
                                                                     .share = from->parts[part].share,
                                                                     .layer = (int)layer + 1,
                                                                     .first_row = rows->rows,
                                                                     .row_count = rows->row_count[layer]};
        rows->rows += rows->row_count[layer];
    }
}

double liner_thickness(const struct liner_layer *layers, size_t layer_count)
{
    double sum = 0.0;
    for (size_t layer = 0; layer < layer_count; layer++)
        sum += layers[layer].thickness;
    return sum;
}

double liner_best_strain(const struct liner_layer *layer)
{
    double least = 1.0;
    for (size_t part = 0; part < layer->part_count; part++)
        least = layer->parts[part].foam->best_strain < least ? layer->parts[part].foam->best_strain : least;
    return least;
}

int liner_group_make(struct liner_group *group, size_t columns, const struct liner_rows *rows)
{
    *group = (struct liner_group){.columns = columns, .rows = rows->rows, .block_count = rows->block_count};
    size_t cells = rows->rows * columns, nodes = cells + columns;
    double *next = memory_zeroed(4 * padded(cells) + 2 * padded(nodes), sizeof *next);
    group->blocks = memory_zeroed(rows->block_count, sizeof *group->blocks);
    group->area = next;
    if (!next || !group->blocks) {
        liner_group_free(group);
        return 0;
    }
    memcpy(group->blocks, rows->blocks, rows->block_count * sizeof *group->blocks);
    group->area = take(&next, cells);
    group->length = take(&next, cells);
    group->inverse_length = take(&next, cells);
    group->inertia = take(&next, cells);
    group->mass = take(&next, nodes);
    group->gravity = take(&next, nodes);
    return 1;
}

void liner_group_free(struct liner_group *group)
{
    memory_free(group->area);
    memory_free(group->blocks);
    *group = (struct liner_group){0};
}

/* Density of a row, voids and shares taken in. */
static double row_density(const struct liner_group *group, size_t row)
{
    double density = 0.0;
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        if (row >= block->first_row && row < block->first_row + block->row_count)
            density += block->share * block->foam->density;
    }
    return density;
}

/* Volume of a cell between two depths: a prism, or a slice of the cone whose outer face has `area`. */
static double cell_volume(double area, double outer_radius, double from, double to)
{
    if (outer_radius <= 0.0)
        return area * (to - from);
    double a = outer_radius - from, b = outer_radius - to;
    return area * (a * a * a - b * b * b) / (3.0 * outer_radius * outer_radius);
}

void liner_group_column(struct liner_group *group, size_t column, double area, double outer_radius,
                        const struct liner_layer *layers, size_t layer_count, const struct liner_rows *rows)
{
    size_t row = 0, stride = group->columns;
    double depth = 0.0;
    for (size_t layer = 0; layer < layer_count; layer++) {
        double length = layers[layer].thickness / (double)rows->row_count[layer];
        for (size_t i = 0; i < rows->row_count[layer]; i++, row++) {
            double from = depth + (double)i * length;
            double mass = row_density(group, row) * cell_volume(area, outer_radius, from, from + length);
            size_t k = row * stride + column;
            group->area[k] = area;
            group->length[k] = length;
            group->inverse_length[k] = 1.0 / length;
            group->inertia[k] = mass * length / area;
            group->mass[k] += 0.5 * mass;
            group->mass[k + stride] += 0.5 * mass;
        }
        depth += layers[layer].thickness;
    }
}

/* Hands each block its eight arrays out of one allocation. */
static int make_zones(const struct liner_group *group, struct liner_state *state)
{
    size_t size = 0;
    for (size_t b = 0; b < group->block_count; b++)
        size += ZONE_ARRAYS * padded(group->blocks[b].row_count * group->columns);
    state->zones = memory_zeroed(group->block_count, sizeof *state->zones);
    double *next = state->zone_memory = memory_zeroed(size, sizeof *next);
    if (!state->zones || !next)
        return 0;
    for (size_t b = 0; b < group->block_count; b++) {
        struct foam_zones *zones = &state->zones[b];
        zones->count = group->blocks[b].row_count * group->columns;
        zones->strain = state->strain + group->blocks[b].first_row * group->columns;
        zones->matter = take(&next, zones->count);
        zones->skeleton = take(&next, zones->count);
        zones->plastic = take(&next, zones->count);
        zones->rate = take(&next, zones->count);
        zones->dissipated = take(&next, zones->count);
        zones->stress = take(&next, zones->count);
        zones->tangent = take(&next, zones->count);
        zones->floor = take(&next, zones->count);
    }
    return 1;
}

int liner_state_make(const struct liner_group *group, struct liner_state *state)
{
    *state = (struct liner_state){0};
    size_t cells = group->rows * group->columns, nodes = cells + group->columns;
    double *next = state->memory =
        memory_zeroed(CELL_ARRAYS * padded(cells) + NODE_ARRAYS * padded(nodes), sizeof *next);
    if (!next)
        return 0;
    state->position = take(&next, nodes);
    state->velocity = take(&next, nodes);
    state->force = take(&next, nodes);
    state->strain = take(&next, cells);
    state->change = take(&next, cells);
    state->viscous = take(&next, cells);
    state->stress = take(&next, cells);
    state->tangent = take(&next, cells);
    state->artificial = take(&next, cells);
    if (!make_zones(group, state)) {
        liner_state_free(state);
        return 0;
    }
    for (size_t k = 0; k < cells; k++)
        state->position[k + group->columns] = state->position[k] - group->length[k];
    return 1;
}

void liner_state_free(struct liner_state *state)
{
    memory_free(state->memory);
    memory_free(state->zone_memory);
    memory_free(state->zones);
    *state = (struct liner_state){0};
}

struct liner_bounds liner_update(const struct liner_group *group, struct liner_state *state, double dt)
{
    static void (*const strain[ISA_COUNT])(const struct liner_group *, struct liner_state *) = {
        liner_strain_base, liner_strain_v3, liner_strain_v4};
    static struct liner_bounds (*const force[ISA_COUNT])(const struct liner_group *, struct liner_state *,
                                                         double) = {liner_force_base, liner_force_v3,
                                                                    liner_force_v4};
    enum isa isa = isa_chosen();
    strain[isa](group, state);
    for (size_t b = 0; b < group->block_count; b++) {
        const struct foam *foam = group->blocks[b].foam;
        foam->law->update[isa](foam, &state->zones[b], dt);
    }
    return force[isa](group, state, dt);
}

/* Newton on the strain, with the law itself as the function: unloading is elastic, so the slope is exact but
 * for the gas. The step is long, so that the rate has faded. */
static void settle_once(const struct liner_group *group, struct liner_state *state)
{
    enum isa isa = isa_chosen();
    size_t cells = group->rows * group->columns;
    memset(state->stress, 0, cells * sizeof *state->stress);
    memset(state->tangent, 0, cells * sizeof *state->tangent);
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        size_t offset = block->first_row * group->columns;
        block->foam->law->update[isa](block->foam, &state->zones[b], 1.0);
        for (size_t k = 0; k < state->zones[b].count; k++) {
            state->stress[offset + k] += block->share * state->zones[b].stress[k];
            state->tangent[offset + k] += block->share * state->zones[b].tangent[k];
        }
    }
    for (size_t k = 0; k < cells; k++)
        state->strain[k] -= state->stress[k] / state->tangent[k];
}

static void settle_rounds(const struct liner_group *group, struct liner_state *state)
{
    enum { ROUNDS = 20 };
    for (int round = 0; round < ROUNDS; round++)
        settle_once(group, state);
}

/* Cracks are left as far closed as costs nothing: to where the first of the foams side by side is whole. */
static void close_cracks(const struct liner_group *group, struct liner_state *state)
{
    for (size_t k = 0; k < group->rows * group->columns; k++)
        state->strain[k] = INFINITY;
    for (size_t b = 0; b < group->block_count; b++) {
        double *strain = state->strain + group->blocks[b].first_row * group->columns;
        const double *matter = state->zones[b].matter;
        for (size_t k = 0; k < state->zones[b].count; k++)
            strain[k] = matter[k] < strain[k] ? matter[k] : strain[k];
    }
}

/* What comes back of one foam. The law gives the gas at the new strain, as the stress of a skeleton without
 * any; the skeleton then holds against it, but for its part of what foams side by side press on each other.
 */
static void recover(const struct liner_group *group, struct liner_state *state, size_t b, double left)
{
    const struct liner_block *block = &group->blocks[b];
    struct foam_zones *zones = &state->zones[b];
    double *strain = state->strain + block->first_row * group->columns;
    for (size_t k = 0; k < zones->count; k++) {
        strain[k] = zones->matter[k] *= left;
        zones->plastic[k] *= left;
        zones->skeleton[k] = left * zones->stress[k];
        zones->floor[k] = 0.0;
    }
    struct foam_zones bare = *zones;
    memset(state->change, 0, zones->count * sizeof *state->change);
    bare.skeleton = state->change;
    block->foam->law->update[isa_chosen()](block->foam, &bare, 1.0);
    for (size_t k = 0; k < zones->count; k++)
        zones->skeleton[k] -= zones->stress[k];
}

void liner_lay(const struct liner_group *group, struct liner_state *state)
{
    for (size_t k = 0; k < group->rows * group->columns; k++)
        state->position[k + group->columns] =
            state->position[k] - group->length[k] * (1.0 - state->strain[k]);
}

void liner_settle(const struct liner_group *group, struct liner_state *state, double recovered)
{
    size_t cells = group->rows * group->columns;
    settle_rounds(group, state);
    for (size_t b = 0; recovered > 0.0 && b < group->block_count; b++)
        recover(group, state, b, 1.0 - recovered);
    close_cracks(group, state);
    settle_rounds(group, state); /* uncrushed foam that tore was pulled when its crack closed */
    for (size_t b = 0; b < group->block_count; b++) {
        memset(state->zones[b].rate, 0, state->zones[b].count * sizeof *state->zones[b].rate);
        memset(state->zones[b].dissipated, 0, state->zones[b].count * sizeof *state->zones[b].dissipated);
    }
    memset(state->velocity, 0, (cells + group->columns) * sizeof *state->velocity);
    memset(state->viscous, 0, cells * sizeof *state->viscous);
    memset(state->artificial, 0, cells * sizeof *state->artificial);
    liner_lay(group, state);
}

void liner_move(const struct liner_group *group, struct liner_state *state, double dt_velocity, double dt)
{
    static void (*const move[ISA_COUNT])(const struct liner_group *, struct liner_state *, double,
                                         double) = {liner_move_base, liner_move_v3, liner_move_v4};
    move[isa_chosen()](group, state, dt_velocity, dt);
}

double liner_kinetic(const struct liner_group *group, const struct liner_state *state, double dt_velocity)
{
    double energy = 0.0;
    size_t stride = group->columns;
    for (size_t k = stride; k < (group->rows + 1) * stride; k++) {
        double acceleration =
            (state->force[k] - state->force[k - stride]) / group->mass[k] + group->gravity[k];
        double before = state->velocity[k];
        energy += 0.5 * group->mass[k] * before * (before + acceleration * dt_velocity);
    }
    return energy;
}

/* Reference volume of a cell: force times shortening is stress times strain times this. */
static double reference_volume(const struct liner_group *group, size_t k)
{
    return group->area[k] * group->length[k];
}

double liner_stored(const struct liner_group *group, const struct liner_state *state)
{
    double energy = 0.0;
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        const struct foam_zones *zones = &state->zones[b];
        size_t offset = block->first_row * group->columns;
        for (size_t k = 0; k < zones->count; k++)
            energy += block->share * reference_volume(group, offset + k) *
                      block->foam->law->stored(block->foam, zones->matter[k], zones->skeleton[k],
                                               zones->plastic[k]);
    }
    return energy;
}

double liner_layer_crushed(const struct liner_group *group, const struct liner_state *state, int layer)
{
    double energy = 0.0;
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        if (layer && block->layer != layer)
            continue;
        size_t offset = block->first_row * group->columns;
        for (size_t k = 0; k < state->zones[b].count; k++)
            energy += block->share * reference_volume(group, offset + k) * state->zones[b].dissipated[k];
    }
    return energy;
}

double liner_crushed(const struct liner_group *group, const struct liner_state *state)
{
    return liner_layer_crushed(group, state, 0);
}

const struct liner_block *liner_used_up(const struct liner_group *group, const struct liner_state *state,
                                        size_t *cell)
{
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        size_t first = block->first_row * group->columns, end = first + block->row_count * group->columns;
        for (*cell = first; *cell < end; ++*cell) {
            if (state->strain[*cell] >= 1.0)
                return block;
        }
    }
    return NULL;
}

void liner_layer_past(const struct liner_group *group, const struct liner_state *state, int layer,
                      struct foam_past *past)
{
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        if (block->layer != layer || block->foam->curve_end <= 0.0)
            continue;
        for (size_t k = 0; k < state->zones[b].count; k++)
            foam_past_take(past, block->foam, state->zones[b].strain[k]);
    }
}

double liner_artificial(const struct liner_group *group, const struct liner_state *state)
{
    double energy = 0.0;
    for (size_t k = 0; k < group->rows * group->columns; k++)
        energy += reference_volume(group, k) * state->artificial[k];
    return energy;
}

double liner_layer_length(const struct liner_group *group, const struct liner_state *state, int layer,
                          size_t column, double *first)
{
    double length = 0.0;
    *first = 0.0;
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        if (block->layer != layer)
            continue;
        size_t from = block->first_row * group->columns + column;
        size_t to = from + block->row_count * group->columns;
        length = state->position[from] - state->position[to];
        for (size_t k = from; k < to; k += group->columns)
            *first += group->length[k];
        break;
    }
    return length;
}

double liner_potential(const struct liner_group *group, const struct liner_state *state)
{
    double energy = 0.0;
    for (size_t k = group->columns; k < (group->rows + 1) * group->columns; k++)
        energy -= group->mass[k] * group->gravity[k] * state->position[k];
    return energy;
}
