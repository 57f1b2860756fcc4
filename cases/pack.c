#include "cases/pack.h"

#include <string.h>

#include "solver/base/memory.h"

enum { WORD = 8 };

/* --- writing --- */

/* Room for `length` more bytes; NULL after a failure. */
static unsigned char *extend(struct pack *pack, size_t length)
{
    if (!pack->out_of_memory && pack->room - pack->length < length) {
        size_t room = 2 * pack->room + length;
        unsigned char *longer = memory_resized(pack->bytes, pack->room, room, 1);
        pack->out_of_memory = !longer;
        if (longer) {
            pack->bytes = longer;
            pack->room = room;
        }
    }
    if (pack->out_of_memory)
        return NULL;
    pack->length += length;
    return pack->bytes + pack->length - length;
}

static void word_write(unsigned char *to, uint64_t value)
{
    for (size_t i = 0; i < WORD; i++)
        to[i] = (unsigned char)(value >> 8 * i);
}

static uint64_t word_read(const unsigned char *from)
{
    uint64_t value = 0;
    for (size_t i = 0; i < WORD; i++)
        value |= (uint64_t)from[i] << 8 * i;
    return value;
}

void pack_integer(struct pack *pack, uint64_t value)
{
    unsigned char *to = extend(pack, WORD);
    if (to)
        word_write(to, value);
}

void pack_doubles(struct pack *pack, const double *values, size_t count)
{
    unsigned char *to = extend(pack, count * WORD);
    for (size_t i = 0; to && i < count; i++) {
        uint64_t bits;
        memcpy(&bits, &values[i], sizeof bits);
        word_write(to + i * WORD, bits);
    }
}

void pack_text(struct pack *pack, const char *text)
{
    size_t length = strlen(text);
    pack_integer(pack, length);
    unsigned char *to = extend(pack, length);
    if (to)
        memcpy(to, text, length);
}

/* --- reading --- */

/* The next `length` bytes; NULL when they are not there. */
static const unsigned char *take(struct unpack *unpack, size_t length)
{
    if (unpack->out_of_memory || unpack->left < length)
        unpack->bad = 1;
    if (unpack->bad)
        return NULL;
    unpack->at += length;
    unpack->left -= length;
    return unpack->at - length;
}

uint64_t unpack_integer(struct unpack *unpack)
{
    const unsigned char *from = take(unpack, WORD);
    return from ? word_read(from) : 0;
}

void unpack_doubles(struct unpack *unpack, double *values, size_t count)
{
    const unsigned char *from = count <= unpack->left / WORD ? take(unpack, count * WORD) : NULL;
    unpack->bad |= !from;
    for (size_t i = 0; i < count; i++) {
        uint64_t bits = from ? word_read(from + i * WORD) : 0;
        memcpy(&values[i], &bits, sizeof bits);
    }
}

void unpack_text(struct unpack *unpack, char *text, size_t size)
{
    uint64_t length = unpack_integer(unpack);
    unpack->bad |= length >= size;
    const unsigned char *from = take(unpack, (size_t)length);
    memset(text, 0, size);
    if (from)
        memcpy(text, from, (size_t)length);
}

/* An integer below `limit`. */
static uint64_t unpack_below(struct unpack *unpack, uint64_t limit)
{
    uint64_t value = unpack_integer(unpack);
    if (value < limit)
        return value;
    unpack->bad = 1;
    return 0;
}

/* Number of things to come that take at least `size` bytes each. */
static size_t unpack_count(struct unpack *unpack, size_t size)
{
    return (size_t)unpack_below(unpack, unpack->left / size + 1);
}

/* --- hits --- */

/* A history that may be missing. */
static void pack_history(struct pack *pack, const double *values, size_t count)
{
    pack_integer(pack, values != NULL);
    if (values)
        pack_doubles(pack, values, count);
}

static double *unpack_history(struct unpack *unpack, size_t count)
{
    if (!unpack_below(unpack, 2) || unpack->bad)
        return NULL;
    if (count > unpack->left / WORD) {
        unpack->bad = 1;
        return NULL;
    }
    double *values = memory_doubles(count);
    if (values)
        unpack_doubles(unpack, values, count);
    else
        unpack->out_of_memory = 1;
    return values;
}

