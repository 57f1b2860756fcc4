#include "solver/impact/output.h"

#include "solver/base/memory.h"

const struct channel_info pulse_table[PULSE_COUNT] = {
#define PULSE_ROW(name, unit, text) {#name, unit, text},
    PULSE_LIST(PULSE_ROW)
#undef PULSE_ROW
};

const struct channel_info energy_table[ENERGY_COUNT] = {
#define ENERGY_ROW(name, unit, text) {#name, unit, text},
    ENERGY_LIST(ENERGY_ROW)
#undef ENERGY_ROW
};

int energy_optional(size_t part)
{
    return part == ENERGY_damage || part == ENERGY_friction_on_face || part == ENERGY_friction_on_head;
}

int pulse_optional(size_t channel)
{
    return channel >= PULSE_normal_acceleration;
}

int output_tells(const struct impact_output *output, size_t part)
{
    return !energy_optional(part) || output->energy[part] > 0.0;
}

void impact_output_free(struct impact_output *output)
{
    for (size_t i = 0; i < PULSE_COUNT; i++)
        memory_free(output->channel[i]);
    for (size_t i = 0; i < ENERGY_COUNT; i++)
        memory_free(output->ledger[i]);
    for (size_t i = 0; i < output->layer_count; i++)
        memory_free(output->layers[i].crush);
    memory_free(output->layers);
    snapshots_free(&output->snapshots);
    *output = (struct impact_output){0};
}
