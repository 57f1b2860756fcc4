#include "cases/fill_tolerance.h"

#include <string.h>

static const char speed_path[] = "impacts.*.speed";

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* --- speed of the programmes --- */

static int any_tolerance(const struct case_file *file)
{
    for (size_t i = 0; i < file->test_count; i++) {
        if (node_get(file->tests[i].place, "tolerance"))
            return 1;
    }
    return 0;
}

/* `impacts.*.speed: programme` needs a programme with a tolerance. A family has its tests in its
 * sizes, which are filled later. */
static void check_programme(struct fill *fill, const struct node *key, const struct node *value)
{
    const struct node *programme = node_get(fill->root, "programme");
    if (strcmp(key->text, speed_path) != 0)
        node_error(tree_of(fill), value, fill->errors,
                   "`programme` is the tolerance of the tests' speed and stands for %s alone; here "
                   "{half_range: 9 kg/m3, shared: 50 %%} or {sd: 3 kg/m3, shared: 50 %%}",
                   speed_path);
    else if (!programme)
        node_error(tree_of(fill), value, fill->errors,
                   "this case has no `programme`; impacts of its own take {half_range: 0.1 m/s}");
    else if (!fill->sizes && !any_tolerance(fill->file))
        node_error(tree_of(fill), value, fill->errors,
                   "no test that the programme has for this case has a `tolerance` of its speed");
}

/* --- one line --- */

/* {half_range | sd, shared} */
static void read_width(struct fill *fill, const struct node *value, struct case_scatter *scatter)
{
    const struct node *range = node_get(value, "half_range"), *deviation = node_get(value, "sd");
    char message[UNITS_MESSAGE];
    scatter->normal = deviation != NULL;
    scatter->place = deviation ? deviation : range;
    if (!scatter->place) {
        node_error(tree_of(fill), value, fill->errors,
                   "`half_range` or `sd` is missing: {half_range: 9 kg/m3}");
        return;
    }
    if (!fill_exclusive(fill, value, "half_range", "sd"))
        return;
    if (scatter->place->quoted || !units_split(scatter->place->text, &scatter->width, scatter->unit, message))
        node_error(tree_of(fill), scatter->place, fill->errors, "%s",
                   scatter->place->quoted ? "a value stands without quotes" : message);
    else if (!(scatter->width > 0))
        node_error(tree_of(fill), scatter->place, fill->errors, "`%s` is above zero",
                   deviation ? "sd" : "half_range");
    scatter->shared = schema_quantity(value, SCHEMA_SCATTER, "shared");
}

static void read_scatter(struct fill *fill, const struct node *key, const struct node *value,
                         struct case_scatter *scatter)
{
    *scatter = (struct case_scatter){.key = key, .place = value};
    if (strlen(key->text) >= FACTOR_PATH) {
        node_error(tree_of(fill), key, fill->errors, "the path is too long");
        return;
    }
    strcpy(scatter->path, key->text);
    if (value->kind == NODE_SCALAR && strcmp(value->text, "programme") == 0) {
        scatter->programme = 1;
        check_programme(fill, key, value);
    } else if (schema_check(tree_of(fill), value, SCHEMA_SCATTER, fill->errors)) {
        read_width(fill, value, scatter);
    }
}

/* --- the key --- */

static void read_all(struct fill *fill, const struct node *list)
{
    struct case_tolerance *tolerance = &fill->file->tolerance;
    if (list->kind != NODE_MAPPING || list->count == 0 || list->count > CASE_SCATTERS) {
        node_error(tree_of(fill), list, fill->errors,
                   "`scatter` takes 1 to %d paths with what they scatter by: {liner.*.layers.*.density: "
                   "{half_range: 9 kg/m3, shared: 50 %%}}",
                   CASE_SCATTERS);
        return;
    }
    tolerance->scatters = fill_block(fill, list->count, sizeof *tolerance->scatters);
    for (size_t i = 0; tolerance->scatters && i < list->count; i++)
        read_scatter(fill, list->keys[i], list->items[i], &tolerance->scatters[tolerance->scatter_count++]);
}

void fill_tolerance(struct fill *fill)
{
    const struct node *node = node_get(fill->root, "tolerance");
    if (fill->size)
        return;
    fill->file->tolerance =
        (struct case_tolerance){.factor = schema_quantity(node, SCHEMA_TOLERANCE, "factor"),
                                .factor_given = node && node_get(node, "factor"),
                                .runs = (size_t)schema_quantity(node, SCHEMA_TOLERANCE, "runs"),
                                .seed = (uint64_t)schema_quantity(node, SCHEMA_TOLERANCE, "seed")};
    if (node && node_get(node, "scatter"))
        read_all(fill, node_get(node, "scatter"));
}
