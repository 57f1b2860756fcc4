#include "cases/fill_tune.h"

#include <string.h>

#include "cases/fill_helmet.h"
#include "solver/base/memory.h"

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* A metric by its name or by the one it has under `limits`; -1 for none. `limited`: the latter alone. */
static int metric_of(const char *word, int limited)
{
    for (int i = 0; i < METRIC_COUNT; i++) {
        const char *key = metric_table[i].limit_key;
        if ((key && strcmp(word, key) == 0) || (!limited && strcmp(word, metric_table[i].name) == 0))
            return i;
    }
    return -1;
}

/* --- objective --- */

static void fill_objective(struct fill *fill, const struct node *node)
{
    static const char margin[] = "worst margin";
    const struct node *objective = node_get(node, "objective");
    const char *names[METRIC_COUNT + 1] = {margin};
    fill->file->tune.metric = -1;
    if (!objective || strcmp(objective->text, margin) == 0)
        return;
    fill->file->tune.metric = metric_of(objective->text, 0);
    for (int i = 0; i < METRIC_COUNT; i++)
        names[i + 1] = metric_table[i].name;
    if (fill->file->tune.metric < 0)
        schema_unknown(tree_of(fill), objective, "objective", objective->text, names, METRIC_COUNT + 1,
                       fill->errors);
}

/* --- bounds --- */

/* What a bound is of; 0 with a message when there is no such thing. */
static int fill_keep_kind(struct fill *fill, const struct node *key, struct case_keep *keep)
{
    const char *names[METRIC_COUNT + 2] = {"helmet_mass", "stroke_left"};
    size_t count = 2;
    for (int i = 0; i < METRIC_COUNT; i++) {
        if (metric_table[i].limit_key)
            names[count++] = metric_table[i].limit_key;
    }
    int metric = metric_of(key->text, 1);
    keep->kind = strcmp(key->text, names[0]) == 0   ? KEEP_HELMET_MASS
                 : strcmp(key->text, names[1]) == 0 ? KEEP_STROKE_LEFT
                                                    : KEEP_METRIC;
    if (keep->kind == KEEP_METRIC && metric < 0) {
        schema_unknown(tree_of(fill), key, "bound", key->text, names, count, fill->errors);
        return 0;
    }
    keep->metric = (enum metric)(metric < 0 ? 0 : metric);
    return 1;
}

static void fill_bound(struct fill *fill, const struct node *value, struct case_keep *keep)
{
    if (keep->kind == KEEP_HELMET_MASS)
        fill_value(fill, value, "helmet_mass", QUANTITY_MASS, SCHEMA_ABOVE_0, 20, &keep->bound);
    else if (keep->kind == KEEP_STROKE_LEFT)
        fill_value(fill, value, "stroke_left", QUANTITY_FRACTION, 0, 1, &keep->bound);
    else
        fill_metric_limit(fill, value, &metric_table[keep->metric], &keep->bound);
}

static void fill_keep(struct fill *fill, const struct node *key, const struct node *value)
{
    struct case_tune *tune = &fill->file->tune;
    struct case_keep keep = {.place = key};
    if (!fill_keep_kind(fill, key, &keep))
        return;
    if (value->kind != NODE_MAPPING || value->count == 0) {
        node_error(tree_of(fill), value, fill->errors, "a bound is {max: VALUE} or {min: VALUE}");
        return;
    }
    if (!schema_check(tree_of(fill), value, SCHEMA_KEEP, fill->errors))
        return;
    if (keep.kind == KEEP_HELMET_MASS && fill->file->pad.present)
        node_error(tree_of(fill), key, fill->errors, "a pad has no helmet mass to bound");
    for (size_t i = 0; i < value->count; i++) {
        keep.most = strcmp(value->keys[i]->text, "max") == 0;
        fill_bound(fill, value->items[i], &keep);
        if (tune->keep_count == CASE_KEEPS)
            node_error(tree_of(fill), key, fill->errors, "`keep` takes %d bounds at most", CASE_KEEPS);
        else
            tune->keeps[tune->keep_count++] = keep;
    }
}

static void fill_keeps(struct fill *fill, const struct node *node)
{
    const struct node *keep = node_get(node, "keep");
    if (keep && keep->kind != NODE_MAPPING)
        node_error(tree_of(fill), keep, fill->errors,
                   "`keep` takes bounds: {helmet_mass: {max: 1.45 kg}, stroke_left: {min: 20 %%}}");
    for (size_t i = 0; keep && keep->kind == NODE_MAPPING && i < keep->count; i++)
        fill_keep(fill, keep->keys[i], keep->items[i]);
}

