#include "cases/fill_sweep.h"

#include <string.h>

#include "solver/base/memory.h"

/* A grid needs a list of values from every factor; where there is a `tune`, whose `steps` may give them,
 * `sweep` sees to that when it is asked for. */
static void check_grid(struct fill *fill, const struct factor *factor)
{
    if (!node_get(fill->root, "tune") && fill->file->sweep.sample == SAMPLE_GRID &&
        factor->level_count == 0 && factor->given)
        node_error(&fill->file->tree, factor->given, fill->errors,
                   "a grid needs the values of %s: add `step` or `count`, or take sample: latin or sobol",
                   factor->path);
}

static void read_factor(struct fill *fill, const struct node *vary, size_t at)
{
    struct case_sweep *sweep = &fill->file->sweep;
    const struct tree *tree = &fill->file->tree;
    const struct node *value = vary->items[at];
    if (value->kind == NODE_MAPPING && !schema_check(tree, value, SCHEMA_VARY, fill->errors))
        return;
    struct factor *factor = &sweep->factors[sweep->factor_count];
    enum status status = factor_read(tree, vary->keys[at], value, factor, fill->errors);
    fill->out_of_memory |= status == STATUS_MEMORY;
    sweep->factor_count += status == STATUS_OK;
    if (status == STATUS_OK)
        check_grid(fill, factor);
}

static enum sample_kind sample_of(const struct node *sweep)
{
    const char *word = schema_text(sweep, SCHEMA_SWEEP, "sample");
    return strcmp(word, "latin") == 0   ? SAMPLE_LATIN
           : strcmp(word, "sobol") == 0 ? SAMPLE_SOBOL
                                        : SAMPLE_GRID;
}

void fill_sweep(struct fill *fill)
{
    const struct node *node = node_get(fill->root, "sweep");
    struct case_sweep *sweep = &fill->file->sweep;
    if (!node || fill->size)
        return;
    const struct node *vary = node_get(node, "vary");
    *sweep = (struct case_sweep){.present = 1,
                                 .sample = sample_of(node),
                                 .points = (size_t)schema_quantity(node, SCHEMA_SWEEP, "points"),
                                 .seed = (uint64_t)schema_quantity(node, SCHEMA_SWEEP, "seed"),
                                 .place = node};
    if (!vary || vary->kind != NODE_MAPPING || vary->count == 0 || vary->count > FACTORS_MOST) {
        node_error(&fill->file->tree, vary ? vary : node, fill->errors,
                   "`vary` takes 1 to %d paths with values: {liner.crown.layers.1.density: {from: 40 kg/m3, "
                   "to: 60 kg/m3, step: 5 kg/m3}}",
                   FACTORS_MOST);
        return;
    }
    sweep->factors = fill_block(fill, vary->count, sizeof *sweep->factors);
    for (size_t i = 0; sweep->factors && i < vary->count; i++)
        read_factor(fill, vary, i);
}
