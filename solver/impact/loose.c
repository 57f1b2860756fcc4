#include "solver/impact/loose.h"

#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/contact.h"

/* --- model --- */

enum status loose_model_make(size_t count, struct loose_row foam, struct loose_row shell, double step,
                             double damping, double friction, struct loose_model *model)
{
    *model = (struct loose_model){.count = count, .shell_mass = memory_zeroed(count, sizeof(double))};
    double *mass = memory_zeroed(count, sizeof *mass);
    enum status status = model->shell_mass && mass ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        memcpy(model->shell_mass, shell.mass, count * sizeof *shell.mass);
        for (size_t i = 0; i < count; i++) /* as heavy as foam of the same penalty */
            mass[i] = shell.mass[i] * PENALTY_ON_SHELL / PENALTY_ON_FOAM;
        struct slide_setup setup = {.count = count,
                                    .curve = {.r = shell.r, .z = shell.z},
                                    .nodes = {.r = foam.r, .z = foam.z},
                                    .side = 1,
                                    .node_mass = foam.mass,
                                    .curve_mass = mass,
                                    .share = 1.0,
                                    .step = step,
                                    .damping = damping,
                                    .friction = friction};
        status = slide_model_make(&setup, &model->contact);
    }
    memory_free(mass);
    if (status != STATUS_OK)
        loose_model_free(model);
    return status;
}

void loose_model_free(struct loose_model *model)
{
    slide_model_free(&model->contact);
    memory_free(model->shell_mass);
    *model = (struct loose_model){0};
}

/* --- state --- */

enum status loose_state_make(const struct loose_model *model, struct loose_row shell, double velocity_z,
                             struct loose_state *state)
{
    size_t count = model->count;
    *state = (struct loose_state){.memory = memory_zeroed(6 * count, sizeof *state->memory)};
    if (!state->memory || slide_state_make(&model->contact, &state->contact) != STATUS_OK) {
        loose_state_free(state);
        return STATUS_MEMORY;
    }
    double *next = state->memory;
    double **const arrays[] = {&state->r,          &state->z,       &state->velocity_r,
                               &state->velocity_z, &state->force_r, &state->force_z};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += count)
        *arrays[a] = next;
    memcpy(state->r, shell.r, count * sizeof *shell.r);
    memcpy(state->z, shell.z, count * sizeof *shell.z);
    for (size_t i = 0; i < count; i++)
        state->velocity_z[i] = velocity_z;
    return STATUS_OK;
}

void loose_state_free(struct loose_state *state)
{
    slide_state_free(&state->contact);
    memory_free(state->memory);
    *state = (struct loose_state){0};
}

/* --- step and sums --- */

void loose_press(const struct loose_model *model, struct loose_state *state, struct slide_row foam, double dt)
{
    memset(state->force_r, 0, model->count * sizeof *state->force_r);
    memset(state->force_z, 0, model->count * sizeof *state->force_z);
    struct slide_row shell = {.r = state->r,
                              .z = state->z,
                              .velocity_r = state->velocity_r,
                              .velocity_z = state->velocity_z,
                              .force_r = state->force_r,
                              .force_z = state->force_z};
    slide_press(&model->contact, &state->contact, shell, foam, dt);
}

void loose_move(const struct loose_model *model, struct loose_state *state, double gravity,
                double dt_velocity, double dt)
{
    for (size_t i = 0; i < model->count; i++) {
        double per_mass = dt_velocity / model->shell_mass[i];
        state->velocity_r[i] += i == 0 ? 0.0 : state->force_r[i] * per_mass;
        state->velocity_z[i] += state->force_z[i] * per_mass - gravity * dt_velocity;
        state->r[i] += state->velocity_r[i] * dt;
        state->z[i] += state->velocity_z[i] * dt;
    }
}

double loose_kinetic(const struct loose_model *model, const struct loose_state *state, double gravity,
                     double dt_velocity)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++) {
        double mass = model->shell_mass[i], r = state->velocity_r[i], z = state->velocity_z[i];
        double gain_r = i == 0 ? 0.0 : state->force_r[i] / mass * dt_velocity;
        double gain_z = (state->force_z[i] / mass - gravity) * dt_velocity;
        sum += 0.5 * mass * (r * (r + gain_r) + z * (z + gain_z));
    }
    return sum;
}

double loose_momentum(const struct loose_model *model, const struct loose_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->shell_mass[i] * state->velocity_z[i];
    return sum;
}

double loose_height(const struct loose_model *model, const struct loose_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->shell_mass[i] * state->z[i];
    return sum;
}

double loose_mass(const struct loose_model *model)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->shell_mass[i];
    return sum;
}
