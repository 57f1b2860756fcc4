#include "solver/impact/history.h"

#include <math.h>
#include <stdio.h>

#include "solver/base/memory.h"

static const double ledger_interval = 1e-4, rest = 1e-3;

enum status history_make(struct history *history, double duration, double speed, size_t layer_count)
{
    *history = (struct history){.ledger_interval = ledger_interval,
                                .duration = duration,
                                .first_speed = speed,
                                .layer_count = layer_count,
                                .crush_before = NAN,
                                .shell_strain = NAN,
                                .sticks_from = NAN,
                                .rests_since = INFINITY};
    history->ledger_capacity = (size_t)ceil(duration / ledger_interval) + 3;
    double *next = memory_zeroed(history->ledger_capacity * ENERGY_COUNT, sizeof *next);
    for (int part = 0; next && part < ENERGY_COUNT; part++)
        history->ledger[part] = next + (size_t)part * history->ledger_capacity;
    double start[HISTORY_LAYER + HISTORY_LAYERS] = {0};
    if (!next ||
        record_create(&history->forces, RECORD_INTERVAL, duration, HISTORY_FORCES, 1, &speed) != STATUS_OK ||
        record_create(&history->states, RECORD_INTERVAL, duration, 0, HISTORY_LAYER + layer_count, start) !=
            STATUS_OK) {
        history_free(history);
        return STATUS_MEMORY;
    }
    return STATUS_OK;
}

void history_free(struct history *history)
{
    memory_free(history->ledger[0]);
    record_free(&history->forces);
    record_free(&history->states);
    record_free(&history->turns);
    snapshots_free(&history->snapshots);
    *history = (struct history){0};
}

void history_force(struct history *history, double to, double head, double anvil, double velocity)
{
    history->anvil_impulse += anvil * (to - history->forces.time);
    record_step(&history->forces, to, (double[]){head, anvil}, &velocity);
}

enum status history_turns(struct history *history, double slip)
{
    double start[HISTORY_TURN_SAMPLES] = {[HISTORY_SLIP] = slip};
    return record_create(&history->turns, RECORD_INTERVAL, history->duration, HISTORY_TURN_MEANS,
                         HISTORY_TURN_SAMPLES, start);
}

void history_turn(struct history *history, double to, const double means[HISTORY_TURN_MEANS],
                  const double samples[HISTORY_TURN_SAMPLES])
{
    if (history->turns.room > 0)
        record_step(&history->turns, to, means, samples);
}

void history_state(struct history *history, double t, double travel, double crush, const double *layers)
{
    double now[HISTORY_LAYER + HISTORY_LAYERS] = {travel, crush};
    for (size_t layer = 0; layer < history->layer_count; layer++)
        now[HISTORY_LAYER + layer] = layers[layer];
    record_step(&history->states, t, NULL, now);
}

void history_penalties(struct history *history, double energy)
{
    history->penalty_energy = energy > history->penalty_energy ? energy : history->penalty_energy;
}

void history_shell_strain(struct history *history, double strain)
{
    if (!(strain <= history->shell_strain))
        history->shell_strain = strain;
}

int history_state_due(const struct history *history, double t)
{
    return record_due(&history->states, t);
}

int history_ledger_due(const struct history *history, double t)
{
    return t >= (double)history->ledger_count * history->ledger_interval;
}

void history_ledger(struct history *history, const double energy[ENERGY_COUNT])
{
    double residual = energy[ENERGY_initial] + energy[ENERGY_gravity];
    for (int part = 0; part < ENERGY_COUNT; part++) {
        history->energy[part] = energy[part];
        if (history->ledger_count < history->ledger_capacity)
            history->ledger[part][history->ledger_count] = energy[part];
        if (part != ENERGY_initial && part != ENERGY_gravity)
            residual -= energy[part];
    }
    if (history->ledger_count < history->ledger_capacity)
        history->ledger_count++;
    double error = fabs(residual) / energy[ENERGY_initial];
    if (!(error <= history->balance_error))
        history->balance_error = error;
}

int history_over(struct history *history, double time, double anvil_force, double head_force,
                 double head_mass, double velocity)
{
    if (anvil_force > 0.0 || head_force > METRICS_PULSE_LEVEL * METRICS_GRAVITY * head_mass)
        history->rests_since = INFINITY;
    else if (history->rests_since == INFINITY)
        history->rests_since = time;
    history->separated = time > history->rests_since + rest && velocity > 0.0;
    return history->separated;
}

void history_used_up(char message[HISTORY_MESSAGE], const char *what, const char *place, const char *where,
                     const struct foam *foam, double time)
{
    snprintf(
        message, HISTORY_MESSAGE,
        "the %s is used up at %.3f ms: %s bottomed out (%s is crushed to nothing; %s is solid from %.1f %% "
        "on)",
        what, time * 1e3, place, where, foam->name, 100.0 * (1.0 - foam->relative_density));
}

double history_impulse_error(const struct history *history)
{
    double residual =
        history->first_momentum - history->last_momentum + history->gravity_impulse - history->anvil_impulse;
    return fabs(residual) / history->first_momentum;
}
