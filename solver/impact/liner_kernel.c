#include "solver/impact/liner.h"

/*
 * The loops over cells and nodes of a group. Columns are contiguous, so cell (row, column) and node
 * (row + 1, column) are `columns` apart and every loop runs over one contiguous range: a pad of one column
 * vectorises as well as a helmet. The largest value is kept in eight lanes, whatever the vector width, and a
 * NaN in any cell ends up in it.
 */

enum { LANES = 8 };

void ISA_NAME(liner_strain)(const struct liner_group *group, struct liner_state *state)
{
    size_t count = group->rows * group->columns, next = group->columns;
    const double *restrict position = state->position, *restrict inverse = group->inverse_length;
    double *restrict strain = state->strain, *restrict change = state->change;
    for (size_t k = 0; k < count; k++) {
        double now = 1.0 - (position[k] - position[k + next]) * inverse[k];
        change[k] = now - strain[k];
        strain[k] = now;
    }
}

/* Sums the blocks' stress and tangent onto the cells. The first block of a layer sets them, those side by
 * side with it add. */
static void gather(const struct liner_group *group, struct liner_state *state)
{
    for (size_t b = 0; b < group->block_count; b++) {
        const struct liner_block *block = &group->blocks[b];
        int first = b == 0 || block->layer != group->blocks[b - 1].layer;
        size_t offset = block->first_row * group->columns;
        double share = block->share;
        const double *restrict from = state->zones[b].stress, *restrict slope = state->zones[b].tangent;
        double *restrict stress = state->stress + offset, *restrict tangent = state->tangent + offset;
        for (size_t k = 0; k < state->zones[b].count; k++) {
            stress[k] = (first ? 0.0 : stress[k]) + share * from[k];
            tangent[k] = (first ? 0.0 : tangent[k]) + share * slope[k];
        }
    }
}

/* Larger of two; a NaN on either side stays. */
static inline double larger(double kept, double value)
{
    return (value <= kept) | (kept != kept) ? kept : value;
}

static double largest(const double *values, size_t count)
{
    double lane[LANES];
    for (int l = 0; l < LANES; l++)
        lane[l] = values[0];
    size_t whole = count - count % LANES;
    for (size_t k = 0; k < whole; k += LANES) {
        for (int l = 0; l < LANES; l++)
            lane[l] = larger(lane[l], values[k + l]);
    }
    for (size_t k = whole; k < count; k++)
        lane[0] = larger(lane[0], values[k]);
    for (int l = 1; l < LANES; l++)
        lane[0] = larger(lane[0], lane[l]);
    return lane[0];
}

/* Adds the viscous stress and turns stress into force; `frequency` holds the tangent before, the bound of the
 * step after. A function of its own so that the arrays are known not to overlap. */
static __attribute__((noinline)) void add_viscosity(size_t count, double per_step, double linear,
                                                    double quadratic, const double *restrict change,
                                                    const double *restrict inertia,
                                                    const double *restrict area, double *restrict stress,
                                                    double *restrict viscous, double *restrict artificial,
                                                    double *restrict force, double *restrict frequency)
{
    for (size_t k = 0; k < count; k++) {
        double rate = change[k] > 0.0 ? change[k] * per_step : 0.0;
        double wave = __builtin_sqrt(frequency[k] / inertia[k]);
        double damping = linear * wave + quadratic * rate;
        double fresh = inertia[k] * rate * damping;
        artificial[k] += 0.5 * (viscous[k] + fresh) * change[k];
        viscous[k] = fresh;
        stress[k] += fresh;
        force[k] = stress[k] * area[k];
        frequency[k] = wave + 2.0 * damping;
    }
}

struct liner_bounds ISA_NAME(liner_force)(const struct liner_group *group, struct liner_state *state,
                                          double dt)
{
    gather(group, state);
    size_t count = group->rows * group->columns;
    add_viscosity(count, 1.0 / dt, group->viscosity_linear, group->viscosity_quadratic, state->change,
                  group->inertia, group->area, state->stress, state->viscous, state->artificial, state->force,
                  state->tangent);
    return (struct liner_bounds){.largest_strain = largest(state->strain, count),
                                 .frequency = largest(state->tangent, count)};
}

void ISA_NAME(liner_move)(const struct liner_group *group, struct liner_state *state, double dt_velocity,
                          double dt)
{
    size_t first = group->columns, end = (group->rows + 1) * group->columns, back = group->columns;
    const double *restrict force = state->force, *restrict mass = group->mass;
    const double *restrict gravity = group->gravity;
    double *restrict velocity = state->velocity, *restrict position = state->position;
    for (size_t k = first; k < end; k++) {
        double acceleration = (force[k] - force[k - back]) / mass[k] + gravity[k];
        velocity[k] += acceleration * dt_velocity;
        position[k] += velocity[k] * dt;
    }
}
