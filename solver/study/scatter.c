#include "solver/study/scatter.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/path.h"
#include "solver/base/memory.h"
#include "solver/base/normal.h"
#include "solver/study/sampling.h"

/* A case while its scatter is resolved. */
struct resolving {
    const struct case_file *file;
    struct scatter *scatter;
    const struct node **values; /* (factor_count) nodes of the places, to find those named twice */
    struct errors *errors;
    enum status status;
};

static void fail(struct resolving *resolving, enum status status)
{
    resolving->status = status_worse(resolving->status, status);
}

/* --- room --- */

/* Room for one element more behind `count`. */
static int grow(struct resolving *resolving, void *array, size_t count, size_t size)
{
    void **block = array;
    void *longer = memory_resized(*block, count, count + 1, size);
    if (longer)
        *block = longer;
    else
        fail(resolving, STATUS_MEMORY);
    return longer != NULL;
}

static int add_source(struct resolving *resolving, const struct scatter_source *source)
{
    struct scatter *scatter = resolving->scatter;
    if (!grow(resolving, &scatter->sources, scatter->source_count, sizeof *scatter->sources))
        return SCATTER_NONE;
    scatter->sources[scatter->source_count] = *source;
    return (int)scatter->source_count++;
}

static void add_place(struct resolving *resolving, const struct factor *factor,
                      const struct scatter_place *place, const struct node *value)
{
    struct scatter *scatter = resolving->scatter;
    size_t count = scatter->factor_count;
    if (!grow(resolving, &scatter->factors, count, sizeof *scatter->factors) ||
        !grow(resolving, &scatter->places, count, sizeof *scatter->places) ||
        !grow(resolving, &resolving->values, count, sizeof *resolving->values))
        return;
    scatter->factors[count] = *factor;
    scatter->places[count] = *place;
    resolving->values[count] = value;
    scatter->factor_count++;
    scatter->line_places[scatter->line_count - 1]++;
}

/* --- places --- */

/* How the width of a line is parted: standard deviations for a width of 1. */
static void part_width(const struct case_scatter *line, double *lot, double *local)
{
    double shared = line->shared;
    *lot = line->normal ? sqrt(shared) : shared / sqrt(3.0);
    *local = line->normal ? sqrt(1 - shared) : (1 - shared) / sqrt(3.0);
}

static enum status refuse(struct resolving *resolving, const struct case_scatter *line,
                          const struct path_place *place, const char *text)
{
    static const struct node nowhere;
    const struct node *at = line->place ? line->place : &nowhere;
    enum status status =
        node_error(&resolving->file->tree, at, resolving->errors, "%s: %s", place->path, text);
    fail(resolving, status);
    return status;
}

/* The value of a place as a number with a unit, and the width of its line in that unit. */
static int read_place(struct resolving *resolving, const struct case_scatter *line,
                      const struct path_place *found, struct factor *factor, double *width)
{
    char message[UNITS_MESSAGE], text[UNITS_MESSAGE + 64];
    const struct node *value = found->value;
    if (value->kind != NODE_SCALAR || value->quoted ||
        !units_split(value->text, &factor->low, factor->unit, message)) {
        refuse(resolving, line, found, "is not a number, so that nothing can be added to it");
        return 0;
    }
    factor->high = factor->low;
    if (units_convert_difference(line->width, line->unit, factor->unit, width))
        return 1;
    snprintf(text, sizeof text,
             "is %.60s, to which \"%.60s\" cannot be added: write both in units of one kind", value->text,
             line->place ? line->place->text : line->unit);
    refuse(resolving, line, found, text);
    return 0;
}

static int is_new(struct resolving *resolving, const struct case_scatter *line,
                  const struct path_place *found)
{
    for (size_t i = 0; i < resolving->scatter->factor_count; i++) {
        if (resolving->values[i] == found->value) {
            refuse(resolving, line, found, "scatters by two paths: a value has one");
            return 0;
        }
    }
    if (resolving->scatter->factor_count < FACTORS_MOST)
        return 1;
    refuse(resolving, line, found, "is one value too many: 64 may scatter");
    return 0;
}

