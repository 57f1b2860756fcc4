#include "solver/impact/run.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/impact/filter.h"

static const double open_ledger = 0.01; /* of the initial energy */

static double *copy(const double *values, size_t count)
{
    double *array = memory_doubles(count);
    if (array)
        memcpy(array, values, count * sizeof *array);
    return array;
}

/* Interval means of a force and the same filtered. */
static enum status take_force(const struct history *history, size_t channel, double scale, size_t count,
                              double **filtered, double **unfiltered)
{
    *unfiltered = memory_doubles(history->forces.count);
    *filtered = memory_doubles(history->forces.count);
    if (!*unfiltered || !*filtered)
        return STATUS_MEMORY;
    record_means(&history->forces, channel, scale, *unfiltered);
    return filter_apply(FILTER_HEAD_CLASS, history->forces.interval, count, *unfiltered, *filtered);
}

/* Filtered interval means of a channel of the rotation. */
static enum status take_turn(const struct history *history, size_t channel, double scale, size_t count,
                             double **filtered)
{
    double *means = memory_doubles(history->turns.count);
    *filtered = memory_doubles(history->turns.count);
    enum status status = means && *filtered ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        record_means(&history->turns, channel, scale, means);
        status = filter_apply(FILTER_HEAD_CLASS, history->turns.interval, count, means, *filtered);
    }
    memory_free(means);
    return status;
}

/* Acceleration along the face and the resultant: in place of the normal one, which is kept beside it. */
static enum status combine(const struct history *history, double mass_along, size_t count, double **channel)
{
    double *along = memory_doubles(history->turns.count);
    channel[PULSE_normal_acceleration] = copy(channel[PULSE_acceleration], count);
    if (!along || !channel[PULSE_normal_acceleration]) {
        memory_free(along);
        return STATUS_MEMORY;
    }
    record_means(&history->turns, HISTORY_FRICTION, 1.0 / mass_along, along);
    for (size_t i = 0; i < count; i++) {
        double raw = channel[PULSE_acceleration_unfiltered][i], normal = channel[PULSE_acceleration][i];
        double smooth = channel[PULSE_tangential_force][i] / mass_along;
        channel[PULSE_acceleration_unfiltered][i] = sqrt(raw * raw + along[i] * along[i]);
        channel[PULSE_acceleration][i] = sqrt(normal * normal + smooth * smooth);
    }
    memory_free(along);
    return STATUS_OK;
}

/* Channels of an impact with rotation. */
static enum status take_rotation(const struct history *history, const struct oblique_setup *oblique,
                                 struct impact_output *output)
{
    static const struct {
        int sample;
        enum pulse_channel channel;
    } rates[] = {{HISTORY_HEAD_RATE, PULSE_rotational_velocity},
                 {HISTORY_SHELL_RATE, PULSE_shell_rotational_velocity},
                 {HISTORY_SLIP, PULSE_slip_velocity}};
    size_t count = output->count;
    double **channel = output->channel;
    enum status status = take_turn(history, HISTORY_FRICTION, 1.0, count, &channel[PULSE_tangential_force]);
    if (status == STATUS_OK)
        status = take_turn(history, HISTORY_TORQUE, 1.0 / oblique->head_inertia, count,
                           &channel[PULSE_rotational_acceleration]);
    for (size_t k = 0; status == STATUS_OK && k < sizeof rates / sizeof *rates; k++) {
        channel[rates[k].channel] = copy(record_samples(&history->turns, (size_t)rates[k].sample), count);
        status = channel[rates[k].channel] ? STATUS_OK : STATUS_MEMORY;
    }
    return status == STATUS_OK ? combine(history, oblique->head_mass + oblique->helmet_mass, count, channel)
                               : status;
}

