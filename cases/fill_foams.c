#include "cases/fill_foams.h"

#include <math.h>
#include <string.h>

#include "cases/foams.h"
#include "materials/foam.h"
#include "solver/base/data.h"
#include "solver/base/memory.h"

/* The foam of the data files of that name; NULL when there is none. */
static const struct registry_material *find_material(const struct fill *fill, const char *name)
{
    for (size_t i = 0; i < fill->registry.count; i++) {
        if (strcmp(fill->registry.materials[i].name, name) == 0)
            return &fill->registry.materials[i];
    }
    return NULL;
}

/* Whether an own foam is for comfort padding. */
static int is_comfort(const struct fill *fill, const struct case_foam *foam)
{
    const struct registry_material *like = find_material(fill, foam->like);
    return like && like->comfort;
}

void fill_temperatures(struct fill *fill, const struct node *list, size_t *count, double **temperature,
                       double **factor)
{
    const struct tree *tree = &fill->file->tree;
    if (list->kind != NODE_SEQUENCE || list->count == 0) {
        node_error(tree, list, fill->errors, "`temperature` takes pairs: [[-20 degC, 1.1], [23 degC, 1.0]]");
        return;
    }
    double *degree = *temperature = fill_block(fill, list->count, sizeof *degree);
    double *share = *factor = fill_block(fill, list->count, sizeof *share);
    if (!degree || !share)
        return;
    *count = list->count;
    for (size_t i = 0; i < list->count; i++) {
        const struct node *pair = list->items[i];
        if (pair->kind != NODE_SEQUENCE || pair->count != 2) {
            node_error(tree, pair, fill->errors, "a pair is written [temperature, factor]");
            continue;
        }
        fill_value(fill, pair->items[0], "temperature", QUANTITY_TEMPERATURE, -80, 150, &degree[i]);
        fill_value(fill, pair->items[1], "factor", QUANTITY_NUMBER, SCHEMA_ABOVE_0, 10, &share[i]);
        if (i > 0 && degree[i] <= degree[i - 1])
            node_error(tree, pair, fill->errors, "temperatures must ascend");
    }
}

/* Path of a file that a case names: beside the file that names it, or among the data files. */
static char *curve_path(struct fill *fill, const struct node *file)
{
    const struct tree *tree = &fill->file->tree;
    const char *beside = tree->files[file->file].path;
    char *path;
    if (beside[0] == '\0') /* from --set: beside the case */
        beside = tree->files[0].path;
    if (data_find(file->text, beside, &path) != STATUS_OK)
        fill->out_of_memory = 1;
    else if (!path)
        node_error(tree, file, fill->errors,
                   "file '%.120s' was not found beside the case or among the data files", file->text);
    return path;
}

static void fill_curves(struct fill *fill, const struct node *list, struct case_foam *foam)
{
    foam->curve_density = fill_block(fill, list->count, sizeof(double));
    foam->curve_file = fill_block(fill, list->count, sizeof(char *));
    if (!foam->curve_density || !foam->curve_file)
        return;
    foam->curve_count = list->count;
    for (size_t i = 0; i < list->count; i++) {
        const struct node *curve = list->items[i];
        fill_required(fill, curve, "density");
        foam->curve_density[i] = schema_quantity(curve, SCHEMA_CURVE, "density");
        if (fill_required(fill, curve, "file"))
            foam->curve_file[i] = curve_path(fill, node_get(curve, "file"));
    }
}

/* Refuses what has no effect on comfort padding. */
static void check_comfort(struct fill *fill, const struct node *mapping)
{
    static const char *const taken[] = {"like", "density", "collapse_stress"};
    for (size_t i = 0; i < mapping->count; i++) {
        int known = 0;
        for (size_t k = 0; k < sizeof taken / sizeof *taken; k++)
            known |= strcmp(mapping->keys[i]->text, taken[k]) == 0;
        if (!known)
            node_error(&fill->file->tree, mapping->keys[i], fill->errors,
                       "`%s` has no effect on comfort padding, which takes `density` and `collapse_stress`, "
                       "the pressure at 40 %% closure",
                       mapping->keys[i]->text);
    }
}

