#include "solver/impact/contact.h"

#include <math.h>

#include "solver/base/memory.h"

static enum status make(size_t count, double offset, struct contact_model *model)
{
    *model = (struct contact_model){.count = count, .offset = offset};
    model->memory = memory_zeroed(3 * count, sizeof *model->memory);
    model->node = memory_zeroed(count, sizeof *model->node);
    if (!model->memory || !model->node) {
        contact_model_free(model);
        return STATUS_MEMORY;
    }
    model->share = model->memory;
    model->stiffness = model->memory + count;
    model->damping = model->memory + 2 * count;
    return STATUS_OK;
}

enum status contact_at_nodes(size_t nodes, const double *stiffness, const double *damping, double offset,
                             struct contact_model *model)
{
    enum status status = make(nodes, offset, model);
    for (size_t i = 0; status == STATUS_OK && i < nodes; i++) {
        model->node[i] = (int)i;
        model->stiffness[i] = stiffness[i];
        model->damping[i] = damping[i];
    }
    return status;
}

/* Area per radian of the part of a segment that a point stands for. */
static double point_area(const double *radius, const double *length, size_t segment, double share,
                         size_t points)
{
    double at = radius[segment] + share * (radius[segment + 1] - radius[segment]);
    return at * length[segment] / (double)points;
}

static double point_share(size_t point, size_t points)
{
    return ((double)point + 0.5) / (double)points;
}

/* Every point hands its area to the nearer node; the node's stiffness is then shared out in proportion, so
 * that each node keeps the stiffness it was given. */
enum status contact_on_segments(size_t nodes, const double *radius, const double *length, size_t points,
                                const double *stiffness, const double *damping, double offset,
                                struct contact_model *model)
{
    enum status status = make((nodes - 1) * points, offset, model);
    double *area = status == STATUS_OK ? memory_zeroed(nodes, sizeof *area) : NULL;
    if (!area) {
        contact_model_free(model);
        return STATUS_MEMORY;
    }
    for (size_t p = 0; p < model->count; p++) {
        double share = point_share(p % points, points);
        area[p / points + (share > 0.5)] += point_area(radius, length, p / points, share, points);
    }
    for (size_t p = 0; p < model->count; p++) {
        double share = point_share(p % points, points);
        size_t owner = p / points + (share > 0.5);
        double part = point_area(radius, length, p / points, share, points) / area[owner];
        model->node[p] = (int)(p / points);
        model->share[p] = share;
        model->stiffness[p] = part * stiffness[owner];
        model->damping[p] = part * damping[owner];
    }
    memory_free(area);
    return STATUS_OK;
}

void contact_model_free(struct contact_model *model)
{
    memory_free(model->memory);
    memory_free(model->node);
    *model = (struct contact_model){0};
}

enum status contact_state_make(const struct contact_model *model, struct contact_state *state)
{
    *state = (struct contact_state){.memory = memory_zeroed(2 * model->count, sizeof *state->memory)};
    state->depth = state->memory;
    state->push = state->memory ? state->memory + model->count : NULL;
    return state->memory ? STATUS_OK : STATUS_MEMORY;
}

void contact_state_free(struct contact_state *state)
{
    memory_free(state->memory);
    *state = (struct contact_state){0};
}

void penalty_set(double mass, double step, double per_mass, double share, double *stiffness, double *damping)
{
    if (*stiffness <= 0.0)
        *stiffness = per_mass * mass / (step * step);
    double critical = 2.0 * share * sqrt(*stiffness * mass), limit = PENALTY_MOST_DAMPING * mass / step;
    *damping = critical < limit ? critical : limit;
}

double penalty_force(double stiffness, double damping, double depth, double rate)
{
    double force = depth > 0.0 ? stiffness * depth + damping * rate : 0.0;
    return force > 0.0 ? force : 0.0;
}

double penalty_energy(double stiffness, double depth)
{
    return depth > 0.0 ? 0.5 * stiffness * depth * depth : 0.0;
}

/* Height above the anvil from which a point cannot touch within a step [m]; its depth is not kept up to date
 * there. Anvils lie below z = 0. */
static const double clear = 1e-3;

void contact_press(const struct contact_model *model, struct contact_state *state, const struct anvil *anvil,
                   const double *r, const double *z, double dt, double *force_r, double *force_z)
{
    state->force = 0.0;
    for (size_t p = 0; p < model->count; p++) {
        int node = model->node[p], next = node + (model->share[p] > 0.0);
        double lower = z[node] < z[next] ? z[node] : z[next];
        if (lower > model->offset + clear && state->push[p] == 0.0 && state->depth[p] <= 0.0)
            continue;
        double after = model->share[p], before = 1.0 - after, normal[2];
        double depth = model->offset - anvil_distance(anvil, before * r[node] + after * r[next],
                                                      before * z[node] + after * z[next], normal);
        double change = depth - state->depth[p], held = state->push[p], k = model->stiffness[p];
        double force = penalty_force(k, model->damping[p], depth, dt > 0.0 ? change / dt : 0.0);
        if (dt > 0.0)
            state->loss +=
                0.5 * (held + force) * change - penalty_energy(k, depth) + penalty_energy(k, state->depth[p]);
        state->depth[p] = depth;
        state->push[p] = force;
        state->force += force * normal[1];
        force_r[node] += before * force * normal[0];
        force_z[node] += before * force * normal[1];
        force_r[next] += after * force * normal[0];
        force_z[next] += after * force * normal[1];
    }
}

double contact_gap(const struct contact_model *model, const struct anvil *anvil, const double *r,
                   const double *z)
{
    double least = INFINITY, normal[2];
    for (size_t p = 0; p < model->count; p++) {
        int node = model->node[p], next = node + (model->share[p] > 0.0);
        double after = model->share[p], before = 1.0 - after;
        double distance = anvil_distance(anvil, before * r[node] + after * r[next],
                                         before * z[node] + after * z[next], normal);
        least = distance < least ? distance : least;
    }
    return least - model->offset;
}

double contact_stored(const struct contact_model *model, const struct contact_state *state)
{
    double energy = 0.0;
    for (size_t p = 0; p < model->count; p++)
        energy += penalty_energy(model->stiffness[p], state->depth[p]);
    return energy;
}