static enum status take_channels(const struct history *history, double mass, struct impact_output *output)
{
    size_t count = output->count;
    double **channel = output->channel;
    enum status status = take_force(history, HISTORY_HEAD_FORCE, 1.0 / mass, count,
                                    &channel[PULSE_acceleration], &channel[PULSE_acceleration_unfiltered]);
    if (status == STATUS_OK)
        status = take_force(history, HISTORY_ANVIL_FORCE, 1.0, count, &channel[PULSE_anvil_force],
                            &channel[PULSE_anvil_force_unfiltered]);
    if (status != STATUS_OK)
        return status;
    channel[PULSE_velocity] = copy(record_samples(&history->forces, 0), count);
    channel[PULSE_travel] = copy(record_samples(&history->states, HISTORY_TRAVEL), count);
    channel[PULSE_crush] = copy(record_samples(&history->states, HISTORY_CRUSH), count);
    for (int part = 0; part < ENERGY_COUNT; part++) {
        if (energy_optional((size_t)part) && history->energy[part] == 0.0)
            continue;
        output->ledger[part] = copy(history->ledger[part], output->ledger_count);
        if (!output->ledger[part])
            return STATUS_MEMORY;
    }
    return channel[PULSE_velocity] && channel[PULSE_travel] && channel[PULSE_crush] ? STATUS_OK
                                                                                    : STATUS_MEMORY;
}

static double largest(const double *values, size_t count)
{
    double most = -INFINITY;
    for (size_t i = 0; i < count; i++)
        most = values[i] > most ? values[i] : most;
    return most;
}

static double largest_size(const double *values, size_t count)
{
    double most = 0.0;
    for (size_t i = 0; i < count; i++)
        most = fmax(most, fabs(values[i]));
    return most;
}

static void measure_rotation(const struct history *history, const struct oblique_setup *oblique,
                             struct impact_output *output)
{
    double *metrics = output->metrics, *const *channel = output->channel, impulse = 0.0, axes[3];
    size_t count = output->count;
    double rate = largest_size(channel[PULSE_rotational_velocity], count);
    for (size_t i = 0; i < 3; i++)
        axes[i] = rate * fabs(oblique->axis[i]);
    for (size_t i = 0; i < count; i++)
        impulse += channel[PULSE_tangential_force][i] * output->interval;
    metrics[METRIC_peak_rot_acc] = largest_size(channel[PULSE_rotational_acceleration], count);
    metrics[METRIC_peak_rot_vel] = rate;
    metrics[METRIC_bric] = metrics_bric(axes);
    metrics[METRIC_tangential_force] = largest_size(channel[PULSE_tangential_force], count);
    metrics[METRIC_tangential_impulse] = fabs(impulse);
    metrics[METRIC_velocity_change] = NAN; /* the integral of a resultant is none */
    if (oblique->speed == 0.0)
        return;
    metrics[METRIC_sliding] = 1e3 * history->slid;
    metrics[METRIC_rolls_from] = 1e3 * history->sticks_from;
    metrics[METRIC_drift] = 1e3 * history->drift;
}

static enum status measure(const struct history *history, double gravity, double thickness,
                           struct impact_output *output)
{
    struct pulse_input pulse = {.count = output->count,
                                .interval = output->interval,
                                .acceleration = output->channel[PULSE_acceleration],
                                .acceleration_unfiltered = output->channel[PULSE_acceleration_unfiltered],
                                .anvil_force = output->channel[PULSE_anvil_force],
                                .gravity = gravity,
                                .speed_before = history->first_speed,
                                .speed_after = history->separated ? history->last_speed : NAN};
    enum status status = metrics_from_pulse(&pulse, output->metrics);
    double crush = largest(output->channel[PULSE_crush], output->count);
    output->metrics[METRIC_crush] = crush * 1e3;
    output->metrics[METRIC_crush_fraction] = crush / thickness;
    output->metrics[METRIC_crush_left] = (thickness - crush) * 1e3;
    output->metrics[METRIC_crush_before] = history->crush_before * 1e3;
    output->metrics[METRIC_largest_strain] = history->largest_strain;
    output->metrics[METRIC_shell_strain] = history->shell_strain;
    return status;
}