static void fill_foam(struct fill *fill, const struct node *name, const struct node *mapping,
                      struct case_foam *foam)
{
    if (find_material(fill, name->text))
        node_error(&fill->file->tree, name, fill->errors,
                   "'%s' is a foam of `foampulse list foams`; take another "
                   "name",
                   name->text);
    const struct node *temperature = node_get(mapping, "temperature"), *curves = node_get(mapping, "curves");
    foam->place = mapping;
    fill_name(foam->name, name->text);
    fill_name(foam->like, schema_text(mapping, SCHEMA_FOAM, "like"));
#define FILL_VALUE(key) foam->key = schema_quantity(mapping, SCHEMA_FOAM, #key);
    CASE_FOAM_LIST(FILL_VALUE)
#undef FILL_VALUE
    if (node_get(mapping, "like"))
        fill_foam_known(fill, node_get(mapping, "like"), foam->like, FILL_FOAM_SHIPPED);
    if (is_comfort(fill, foam))
        check_comfort(fill, mapping);
    const char *knee = schema_text(mapping, SCHEMA_FOAM, "knee");
    foam->knee = strcmp(knee, "rounded") == 0 ? 1 : strcmp(knee, "sharp") == 0 ? 2 : 0;
    fill_exclusive(fill, mapping, "collapse_stress", "stress_10");
    fill_exclusive(fill, mapping, "collapse_stress", "curves");
    fill_exclusive(fill, mapping, "stress_10", "curves");
    if (temperature)
        fill_temperatures(fill, temperature, &foam->temperature_count, &foam->temperature,
                          &foam->temperature_factor);
    if (curves)
        fill_curves(fill, curves, foam);
}

void fill_foams(struct fill *fill)
{
    const struct node *foams = node_get(fill->root, "foams");
    if (!foams)
        return;
    fill->file->foams = fill_block(fill, foams->count, sizeof(struct case_foam));
    if (!fill->file->foams)
        return;
    fill->file->foam_count = foams->count;
    for (size_t i = 0; i < foams->count; i++)
        fill_foam(fill, foams->keys[i], foams->items[i], &fill->file->foams[i]);
}

/* Names of the foams for a use, in a new block; NULL when memory is out. */
static const char **foam_names(struct fill *fill, enum fill_foam_use use, size_t *count)
{
    const struct registry *registry = &fill->registry;
    const struct case_file *file = fill->file;
    const char **names = memory_zeroed(registry->count + file->foam_count, sizeof *names);
    *count = 0;
    if (!names)
        fill->out_of_memory = 1;
    for (size_t i = 0; names && i < registry->count; i++) {
        if (use == FILL_FOAM_SHIPPED || registry->materials[i].comfort == (use == FILL_FOAM_COMFORT))
            names[(*count)++] = registry->materials[i].name;
    }
    for (size_t i = 0; names && use != FILL_FOAM_SHIPPED && i < file->foam_count; i++) {
        if (is_comfort(fill, &file->foams[i]) == (use == FILL_FOAM_COMFORT))
            names[(*count)++] = file->foams[i].name;
    }
    return names;
}

int fill_foam_known(struct fill *fill, const struct node *place, const char *foam, enum fill_foam_use use)
{
    size_t count;
    const char **names = foam_names(fill, use, &count);
    int known = !names;
    for (size_t i = 0; i < count && !known; i++)
        known = strcmp(names[i], foam) == 0;
    if (!known)
        schema_unknown(&fill->file->tree, place, use == FILL_FOAM_COMFORT ? "comfort foam" : "foam", foam,
                       names, count, fill->errors);
    memory_free(names);
    return known;
}

/* Density of a part: the layer's, or its own foam's; exactly one of them must exist. */
static double part_density(struct fill *fill, const struct node *mapping, const struct case_foam *own)
{
    const struct node *given = node_get(mapping, "density");
    double density = schema_quantity(mapping, SCHEMA_LAYER, "density");
    if (own && !isnan(own->density)) {
        if (given && density != own->density)
            node_error(&fill->file->tree, given, fill->errors, "foam '%s' has a density of its own, %g kg/m3",
                       own->name, own->density);
        return own->density;
    }
    fill_required(fill, mapping, "density");
    return density;
}

/* Is there a curve without its file? That is told where it stands. */
static int lacks_file(const struct case_foam *foam)
{
    for (size_t i = 0; i < foam->curve_count; i++) {
        if (!foam->curve_file[i])
            return 1;
    }
    return 0;
}