static void pack_layer(struct pack *pack, const struct layer_output *layer, size_t count)
{
    double numbers[6] = {layer->absorbed,  layer->crush_fraction, layer->best_strain,
                         layer->thickness, layer->past_end,       layer->past_strain};
    pack_text(pack, layer->region);
    pack_integer(pack, (uint64_t)layer->layer);
    pack_doubles(pack, numbers, 6);
    pack_text(pack, layer->past_foam);
    pack_history(pack, layer->crush, count);
}

static void unpack_layer(struct unpack *unpack, struct layer_output *layer, size_t count)
{
    double numbers[6];
    unpack_text(unpack, layer->region, sizeof layer->region);
    layer->layer = (int)unpack_below(unpack, INT32_MAX);
    unpack_doubles(unpack, numbers, 6);
    unpack_text(unpack, layer->past_foam, sizeof layer->past_foam);
    layer->absorbed = numbers[0];
    layer->crush_fraction = numbers[1];
    layer->best_strain = numbers[2];
    layer->thickness = numbers[3];
    layer->past_end = numbers[4];
    layer->past_strain = numbers[5];
    layer->crush = unpack_history(unpack, count);
}

static void pack_snapshots(struct pack *pack, const struct snapshots *snapshots)
{
    pack_integer(pack, snapshots->rings);
    if (snapshots->rings == 0)
        return;
    pack_integer(pack, snapshots->rows);
    pack_integer(pack, snapshots->count);
    pack_doubles(pack, &snapshots->shell_thickness, 1);
    pack_doubles(pack, snapshots->anvil_r, SNAPSHOT_ANVIL);
    pack_doubles(pack, snapshots->anvil_z, SNAPSHOT_ANVIL);
    for (int a = 0; a < SNAPSHOT_COUNT; a++)
        pack_doubles(pack, snapshots->array[a], snapshots->count * snapshots_values(snapshots, a));
}

static void unpack_snapshots(struct unpack *unpack, struct snapshots *snapshots)
{
    size_t rings = (size_t)unpack_below(unpack, SNAPSHOT_RINGS_MOST + 1);
    *snapshots = (struct snapshots){.rings = rings};
    if (rings == 0)
        return;
    snapshots->rows = (size_t)unpack_below(unpack, SNAPSHOT_ROWS_MOST + 1);
    size_t count = (size_t)unpack_below(unpack, SNAPSHOTS_MOST + 1);
    unpack->bad |= count * snapshots_values(snapshots, SNAPSHOT_r) > unpack->left / WORD;
    if (unpack->bad) {
        *snapshots = (struct snapshots){0};
        return;
    }
    unpack->out_of_memory |= snapshots_make(snapshots, rings, snapshots->rows, count) != STATUS_OK;
    if (unpack->out_of_memory)
        return;
    snapshots->count = count;
    unpack_doubles(unpack, &snapshots->shell_thickness, 1);
    unpack_doubles(unpack, snapshots->anvil_r, SNAPSHOT_ANVIL);
    unpack_doubles(unpack, snapshots->anvil_z, SNAPSHOT_ANVIL);
    for (int a = 0; a < SNAPSHOT_COUNT; a++)
        unpack_doubles(unpack, snapshots->array[a], count * snapshots_values(snapshots, a));
}

static void pack_output(struct pack *pack, const struct impact_output *output)
{
    double numbers[6] = {output->interval,      output->ledger_interval, output->balance_error,
                         output->impulse_error, output->anvil_impulse,   output->layer_slide};
    pack_integer(pack, output->count);
    pack_integer(pack, output->ledger_count);
    pack_integer(pack, (uint64_t)output->steps);
    pack_integer(pack, (uint64_t)output->cells);
    pack_integer(pack, (uint64_t)output->separated);
    pack_doubles(pack, numbers, 6);
    pack_doubles(pack, output->energy, ENERGY_COUNT);
    pack_doubles(pack, output->metrics, METRIC_COUNT);
    for (int i = 0; i < PULSE_COUNT; i++)
        pack_history(pack, output->channel[i], output->count);
    for (int i = 0; i < ENERGY_COUNT; i++)
        pack_history(pack, output->ledger[i], output->ledger_count);
    pack_integer(pack, output->layer_count);
    for (size_t i = 0; i < output->layer_count; i++)
        pack_layer(pack, &output->layers[i], output->count);
    pack_snapshots(pack, &output->snapshots);
}