/* One place of a line whose lot part is source `lot`. */
static void take_place(struct resolving *resolving, const struct case_scatter *line,
                       const struct path_place *found, int *lot)
{
    struct factor factor = {.key = line->key, .given = line->place};
    struct scatter_place place = {.lot = SCATTER_NONE, .local = SCATTER_NONE};
    double width, lot_part, local_part;
    if (!is_new(resolving, line, found) || !read_place(resolving, line, found, &factor, &width))
        return;
    snprintf(factor.path, sizeof factor.path, "%s", found->path);
    part_width(line, &lot_part, &local_part);
    place.nominal = place.middle = factor.low;
    place.by_lot = width * lot_part;
    place.by_local = width * local_part;
    struct scatter_source source = {.normal = line->normal};
    memcpy(source.unit, factor.unit, sizeof source.unit);
    if (lot_part > 0 && *lot == SCATTER_NONE) {
        source.lot = 1;
        source.deviation = place.by_lot;
        snprintf(source.path, sizeof source.path, "%s", line->path);
        *lot = add_source(resolving, &source);
    }
    if (local_part > 0) {
        source.lot = 0;
        source.deviation = place.by_local;
        snprintf(source.path, sizeof source.path, "%s", found->path);
        place.local = add_source(resolving, &source);
    }
    place.lot = lot_part > 0 ? *lot : SCATTER_NONE;
    add_place(resolving, &factor, &place, found->value);
}

/* --- lines --- */

static int begin_line(struct resolving *resolving, const struct case_scatter *line)
{
    struct scatter *scatter = resolving->scatter;
    if (!grow(resolving, &scatter->lines, scatter->line_count, sizeof *scatter->lines) ||
        !grow(resolving, &scatter->line_places, scatter->line_count, sizeof *scatter->line_places))
        return 0;
    scatter->lines[scatter->line_count++] = *line;
    return 1;
}

/* Whether a `programme`, or an item of it, asks for a speed of its own. */
static const struct node *own_speed(const struct node *programme)
{
    const struct node *speed = node_get(programme, "speed");
    for (size_t i = 0; !speed && programme->kind == NODE_SEQUENCE && i < programme->count; i++)
        speed = node_get(programme->items[i], "speed");
    return speed;
}

/* Nothing else may set the speed of the tests. */
static int speed_is_free(struct resolving *resolving, const struct case_scatter *line)
{
    const struct tree *tree = &resolving->file->tree;
    const struct node *programme = node_get(tree->root, "programme");
    const struct node *set = programme ? own_speed(programme) : NULL;
    set = set ? set : node_get(tree->root, "programme_speed");
    if (set)
        fail(resolving,
             node_error(tree, set, resolving->errors,
                        "the speed of the tests is set here, and scatters by %s: programme", line->path));
    return !set;
}

/* The speed of all tests: one place, even over 0 to 100 % of the tolerance. */
static void take_programme(struct resolving *resolving, const struct case_scatter *line)
{
    struct factor factor = {.path = "programme_speed", .unit = "%", .low = 0, .high = 100};
    struct scatter_place place = {.nominal = NAN, .middle = 50, .lot = SCATTER_NONE};
    struct scatter_source source = {.path = "programme_speed", .unit = "%"};
    factor.key = line->key;
    factor.given = line->place;
    place.by_local = source.deviation = 50 / sqrt(3.0);
    place.local = add_source(resolving, &source);
    add_place(resolving, &factor, &place, NULL);
}

static void take_line(struct resolving *resolving, const struct case_scatter *line)
{
    struct path_place *places;
    size_t count;
    int lot = SCATTER_NONE;
    if (!begin_line(resolving, line))
        return;
    if (line->programme) {
        if (speed_is_free(resolving, line))
            take_programme(resolving, line);
        return;
    }
    fail(resolving,
         path_find(&resolving->file->tree, line->key, line->path, &places, &count, resolving->errors));
    for (size_t i = 0; i < count && resolving->status != STATUS_MEMORY; i++)
        take_place(resolving, line, &places[i], &lot);
    memory_free(places);
}