/* --- steps --- */

static const char *last_word(const struct factor *factor)
{
    const char *dot = strrchr(factor->path, '.');
    return dot ? dot + 1 : factor->path;
}

static void apply_step(struct fill *fill, const struct node *value, double step, const char *unit,
                       struct factor *factor)
{
    char low[FACTOR_TEXT], high[FACTOR_TEXT];
    if (strcmp(unit, factor->unit) != 0) {
        node_error(tree_of(fill), value, fill->errors,
                   "the step has the unit \"%s\" and the range of %s \"%s\": write both in one unit", unit,
                   factor->path, factor->unit);
        return;
    }
    factor_write(factor, factor->low, low);
    factor_write(factor, factor->high, high);
    enum status status = factor_step(factor, step);
    fill->out_of_memory |= status == STATUS_MEMORY;
    if (status == STATUS_INPUT)
        node_error(tree_of(fill), value, fill->errors,
                   "%s takes from %s to %s: between 1 and %d multiples of the step have to lie there",
                   factor->path, low, high, FACTOR_LEVELS);
}

/* One key of `steps`: factors with levels of their own keep those. */
static void fill_step(struct fill *fill, const struct node *key, const struct node *value)
{
    struct case_tune *tune = &fill->file->tune;
    const char *names[FACTORS_MOST];
    char unit[UNITS_NAME], message[UNITS_MESSAGE];
    double step;
    int known = 0;
    if (value->kind != NODE_SCALAR || !units_split(value->text, &step, unit, message) || !(step > 0)) {
        node_error(tree_of(fill), value, fill->errors, "a step is a value above zero, as 5 kg/m3");
        return;
    }
    for (size_t i = 0; i < tune->factor_count; i++) {
        names[i] = last_word(&tune->factors[i]);
        if (strcmp(names[i], key->text) != 0)
            continue;
        known = 1;
        if (tune->factors[i].level_count == 0)
            apply_step(fill, value, step, unit, &tune->factors[i]);
    }
    if (!known)
        schema_unknown(tree_of(fill), key, "last word of a path", key->text, names, tune->factor_count,
                       fill->errors);
}

static void fill_steps(struct fill *fill, const struct node *node)
{
    const struct node *steps = node_get(node, "steps");
    if (steps && steps->kind != NODE_MAPPING)
        node_error(tree_of(fill), steps, fill->errors,
                   "`steps` takes a value for the last word of a path: {density: 5 kg/m3, thickness: 1 mm}");
    for (size_t i = 0; steps && steps->kind == NODE_MAPPING && i < steps->count; i++)
        fill_step(fill, steps->keys[i], steps->items[i]);
}

/* --- all --- */

static void copy_factors(struct fill *fill)
{
    const struct case_sweep *sweep = &fill->file->sweep;
    struct case_tune *tune = &fill->file->tune;
    tune->factors = fill_block(fill, sweep->factor_count, sizeof *tune->factors);
    for (size_t i = 0; tune->factors && i < sweep->factor_count && !fill->out_of_memory; i++) {
        fill->out_of_memory |= factor_copy(&sweep->factors[i], &tune->factors[i]) != STATUS_OK;
        tune->factor_count += !fill->out_of_memory;
    }
}

void fill_tune(struct fill *fill)
{
    const struct node *node = node_get(fill->root, "tune");
    struct case_tune *tune = &fill->file->tune;
    if (fill->size)
        return;
    if (node && !fill->file->sweep.present) {
        node_error(tree_of(fill), node, fill->errors,
                   "`tune` needs the ranges of a `sweep`: sweep: {vary: {liner.density: {from: 40 kg/m3, to: "
                   "60 kg/m3, step: 5 kg/m3}}}");
        return;
    }
    if (!fill->file->sweep.present || fill->file->sweep.factor_count == 0)
        return;
    *tune = (struct case_tune){
        .place = node, .metric = -1, .runs = (size_t)schema_quantity(node, SCHEMA_TUNE, "runs")};
    copy_factors(fill);
    if (!node || fill->out_of_memory)
        return;
    fill_objective(fill, node);
    fill_keeps(fill, node);
    fill_steps(fill, node);
}
