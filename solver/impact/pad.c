#include "solver/impact/pad.h"

#include <math.h>
#include <stdio.h>

#include "solver/impact/clock.h"

static const double gravity_standard = 9.80665;

struct pad_setup pad_setup_default(void)
{
    return (struct pad_setup){.gravity = gravity_standard,
                              .cell = 1e-3,
                              .duration = 25e-3,
                              .courant = 0.7,
                              .viscosity_linear = 0.06,
                              .viscosity_quadratic = 1.2};
}

enum status pad_model_make(const struct pad_setup *setup, struct pad_model *model)
{
    *model =
        (struct pad_model){.setup = *setup, .height = liner_thickness(setup->layers, setup->layer_count)};
    struct liner_rows rows;
    liner_cut(setup->layers, setup->layer_count, setup->cell, 1, &rows);
    if (!liner_group_make(&model->group, 1, &rows))
        return STATUS_MEMORY;
    liner_group_column(&model->group, 0, setup->area, 0.0, setup->layers, setup->layer_count, &rows);
    model->group.viscosity_linear = setup->viscosity_linear;
    model->group.viscosity_quadratic = setup->viscosity_quadratic;
    for (size_t node = 0; node <= rows.rows; node++)
        model->group.gravity[node] = setup->gravity;
    return STATUS_OK;
}

void pad_model_free(struct pad_model *model)
{
    liner_group_free(&model->group);
    *model = (struct pad_model){0};
}

enum status pad_state_make(const struct pad_model *model, struct pad_state *state)
{
    *state = (struct pad_state){0};
    return liner_state_make(&model->group, &state->liner) ? STATUS_OK : STATUS_MEMORY;
}

void pad_state_free(struct pad_state *state)
{
    liner_state_free(&state->liner);
    *state = (struct pad_state){0};
}

/* The striker lands on the top node: both go on with their common velocity. */
static void join(const struct pad_model *model, struct pad_state *state)
{
    size_t top = model->group.rows;
    double striker = model->setup.striker_mass, node = model->group.mass[top];
    double difference = state->striker_velocity - state->liner.velocity[top];
    state->contact_loss += 0.5 * striker * node / (striker + node) * difference * difference;
    state->striker_velocity -= node / (striker + node) * difference;
    state->liner.velocity[top] = state->striker_velocity;
    state->striker_position = state->liner.position[top];
    state->together = 1;
}

/* Force between striker and pad now; negative would be tension, which parts them. */
static double contact_force(const struct pad_model *model, struct pad_state *state)
{
    if (!state->together)
        return 0.0;
    size_t top = model->group.rows;
    double striker = model->setup.striker_mass, node = model->group.mass[top];
    double force = state->liner.force[top - 1] * striker / (striker + node);
    if (force < 0.0)
        state->together = 0;
    return state->together ? force : 0.0;
}

/* Of gravity on striker and pad. */
static double potential(const struct pad_model *model, const struct pad_state *state)
{
    return liner_potential(&model->group, &state->liner) -
           model->setup.striker_mass * model->setup.gravity * state->striker_position;
}

static void book(const struct pad_model *model, struct pad_state *state, double dt_velocity,
                 struct history *history)
{
    double before = state->striker_velocity, striker = model->setup.striker_mass;
    double push = state->liner.force[model->group.rows];
    double after = before + (model->setup.gravity - push / striker) * dt_velocity;
    double energy[ENERGY_COUNT] = {0};
    energy[ENERGY_initial] = state->initial;
    energy[ENERGY_gravity] = state->potential_before - potential(model, state);
    energy[ENERGY_rebound] =
        0.5 * striker * before * after + liner_kinetic(&model->group, &state->liner, dt_velocity);
    energy[ENERGY_foam] = liner_crushed(&model->group, &state->liner);
    energy[ENERGY_stored] = liner_stored(&model->group, &state->liner) - state->stored_before;
    energy[ENERGY_contact] = state->contact_loss;
    energy[ENERGY_artificial] = liner_artificial(&model->group, &state->liner);
    history_ledger(history, energy);
}

static void move(const struct pad_model *model, struct pad_state *state, double dt_velocity, double dt)
{
    const struct liner_group *group = &model->group;
    size_t top = group->rows;
    liner_move(group, &state->liner, dt_velocity, dt);
    if (state->together) {
        state->striker_velocity = state->liner.velocity[top];
        state->striker_position = state->liner.position[top];
    } else {
        state->striker_velocity += model->setup.gravity * dt_velocity;
        state->striker_position += state->striker_velocity * dt;
        if (state->striker_position >= state->liner.position[top])
            join(model, state);
    }
}

static void write_down(const struct pad_model *model, const struct pad_state *state, double t,
                       struct history *history)
{
    double layers[LINER_LAYERS];
    for (size_t layer = 0; layer < model->setup.layer_count; layer++) {
        double first, now = liner_layer_length(&model->group, &state->liner, (int)layer + 1, 0, &first);
        layers[layer] = 1.0 - now / first;
        liner_layer_past(&model->group, &state->liner, (int)layer + 1, &history->past[layer]);
    }
    double crush = model->height + state->liner.position[model->group.rows];
    history_state(history, t, state->striker_position - state->first_position, crush, layers);
}