/* A refusal that names a file of its own keeps that place, once for all layers; others get the case's. */
static void tell_refusal(struct fill *fill, const struct node *place, const struct error *refusal)
{
    struct errors *errors = fill->errors;
    if (!refusal->file[0]) {
        node_error(&fill->file->tree, place, errors, "%s", refusal->text);
        return;
    }
    for (size_t i = 0; i < errors->count && i < ERRORS_KEPT; i++) {
        if (errors->kept[i].line == refusal->line && strcmp(errors->kept[i].file, refusal->file) == 0 &&
            strcmp(errors->kept[i].text, refusal->text) == 0)
            return;
    }
    errors_add(errors, refusal->status, refusal->file, refusal->line, refusal->column, "%s", refusal->text);
    errors_source(errors, refusal->source);
}

/* Has the registry make the foam once, so that a density or a value that it refuses is told at its place. */
static void check_part(struct fill *fill, const struct node *mapping, const struct case_part *part)
{
    const struct node *density = node_get(mapping, "density");
    const struct case_foam *own = case_foam_find(fill->file, part->foam);
    struct registry_report report;
    struct errors refusals = {0};
    struct foam foam = {0};
    if (own && (!find_material(fill, own->like) || lacks_file(own)))
        return; /* told where it stands */
    enum status status = case_foam_make(fill->file, &fill->registry, part, 23, &foam, &report, &refusals);
    if (status == STATUS_MEMORY)
        fill->out_of_memory = 1;
    else if (status != STATUS_OK)
        tell_refusal(fill, density ? density : own ? own->place : mapping, &refusals.kept[0]);
    foam_free(&foam);
}

/* Fills a part from the mapping of a plain layer, of the short form, or of an item of `parallel`. */
static void fill_part(struct fill *fill, const struct node *mapping, const struct node *foam, double share,
                      double voids, struct case_part *part)
{
    const struct node *own_name = node_get(mapping, "foam");
    const struct node *name = own_name ? own_name : foam;
    fill_name(part->foam, name ? name->text : schema_text(NULL, SCHEMA_LINER, "foam"));
    part->place = mapping;
    part->share = share;
    part->voids = voids;
    part->density = part_density(fill, mapping, case_foam_find(fill->file, part->foam));
    if (fill_foam_known(fill, name ? name : mapping, part->foam, FILL_FOAM_LINER) && !isnan(part->density))
        check_part(fill, mapping, part);
}

static void fill_parallel(struct fill *fill, const struct node *list, const struct node *foam, double voids,
                          struct case_layer *layer)
{
    double sum = 0;
    layer->parts = fill_block(fill, list->count, sizeof *layer->parts);
    if (!layer->parts)
        return;
    layer->part_count = list->count;
    for (size_t i = 0; i < list->count; i++) {
        const struct node *item = list->items[i];
        double own = schema_quantity(item, SCHEMA_PART, "voids");
        double share = schema_quantity(item, SCHEMA_PART, "share");
        fill_part(fill, item, foam, share, isnan(own) ? voids : own, &layer->parts[i]);
        if (!fill_required(fill, item, "share"))
            return;
        sum += share;
    }
    if (fabs(sum - 1) > 1e-9)
        node_error(&fill->file->tree, list, fill->errors,
                   "the shares of `parallel` sum to %g %%, not to 100 %%", 100 * sum);
}

void fill_layer(struct fill *fill, const struct node *mapping, enum schema_group group,
                const struct node *foam, double voids, struct case_layer *layer)
{
    const struct node *parallel = group == SCHEMA_LAYER ? node_get(mapping, "parallel") : NULL;
    double own_voids = group == SCHEMA_LAYER ? schema_quantity(mapping, group, "voids") : NAN;
    const struct node *own_foam = node_get(mapping, "foam");
    layer->place = mapping;
    layer->thickness = schema_quantity(mapping, group, "thickness");
    fill_required(fill, mapping, "thickness");
    if (!isnan(own_voids))
        voids = own_voids;
    if (parallel) {
        fill_exclusive(fill, mapping, "density", "parallel");
        fill_parallel(fill, parallel, own_foam ? own_foam : foam, voids, layer);
        return;
    }
    layer->parts = fill_block(fill, 1, sizeof *layer->parts);
    if (!layer->parts)
        return;
    layer->part_count = 1;
    fill_part(fill, mapping, foam, 1, voids, &layer->parts[0]);
}

void fill_layers(struct fill *fill, const struct node *list, const struct node *foam, double voids,
                 struct case_layer **layers, size_t *count)
{
    *layers = fill_block(fill, list->count, sizeof **layers);
    if (!*layers)
        return;
    *count = list->count;
    for (size_t i = 0; i < list->count; i++)
        fill_layer(fill, list->items[i], SCHEMA_LAYER, foam, voids, &(*layers)[i]);
}
