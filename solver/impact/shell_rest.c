#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/shell.h"

/*
 * Rest shape of a shell that has yielded, by dynamic relaxation with its own masses: it swings freely from
 * the shape it is let go in, and whenever its kinetic energy has passed a peak, which is where its stored
 * energy is least on the way, it is stopped (kinetic damping; P. A. Cundall 1976, textbook form from memory).
 * It overshoots by little, so that springing back hardly yields again. Inner forces leave its place along the
 * axis alone.
 */

static const double close_enough = 1e-9; /* [m] that nothing has moved by between two peaks */
static const double courant = 0.7;

enum { STEPS_MOST = 40000 };

struct swing {
    const struct shell_model *model;
    double *r, *z;                                       /* (node_count) */
    double *velocity_r, *velocity_z, *force_r, *force_z; /* (node_count) */
    double *from_r, *from_z;                             /* (node_count) at the last peak */
    double kinetic;                                      /* a step ago [J] */
};

/* Velocities after a step; their kinetic energy. */
static double speed_up(struct swing *swing, struct shell_state *state, double dt)
{
    size_t count = swing->model->node_count;
    double energy = 0.0;
    memset(swing->force_r, 0, count * sizeof *swing->force_r);
    memset(swing->force_z, 0, count * sizeof *swing->force_z);
    shell_forces(swing->model, state, swing->r, swing->z, swing->force_r, swing->force_z);
    for (size_t i = 0; i < count; i++) {
        double per_mass = dt / swing->model->mass[i];
        swing->velocity_r[i] += i == 0 ? 0.0 : swing->force_r[i] * per_mass;
        swing->velocity_z[i] += swing->force_z[i] * per_mass;
        energy += 0.5 * swing->model->mass[i] *
                  (swing->velocity_r[i] * swing->velocity_r[i] + swing->velocity_z[i] * swing->velocity_z[i]);
    }
    return energy;
}

/* Stops the swing; how far any node has come since the last stop. */
static double stop(struct swing *swing)
{
    size_t count = swing->model->node_count;
    double furthest = 0.0;
    for (size_t i = 0; i < count; i++) {
        furthest = fmax(furthest, fabs(swing->r[i] - swing->from_r[i]));
        furthest = fmax(furthest, fabs(swing->z[i] - swing->from_z[i]));
        swing->from_r[i] = swing->r[i];
        swing->from_z[i] = swing->z[i];
        swing->velocity_r[i] = swing->velocity_z[i] = 0.0;
    }
    swing->kinetic = 0.0;
    return furthest;
}

static void relax(struct swing *swing, struct shell_state *state)
{
    for (int step = 0; step < STEPS_MOST; step++) {
        double dt = courant * shell_stable_step(swing->model, state), kinetic = speed_up(swing, state, dt);
        if (kinetic < swing->kinetic) {
            if (stop(swing) < close_enough)
                return;
            continue;
        }
        swing->kinetic = kinetic;
        for (size_t i = 0; i < swing->model->node_count; i++) {
            swing->r[i] += swing->velocity_r[i] * dt;
            swing->z[i] += swing->velocity_z[i] * dt;
        }
    }
}

int shell_has_yielded(const struct shell_model *model, const struct shell_state *state)
{
    double most = 0.0;
    for (size_t k = 0; model->yields && k < SHELL_HALVES * SHELL_POINTS * model->stride; k++)
        most = state->equivalent[k] > most ? state->equivalent[k] : most;
    return most > 0.0;
}

enum status shell_rest(const struct shell_model *model, struct shell_state *state, double *r, double *z)
{
    size_t count = model->node_count;
    if (!shell_has_yielded(model, state))
        return STATUS_OK;
    double *memory = memory_zeroed(6 * count, sizeof *memory);
    if (!memory)
        return STATUS_MEMORY;
    struct swing swing = {.model = model,
                          .r = r,
                          .z = z,
                          .velocity_r = memory,
                          .velocity_z = memory + count,
                          .force_r = memory + 2 * count,
                          .force_z = memory + 3 * count,
                          .from_r = memory + 4 * count,
                          .from_z = memory + 5 * count};
    stop(&swing);
    relax(&swing, state);
    memory_free(memory);
    return STATUS_OK;
}