/* Everything but the layers; `oblique` is NULL without rotation. */
static enum status take_output(const struct history *history, double mass, double gravity, double thickness,
                               const struct oblique_setup *oblique, struct impact_output *output)
{
    *output = (struct impact_output){.interval = history->forces.interval,
                                     .ledger_count = history->ledger_count,
                                     .ledger_interval = history->ledger_interval,
                                     .steps = history->steps,
                                     .cells = history->cells,
                                     .balance_error = history->balance_error,
                                     .impulse_error = history_impulse_error(history),
                                     .anvil_impulse = history->anvil_impulse,
                                     .layer_slide = history->layer_slide,
                                     .separated = history->separated};
    size_t states = history->states.count, forces = history->forces.count;
    output->count = states < forces ? states : forces;
    memcpy(output->energy, history->energy, sizeof output->energy);
    int turns = oblique && oblique->active;
    if (turns && history->turns.count < output->count)
        output->count = history->turns.count;
    enum status status = take_channels(history, mass, output);
    if (status == STATUS_OK && turns)
        status = take_rotation(history, oblique, output);
    if (status == STATUS_OK)
        status = measure(history, gravity, thickness, output);
    if (status == STATUS_OK && turns)
        measure_rotation(history, oblique, output);
    if (status != STATUS_OK)
        impact_output_free(output);
    return status;
}

/* What the history has of layer `at`: whether a curve was left behind; crush, NULL off the axis. */
static enum status take_layer(const struct history *history, size_t at, size_t count,
                              struct layer_output *layer)
{
    const double *crush = record_samples(&history->states, HISTORY_LAYER + at);
    const struct foam_past *past = &history->past[at];
    snprintf(layer->past_foam, sizeof layer->past_foam, "%s", past->foam ? past->foam->name : "");
    layer->past_end = past->foam ? past->foam->curve_end : NAN;
    layer->past_strain = past->foam ? past->strain : NAN;
    layer->crush_fraction = NAN;
    if (count == 0 || isnan(crush[count - 1]))
        return STATUS_OK;
    layer->crush = copy(crush, count);
    if (!layer->crush)
        return STATUS_MEMORY;
    layer->crush_fraction = largest(crush, count);
    return STATUS_OK;
}

static enum status closed(const struct history *history, char *message)
{
    if (history->balance_error <= open_ledger)
        return STATUS_OK;
    snprintf(message, HISTORY_MESSAGE, "the energy ledger stays open by %.2f %% of the initial energy",
             history->balance_error * 100.0);
    return STATUS_COMPUTATION;
}

/* --- pad --- */

static enum status take_pad_layers(const struct pad_model *model, const struct pad_state *state,
                                   const struct history *history, struct impact_output *output)
{
    size_t count = model->setup.layer_count;
    output->layers = memory_zeroed(count, sizeof *output->layers);
    if (!output->layers)
        return STATUS_MEMORY;
    output->layer_count = count;
    for (size_t i = 0; i < count; i++) {
        struct layer_output *layer = &output->layers[i];
        snprintf(layer->region, sizeof layer->region, "pad");
        layer->layer = (int)i + 1;
        layer->absorbed = liner_layer_crushed(&model->group, &state->liner, layer->layer);
        layer->best_strain = liner_best_strain(&model->setup.layers[i]);
        layer->thickness = model->setup.layers[i].thickness;
        if (take_layer(history, i, output->count, layer) != STATUS_OK)
            return STATUS_MEMORY;
    }
    return STATUS_OK;
}

/* Several hits: a message says which one failed. */
static void name_hit(size_t hit, size_t hit_count, char *message)
{
    char why[HISTORY_MESSAGE];
    if (hit_count < 2 || !message[0])
        return;
    snprintf(why, sizeof why, "%s", message);
    snprintf(message, HISTORY_MESSAGE, "hit %zu: %.220s", hit + 1, why);
}

static void free_outputs(struct impact_output *outputs, size_t count)
{
    for (size_t i = 0; i < count; i++)
        impact_output_free(&outputs[i]);
}

static enum status pad_output(const struct pad_model *model, struct pad_state *state, double speed,
                              struct impact_output *output, const atomic_int *stop, char *message)
{
    struct history history = {0};
    enum status status = history_make(&history, model->setup.duration, speed, model->setup.layer_count);
    if (status == STATUS_OK)
        status = pad_hit(model, state, speed, &history, stop, message);
    if (status == STATUS_OK)
        status = closed(&history, message);
    if (status == STATUS_OK)
        status = take_output(&history, model->setup.striker_mass, model->setup.gravity, model->height, NULL,
                             output);
    if (status == STATUS_OK)
        status = take_pad_layers(model, state, &history, output);
    history_free(&history);
    return status;
}

