#include "cases/fill_headform.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/headform.h"

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* A set or size that the table does not have, with those that it has. */
static void headform_unknown(struct fill *fill, const struct node *mapping,
                             const struct headform_table *table, const char *set)
{
    enum { NAMES_MAX = 64 };
    const char *names[NAMES_MAX];
    const struct node *own_set = node_get(mapping, "set");
    size_t count = headform_names(table, set, names, NAMES_MAX);
    if (count > 0) {
        schema_unknown(tree_of(fill), node_get(mapping, "size"), "headform size",
                       schema_text(mapping, SCHEMA_HEADFORM, "size"), names, count, fill->errors);
        return;
    }
    count = headform_names(table, NULL, names, NAMES_MAX);
    schema_unknown(tree_of(fill), own_set ? own_set : mapping, "headform set", set, names, count,
                   fill->errors);
}

/* Values of the size of a set. */
static void take_size(struct fill *fill, const struct node *mapping, struct case_headform *headform)
{
    const char *set = schema_text(mapping, SCHEMA_HEADFORM, "set");
    const char *size = schema_text(mapping, SCHEMA_HEADFORM, "size");
    struct headform_table table;
    enum status status = headform_table_load(&table, fill->errors);
    if (status == STATUS_MEMORY)
        fill->out_of_memory = 1;
    if (status != STATUS_OK)
        return;
    const struct headform *found = headform_find(&table, set, size);
    if (found) {
        fill_name(headform->set, set);
        fill_name(headform->size, size);
        headform->mass = found->mass;
        headform->circumference = found->circumference;
        for (size_t i = 0; i < 3; i++) {
            headform->half_axes[i] = found->half_axes[i];
            headform->inertia[i] = found->inertia[i];
        }
        snprintf(headform->provenance, sizeof headform->provenance, "%s", found->provenance);
    } else {
        headform_unknown(fill, mapping, &table, set);
    }
    headform_table_free(&table);
}

/* Says what of a size is not its own any more. */
static void say_own(const struct node *mapping, struct case_headform *headform)
{
    static const char *const shape[] = {"circumference", "half_height", "radius", "shape"};
    int mass = node_get(mapping, "mass") != NULL, other = 0;
    for (size_t i = 0; i < sizeof shape / sizeof *shape; i++)
        other |= node_get(mapping, shape[i]) != NULL;
    if (headform->size[0] && (mass || other))
        snprintf(headform->own, sizeof headform->own, "own %s%s%s", mass ? "mass" : "",
                 mass && other ? " and " : "", other ? "shape" : "");
}

/* Whether a size of a family has another headform than its case, but no moments of inertia for it. */
static int outgrows_inertia(const struct fill *fill)
{
    static const char *const other[] = {"headform.size", "headform.set", "headform.mass",
                                        "headform.circumference"};
    int changed = 0;
    for (size_t i = 0; fill->size && i < sizeof other / sizeof *other; i++)
        changed |= node_get(fill->size, other[i]) != NULL;
    return changed && !node_get(fill->size, "headform.inertia");
}

/* Values given in place of the size's, or for a headform of one's own. */
static void take_own(const struct fill *fill, const struct node *mapping, struct case_headform *headform)
{
    double circumference = schema_quantity(mapping, SCHEMA_HEADFORM, "circumference");
    double half_height = schema_quantity(mapping, SCHEMA_HEADFORM, "half_height");
    if (node_get(mapping, "mass")) {
        headform->mass = schema_quantity(mapping, SCHEMA_HEADFORM, "mass");
        headform->provenance[0] = '\0';
    }
    if (!isnan(circumference)) {
        headform->circumference = circumference;
        headform_ellipse(circumference, headform->half_axes);
    }
    if (!isnan(half_height))
        headform->half_axes[2] = half_height;
    headform->radius = schema_quantity(mapping, SCHEMA_HEADFORM, "radius");
    headform->sphere = strcmp(schema_text(mapping, SCHEMA_HEADFORM, "shape"), "sphere") == 0;
    for (size_t i = 0; i < 3; i++) {
        if (node_get(mapping, "cg_offset"))
            headform->cg_offset[i] = schema_item(mapping, SCHEMA_HEADFORM, "cg_offset", i);
        if (node_get(mapping, "inertia") && !outgrows_inertia(fill))
            headform->inertia[i] = schema_item(mapping, SCHEMA_HEADFORM, "inertia", i);
    }
}

/* Inertia that nobody gave: of a uniform ellipsoid of the same size and mass. */
static void assume_inertia(struct case_headform *headform)
{
    double round =
        isnan(headform->radius) ? headform->circumference / (2.0 * 3.14159265358979323846) : headform->radius;
    double ball[3] = {round, round, round};
    int is_ball = headform->sphere || !isnan(headform->radius);
    if (!isnan(headform->inertia[0]))
        return;
    headform->inertia_assumed = 1;
    headform_ellipsoid_inertia(headform->mass, is_ball ? ball : headform->half_axes, headform->inertia);
}

static void check_complete(struct fill *fill, const struct node *mapping,
                           const struct case_headform *headform)
{
    if (isnan(headform->mass))
        node_error(tree_of(fill), mapping, fill->errors,
                   "`mass` is missing: give it, or a `size` of `foampulse list headforms`");
}

void fill_headform(struct fill *fill)
{
    struct case_headform *headform = &fill->file->headform;
    const struct node *mapping = node_get(fill->root, "headform");
    size_t before = fill->errors->count;
    *headform = (struct case_headform){.place = mapping, .mass = NAN, .circumference = NAN, .radius = NAN};
    for (size_t i = 0; i < 3; i++)
        headform->half_axes[i] = headform->inertia[i] = NAN;
    if (fill->sizes && !mapping) {
        node_error(tree_of(fill), fill->root, fill->errors,
                   "`headform` is missing: the shell of all sizes is built round the one of the case");
        return;
    }
    if (!fill_required(fill, fill->root, "headform"))
        return;
    if (node_get(mapping, "set"))
        fill_required(fill, mapping, "size");
    if (node_get(mapping, "size"))
        take_size(fill, mapping, headform);
    take_own(fill, mapping, headform);
    say_own(mapping, headform);
    assume_inertia(headform);
    snprintf(headform->skin, sizeof headform->skin, "%s", schema_text(mapping, SCHEMA_HEADFORM, "skin"));
    if (fill->errors->count == before && !fill->out_of_memory)
        check_complete(fill, mapping, headform);
}