/* Every density that the layers of the liner, or of the pad, have written. */
static void take_default(struct resolving *resolving)
{
    static const char *const paths[] = {"liner.density", "liner.*.layers.*.density",
                                        "liner.*.layers.*.parallel.*.density", "pad.layers.*.density",
                                        "pad.layers.*.parallel.*.density"};
    static const struct node nowhere;
    struct case_scatter line = {.path = "densities of the foam",
                                .width = SCATTER_HALF_RANGE,
                                .unit = "kg/m3",
                                .shared = SCATTER_SHARED};
    int lot = SCATTER_NONE;
    if (!begin_line(resolving, &line))
        return;
    for (size_t p = 0; p < sizeof paths / sizeof *paths && resolving->status != STATUS_MEMORY; p++) {
        struct path_place *places;
        struct errors absent = {0};
        size_t count;
        if (path_find(&resolving->file->tree, &nowhere, paths[p], &places, &count, &absent) == STATUS_MEMORY)
            fail(resolving, STATUS_MEMORY);
        for (size_t i = 0; i < count && resolving->status != STATUS_MEMORY; i++)
            take_place(resolving, &line, &places[i], &lot);
        memory_free(places);
    }
    if (resolving->status == STATUS_OK && resolving->scatter->factor_count == 0)
        fail(
            resolving,
            errors_add(resolving->errors, STATUS_INPUT, resolving->file->path, 0, 0,
                       "has no density in its layers that could scatter: say what does: tolerance: {scatter: "
                       "{shell.thickness: {half_range: 0.2 mm}}}"));
}

/* A size that sets a value of its own there would not scatter. */
static void check_size(struct resolving *resolving, const struct node *name, const struct node *size)
{
    const struct tree *tree = &resolving->file->tree;
    for (size_t i = 0; i < size->count; i++) {
        struct path_place *places;
        struct errors absent = {0};
        size_t count;
        if (path_find(tree, size->keys[i], size->keys[i]->text, &places, &count, &absent) == STATUS_MEMORY)
            fail(resolving, STATUS_MEMORY);
        for (size_t p = 0; p < count; p++) {
            for (size_t k = 0; k < resolving->scatter->factor_count; k++) {
                if (resolving->values[k] == places[p].value)
                    fail(resolving, node_error(tree, size->keys[i], resolving->errors,
                                               "size %.40s sets %s, which scatters: that would be lost",
                                               name->text, places[p].path));
            }
        }
        memory_free(places);
    }
}

static void check_sizes(struct resolving *resolving)
{
    const struct node *sizes = node_get(resolving->file->tree.root, "sizes");
    for (size_t i = 0; sizes && i < sizes->count && resolving->status == STATUS_OK; i++)
        check_size(resolving, sizes->keys[i], sizes->items[i]);
}

enum status scatter_resolve(const struct case_file *file, struct scatter *scatter, struct errors *errors)
{
    const struct case_tolerance *tolerance = &file->tolerance;
    struct resolving resolving = {.file = file, .scatter = scatter, .errors = errors};
    *scatter = (struct scatter){.assumed = tolerance->scatter_count == 0};
    if (scatter->assumed)
        take_default(&resolving);
    for (size_t i = 0; i < tolerance->scatter_count && resolving.status != STATUS_MEMORY; i++)
        take_line(&resolving, &tolerance->scatters[i]);
    check_sizes(&resolving);
    memory_free(resolving.values);
    if (resolving.status != STATUS_OK)
        scatter_free(scatter);
    return resolving.status;
}

/* --- drawing --- */

/* The variable of a source at a share of the way through its distribution: mean 0, variance 1. */
static double variable(const struct scatter_source *source, double share)
{
    return source->normal ? normal_quantile(share) : sqrt(3.0) * (2 * share - 1);
}

static double value_of(const struct scatter_place *place, const double *standard)
{
    double value = place->middle;
    if (place->lot != SCATTER_NONE)
        value += place->by_lot * standard[place->lot];
    if (place->local != SCATTER_NONE)
        value += place->by_local * standard[place->local];
    return value;
}

void scatter_draw(const struct scatter *scatter, size_t runs, uint64_t seed, double *standard, double *values)
{
    size_t sources = scatter->source_count, factors = scatter->factor_count;
    sampling_latin(runs, sources, seed, standard);
    for (size_t r = 0; r < runs; r++) {
        for (size_t k = 0; k < sources; k++)
            standard[r * sources + k] = variable(&scatter->sources[k], standard[r * sources + k]);
        for (size_t i = 0; i < factors; i++)
            values[r * factors + i] = value_of(&scatter->places[i], standard + r * sources);
    }
}

void scatter_free(struct scatter *scatter)
{
    memory_free(scatter->factors);
    memory_free(scatter->places);
    memory_free(scatter->sources);
    memory_free(scatter->lines);
    memory_free(scatter->line_places);
    *scatter = (struct scatter){0};
}