enum status run_pad(const struct pad_setup *setup, const double *speed, size_t hit_count,
                    struct impact_output *outputs, const atomic_int *stop, char message[HISTORY_MESSAGE])
{
    struct pad_model model = {0};
    struct pad_state state = {0};
    memset(outputs, 0, hit_count * sizeof *outputs);
    enum status status = pad_model_make(setup, &model);
    if (status == STATUS_OK)
        status = pad_state_make(&model, &state);
    for (size_t hit = 0; status == STATUS_OK && hit < hit_count; hit++) {
        status = pad_output(&model, &state, speed[hit], &outputs[hit], stop, message);
        if (status != STATUS_OK)
            name_hit(hit, hit_count, message);
    }
    if (status != STATUS_OK && status != STATUS_COMPUTATION)
        free_outputs(outputs, hit_count);
    pad_state_free(&state);
    pad_model_free(&model);
    return status;
}

/* --- columns --- */

static enum status make_layers(size_t count, struct impact_output *output)
{
    output->layers = memory_zeroed(count, sizeof *output->layers);
    output->layer_count = output->layers ? count : 0;
    return output->layers ? STATUS_OK : STATUS_MEMORY;
}

/* Layer i (from 0) of a region, row `at` of the history. */
static enum status take_region_layer(const struct columns_region *region, size_t i, double absorbed,
                                     const struct history *history, size_t at, struct impact_output *output)
{
    struct layer_output *layer = &output->layers[at];
    snprintf(layer->region, sizeof layer->region, "%s", region->name);
    layer->layer = (int)i + 1;
    layer->absorbed = absorbed;
    layer->best_strain = liner_best_strain(&region->layers[i]);
    layer->thickness = region->layers[i].thickness;
    return take_layer(history, at, output->count, layer);
}

static enum status take_column_layers(const struct columns_model *model, const double *absorbed,
                                      const struct history *history, struct impact_output *output)
{
    enum status status = make_layers(model->layer_count, output);
    size_t at = 0;
    for (size_t g = 0; g < model->group_count; g++) {
        const struct columns_region *region = &model->setup.regions[model->groups[g].region];
        for (size_t i = 0; status == STATUS_OK && i < region->layer_count; i++, at++)
            status = take_region_layer(region, i, absorbed[at], history, at, output);
    }
    return status;
}

static enum status columns_output(const struct columns_model *model, struct columns_state **last,
                                  struct impact_output *output, const atomic_int *stop, char *message)
{
    struct history history = {0};
    double absorbed[HISTORY_LAYERS];
    enum status status =
        history_make(&history, model->setup.duration, model->setup.speed, model->layer_count);
    if (status == STATUS_OK && model->oblique.setup.active)
        status = history_turns(&history, model->oblique.setup.speed);
    if (status == STATUS_OK)
        status = columns_run(model, last, &history, absorbed, stop, message);
    if (status == STATUS_OK)
        status = closed(&history, message);
    if (status == STATUS_OK)
        status = take_output(&history, model->setup.head_mass, model->setup.gravity,
                             columns_axis_thickness(model), &model->oblique.setup, output);
    if (status == STATUS_OK)
        status = take_column_layers(model, absorbed, &history, output);
    history_free(&history);
    return status;
}

enum status run_columns_hits(const struct columns_setup *setup, const double *speed, size_t hit_count,
                             struct impact_output *outputs, const atomic_int *stop,
                             char message[HISTORY_MESSAGE])
{
    struct columns_model model = {0};
    struct columns_state *last = NULL;
    memset(outputs, 0, hit_count * sizeof *outputs);
    enum status status = columns_model_make(setup, &model);
    for (size_t hit = 0; status == STATUS_OK && hit < hit_count; hit++) {
        model.setup.speed = speed[hit];
        model.oblique.setup.speed = setup->oblique.speed * (speed[hit] / setup->speed);
        status = columns_output(&model, hit_count > 1 ? &last : NULL, &outputs[hit], stop, message);
        if (status != STATUS_OK)
            name_hit(hit, hit_count, message);
    }
    if (status != STATUS_OK && status != STATUS_COMPUTATION)
        free_outputs(outputs, hit_count);
    columns_state_free(&model, last);
    columns_model_free(&model);
    return status;
}