static void unpack_scalars(struct unpack *unpack, struct impact_output *output)
{
    double numbers[6];
    output->count = unpack_count(unpack, 1);
    output->ledger_count = unpack_count(unpack, 1);
    output->steps = (long)unpack_below(unpack, INT64_MAX);
    output->cells = (long)unpack_below(unpack, INT64_MAX);
    output->separated = (int)unpack_below(unpack, 2);
    unpack_doubles(unpack, numbers, 6);
    output->interval = numbers[0];
    output->ledger_interval = numbers[1];
    output->balance_error = numbers[2];
    output->impulse_error = numbers[3];
    output->anvil_impulse = numbers[4];
    output->layer_slide = numbers[5];
    unpack_doubles(unpack, output->energy, ENERGY_COUNT);
    unpack_doubles(unpack, output->metrics, METRIC_COUNT);
}

static void unpack_output(struct unpack *unpack, struct impact_output *output)
{
    enum { LEAST_LAYER = 10 * WORD };
    unpack_scalars(unpack, output);
    for (int i = 0; i < PULSE_COUNT; i++)
        output->channel[i] = unpack_history(unpack, output->count);
    for (int i = 0; i < ENERGY_COUNT; i++)
        output->ledger[i] = unpack_history(unpack, output->ledger_count);
    size_t layers = unpack_count(unpack, LEAST_LAYER);
    if (unpack->bad)
        return;
    output->layers = memory_zeroed(layers, sizeof *output->layers);
    unpack->out_of_memory |= !output->layers;
    output->layer_count = output->layers ? layers : 0;
    for (size_t i = 0; i < output->layer_count; i++)
        unpack_layer(unpack, &output->layers[i], output->count);
    unpack_snapshots(unpack, &output->snapshots);
}

/* Whoever works with a computed hit takes its histories for granted. */
static int is_complete(const struct hit_result *hit)
{
    const struct impact_output *output = &hit->output;
    int complete = hit->status != HIT_COMPUTED || output->count > 0;
    for (int i = 0; i < PULSE_COUNT; i++)
        complete &= output->count == 0 || output->channel[i] || pulse_optional((size_t)i);
    for (int i = 0; i < ENERGY_COUNT; i++)
        complete &= output->ledger_count == 0 || output->ledger[i] || !output_tells(output, (size_t)i);
    return complete;
}

static void pack_hoop(struct pack *pack, const struct hoop_bounds *hoop)
{
    double numbers[4] = {hoop->kept_peak, hoop->kept_hic, hoop->cut_peak, hoop->cut_hic};
    pack_text(pack, hoop->shown);
    pack_doubles(pack, numbers, 4);
}

static void unpack_hoop(struct unpack *unpack, struct hoop_bounds *hoop)
{
    double numbers[4];
    unpack_text(unpack, hoop->shown, sizeof hoop->shown);
    unpack_doubles(unpack, numbers, 4);
    hoop->kept_peak = numbers[0];
    hoop->kept_hic = numbers[1];
    hoop->cut_peak = numbers[2];
    hoop->cut_hic = numbers[3];
}

void pack_hits(struct pack *pack, const struct hit_result *hits, size_t count)
{
    pack_integer(pack, count);
    for (size_t i = 0; i < count; i++) {
        pack_integer(pack, (uint64_t)hits[i].status);
        pack_text(pack, hits[i].message);
        pack_doubles(pack, &hits[i].wall, 1);
        pack_hoop(pack, &hits[i].hoop);
        pack_output(pack, &hits[i].output);
    }
}

enum status unpack_hits(struct unpack *unpack, struct hit_result *hits, size_t count)
{
    unpack->bad |= unpack_integer(unpack) != count;
    for (size_t i = 0; i < count; i++) {
        hits[i].status = (enum hit_status)unpack_below(unpack, HIT_FAILED + 1);
        unpack_text(unpack, hits[i].message, sizeof hits[i].message);
        unpack_doubles(unpack, &hits[i].wall, 1);
        unpack_hoop(unpack, &hits[i].hoop);
        unpack_output(unpack, &hits[i].output);
        unpack->bad |= !is_complete(&hits[i]);
    }
    unpack->bad |= unpack->left != 0;
    if (!unpack->bad && !unpack->out_of_memory)
        return STATUS_OK;
    for (size_t i = 0; i < count; i++)
        impact_output_free(&hits[i].output);
    return unpack->out_of_memory ? STATUS_MEMORY : STATUS_INPUT;
}
