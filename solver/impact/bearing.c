#include "solver/impact/bearing.h"

#include "solver/base/memory.h"
#include "solver/impact/contact.h"

enum status bearing_model_make(size_t count, struct bearing_model *model)
{
    *model = (struct bearing_model){.count = count};
    model->memory = memory_zeroed(4 * count, sizeof *model->memory);
    if (!model->memory)
        return STATUS_MEMORY;
    model->thickness = model->memory;
    model->area = model->memory + count;
    model->stiffness = model->memory + 2 * count;
    model->damping = model->memory + 3 * count;
    return STATUS_OK;
}

void bearing_model_free(struct bearing_model *model)
{
    memory_free(model->memory);
    *model = (struct bearing_model){0};
}

enum status bearing_state_make(const struct bearing_model *model, struct bearing_state *state)
{
    size_t count = model->count;
    *state = (struct bearing_state){.memory = memory_zeroed(11 * count, sizeof *state->memory)};
    double *next = state->memory;
    if (!next)
        return STATUS_MEMORY;
    double **const arrays[] = {&state->closure, &state->push, &state->before, &state->damped, &state->lost};
    for (size_t a = 0; a < sizeof arrays / sizeof *arrays; a++, next += count)
        *arrays[a] = next;
    state->comfort = comfort_default(model->contact);
    state->comfort.pressure = model->pressure;
    state->rings = (struct comfort_rings){.count = count,
                                          .thickness = model->thickness,
                                          .closure = state->closure,
                                          .before = next,
                                          .friction = next + count,
                                          .limit = next + 2 * count,
                                          .dissipated = next + 3 * count,
                                          .stored = next + 4 * count,
                                          .pressure = next + 5 * count};
    return STATUS_OK;
}

void bearing_state_free(struct bearing_state *state)
{
    memory_free(state->memory);
    *state = (struct bearing_state){0};
}

/* Force of the layer, or of the penalty where there is none. */
static double held(const struct bearing_model *model, const struct bearing_state *state, size_t i)
{
    double closure = state->closure[i];
    if (model->thickness[i] > 0.0)
        return state->rings.pressure[i] * model->area[i];
    return closure > 0.0 ? model->stiffness[i] * closure : 0.0;
}

/* Damping of what would otherwise ring at the frequency of the penalty; with the force of the contact it only
 * pushes. */
static void damp(const struct bearing_model *model, struct bearing_state *state, size_t i, double dt)
{
    double change = state->closure[i] - state->before[i], last = state->damped[i];
    int shut = state->closure[i] > COMFORT_SHUT * model->thickness[i] && dt > 0.0;
    double force = shut ? model->damping[i] * change / dt : 0.0, least = -held(model, state, i);
    state->damped[i] = force > least ? force : least;
    state->lost[i] += 0.5 * (last + state->damped[i]) * change;
    state->before[i] = state->closure[i];
}

void bearing_press(const struct bearing_model *model, struct bearing_state *state, double dt)
{
    comfort_update(&state->comfort, &state->rings);
    for (size_t i = 0; i < model->count; i++) {
        if (model->area[i] <= 0.0)
            continue;
        damp(model, state, i, dt);
        state->push[i] = held(model, state, i) + state->damped[i];
    }
}

double bearing_stored(const struct bearing_model *model, const struct bearing_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++) {
        double h = model->thickness[i];
        if (h > 0.0)
            sum += model->area[i] *
                   (state->rings.stored[i] + comfort_spring(&state->comfort, h, state->closure[i]));
        else
            sum += model->area[i] > 0.0 ? penalty_energy(model->stiffness[i], state->closure[i]) : 0.0;
    }
    return sum;
}

double bearing_penalties(const struct bearing_model *model, const struct bearing_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++) {
        double h = model->thickness[i], closure = state->closure[i];
        if (model->area[i] > 0.0)
            sum += h > 0.0 ? model->area[i] * comfort_contact(&state->comfort, h, closure)
                           : penalty_energy(model->stiffness[i], closure);
    }
    return sum;
}

double bearing_padding(const struct bearing_model *model, const struct bearing_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += model->thickness[i] > 0.0 ? model->area[i] * state->rings.dissipated[i] : 0.0;
    return sum;
}

double bearing_damping(const struct bearing_model *model, const struct bearing_state *state)
{
    double sum = 0.0;
    for (size_t i = 0; i < model->count; i++)
        sum += state->lost[i];
    return sum;
}