enum status run_columns(const struct columns_setup *setup, struct impact_output *output, double *mass,
                        const atomic_int *stop, char message[HISTORY_MESSAGE])
{
    struct columns_model model = {0};
    *output = (struct impact_output){0};
    enum status status = columns_model_make(setup, &model);
    if (status == STATUS_OK && mass)
        *mass = columns_model_mass(&model);
    if (status == STATUS_OK)
        status = columns_output(&model, NULL, output, stop, message);
    if (status != STATUS_OK)
        impact_output_free(output);
    columns_model_free(&model);
    return status;
}

/* --- axisymmetric --- */

static enum status axisymmetric_output(const struct axisymmetric_model *model,
                                       struct axisymmetric_state **last, struct impact_output *output,
                                       const atomic_int *stop, char *message)
{
    const struct columns_setup *helmet = &model->setup.helmet;
    struct history history = {0};
    double absorbed[HISTORY_LAYERS];
    enum status status = history_make(&history, helmet->duration, helmet->speed, model->layer_count);
    if (status == STATUS_OK && model->oblique.setup.active)
        status = history_turns(&history, model->oblique.setup.speed);
    if (status == STATUS_OK)
        status = axisymmetric_run(model, last, &history, absorbed, stop, message);
    if (status == STATUS_OK)
        status = closed(&history, message);
    if (status == STATUS_OK)
        status = take_output(&history, helmet->head_mass, helmet->gravity, axisymmetric_axis_thickness(model),
                             &model->oblique.setup, output);
    if (status == STATUS_OK)
        status = make_layers(model->layer_count, output);
    for (size_t l = 0; status == STATUS_OK && l < model->layer_count; l++)
        status = take_region_layer(&helmet->regions[model->layers[l].region],
                                   (size_t)model->layers[l].layer - 1, absorbed[l], &history, l, output);
    output->snapshots = history.snapshots;
    history.snapshots = (struct snapshots){0};
    history_free(&history);
    return status;
}

enum status run_axisymmetric_hits(const struct axisymmetric_setup *setup, const double *speed,
                                  size_t hit_count, struct impact_output *outputs, const atomic_int *stop,
                                  char message[HISTORY_MESSAGE])
{
    struct axisymmetric_model model = {0};
    struct axisymmetric_state *last = NULL;
    memset(outputs, 0, hit_count * sizeof *outputs);
    enum status status = axisymmetric_model_make(setup, &model);
    for (size_t hit = 0; status == STATUS_OK && hit < hit_count; hit++) {
        model.setup.helmet.speed = speed[hit];
        model.oblique.setup.speed = setup->helmet.oblique.speed * (speed[hit] / setup->helmet.speed);
        status = axisymmetric_output(&model, hit_count > 1 ? &last : NULL, &outputs[hit], stop, message);
        if (status != STATUS_OK)
            name_hit(hit, hit_count, message);
    }
    if (status != STATUS_OK && status != STATUS_COMPUTATION)
        free_outputs(outputs, hit_count);
    axisymmetric_state_free(&model, last);
    axisymmetric_model_free(&model);
    return status;
}

enum status run_axisymmetric(const struct axisymmetric_setup *setup, struct impact_output *output,
                             double *mass, const atomic_int *stop, char message[HISTORY_MESSAGE])
{
    struct axisymmetric_model model;
    *output = (struct impact_output){0};
    enum status status = axisymmetric_model_make(setup, &model);
    if (status == STATUS_OK && mass)
        *mass = axisymmetric_model_mass(&model);
    if (status == STATUS_OK)
        status = axisymmetric_output(&model, NULL, output, stop, message);
    if (status != STATUS_OK)
        impact_output_free(output);
    axisymmetric_model_free(&model);
    return status;
}