/* Momentum of all that moves, towards the anvil. */
static double momentum(const struct pad_model *model, const struct pad_state *state)
{
    double sum = model->setup.striker_mass * state->striker_velocity;
    for (size_t node = 1; node <= model->group.rows; node++)
        sum += model->group.mass[node] * state->liner.velocity[node];
    return sum;
}

static double moving_mass(const struct pad_model *model)
{
    double sum = model->setup.striker_mass;
    for (size_t node = 1; node <= model->group.rows; node++)
        sum += model->group.mass[node];
    return sum;
}

/* Foam at rest, free of stress, the striker touching it at `speed`. */
static void start(const struct pad_model *model, struct pad_state *state, double speed)
{
    const struct liner_group *group = &model->group;
    struct liner_state *liner = &state->liner;
    liner_settle(group, liner, model->setup.recovered);
    state->contact_loss = 0.0;
    state->stored_before = liner_stored(group, liner);
    state->initial = 0.5 * model->setup.striker_mass * speed * speed;
    state->striker_velocity = speed;
    join(model, state);
    state->first_position = state->striker_position;
    state->potential_before = potential(model, state);
}

/* One step on the forces of now: ledger when due, motion, record. */
static void advance(const struct pad_model *model, struct pad_state *state, const struct clock *clock,
                    struct history *history)
{
    double dt_velocity = clock_velocity_step(clock), *force = state->liner.force;
    if (history_ledger_due(history, clock->time))
        book(model, state, dt_velocity, history);
    double head = force[model->group.rows], anvil = force[0], end = clock->time + clock->step;
    int due = history_state_due(history, end);
    if (due)
        write_down(model, state, clock->time, history);
    move(model, state, dt_velocity, clock->step);
    history_force(history, clock_force_to(clock), head, anvil, state->striker_velocity);
    history->gravity_impulse += moving_mass(model) * model->setup.gravity * dt_velocity;
    if (due)
        write_down(model, state, end, history);
}

/* 1 when the pad can go on; else a message that names place and time. */
static int sound(const struct pad_model *model, const struct pad_state *state, struct liner_bounds bounds,
                 double time, struct history *history, char *message)
{
    if (bounds.largest_strain > history->largest_strain)
        history->largest_strain = bounds.largest_strain;
    if (bounds.largest_strain < 1.0 && isfinite(bounds.frequency))
        return 1;
    size_t row;
    char place[32], where[64];
    const struct liner_block *block = liner_used_up(&model->group, &state->liner, &row);
    snprintf(message, HISTORY_MESSAGE, "the solution is not a number at %.3f ms", time * 1e3);
    if (!block)
        return 0;
    snprintf(place, sizeof place, "layer %d", block->layer);
    snprintf(where, sizeof where, "cell %zu of %zu from the anvil", row + 1, model->group.rows);
    history_used_up(message, "pad", place, where, block->foam, time);
    return 0;
}

/* Without force for a millisecond and moving away. Crushed foam bears no tension, so the top of the pad may
 * fly along with the striker: what counts is the force between them. */
static int finished(const struct pad_model *model, const struct pad_state *state, double time,
                    double *parted_at)
{
    if (state->liner.force[model->group.rows] > 0.0)
        *parted_at = INFINITY;
    else if (*parted_at == INFINITY)
        *parted_at = time;
    return time > *parted_at + 1e-3 && state->striker_velocity < 0.0;
}

enum status pad_hit(const struct pad_model *model, struct pad_state *state, double speed,
                    struct history *history, const atomic_int *stop, char message[HISTORY_MESSAGE])
{
    const struct liner_group *group = &model->group;
    start(model, state, speed);
    if (state->hits++ > 0)
        history->crush_before = model->height + state->liner.position[group->rows];
    history->first_momentum = model->setup.striker_mass * speed;
    history->cells = (long)group->rows;
    struct liner_bounds bounds = liner_update(group, &state->liner, 1e-9);
    state->liner.force[group->rows] = contact_force(model, state);
    struct clock clock = clock_start(model->setup.courant / bounds.frequency, INFINITY);
    double parted_at = INFINITY;
    while (clock_force_from(&clock) < model->setup.duration && !history->separated) {
        advance(model, state, &clock, history);
        bounds = liner_update(group, &state->liner, clock.step);
        state->liner.force[group->rows] = contact_force(model, state);
        if (!sound(model, state, bounds, clock.time, history, message))
            return STATUS_COMPUTATION;
        if (!clock_advance(&clock, model->setup.courant / bounds.frequency)) {
            snprintf(message, HISTORY_MESSAGE, "the time step collapsed at %.3f ms", clock.time * 1e3);
            return STATUS_COMPUTATION;
        }
        if (stop && *stop)
            return STATUS_INTERRUPTED;
        history->separated = finished(model, state, clock.time, &parted_at);
    }
    history->last_momentum = momentum(model, state);
    history->last_speed = state->striker_velocity;
    history->steps = clock.count;
    book(model, state, clock_velocity_step(&clock), history);
    return STATUS_OK;
}
