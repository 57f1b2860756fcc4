#include "cases/fill_sizes.h"

#include <math.h>
#include <string.h>

#include "cases/path.h"
#include "cases/stack.h"

/* Less than this of a layer [m] is nothing: lengths are sums of rounded decimals. */
static const double nothing = 1e-9;

/* Keys that a case says once for all its sizes, or that a helmet has not. */
static const char *const common_keys[] = {"title",     "notes",           "include", "sizes",
                                          "programme", "programme_speed", "model",   "pad",
                                          "striker",   "sweep",           "tune",    "tolerance"};

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* --- form --- */

static int is_key(const char *name)
{
    return schema_find(SCHEMA_CASE, name) || schema_find(SCHEMA_SIZE, name);
}

static int check_name(struct fill *fill, const struct node *key)
{
    if (!schema_is_name(key->text)) {
        node_error(tree_of(fill), key, fill->errors,
                   "a size is called by 1 to 40 letters, digits, spaces, - or _, a letter first; its values "
                   "stand below its name: M: {headform.size: J}");
        return 0;
    }
    if (is_key(key->text)) {
        node_error(tree_of(fill), key, fill->errors,
                   "`%s` is a key, not a name for a size: {NAME: {PATH: VALUE, take_up: comfort}, ...}",
                   key->text);
        return 0;
    }
    return 1;
}

/* Whether a path begins with a key that is said once for all sizes. */
static const char *common_key(const char *path)
{
    size_t length = strcspn(path, ".");
    for (size_t i = 0; i < sizeof common_keys / sizeof *common_keys; i++) {
        if (strlen(common_keys[i]) == length && strncmp(path, common_keys[i], length) == 0)
            return common_keys[i];
    }
    return NULL;
}

static int check_values(struct fill *fill, const struct node *size)
{
    int sound = 1;
    for (size_t i = 0; i < size->count; i++) {
        const struct node *key = size->keys[i];
        const struct schema_key *row = schema_find(SCHEMA_SIZE, key->text);
        const char *common = common_key(key->text);
        if (row) {
            sound &= schema_check_value(tree_of(fill), size->items[i], row, fill->errors);
        } else if (common) {
            node_error(tree_of(fill), key, fill->errors, "`%s` is the same for all sizes of a case%s", common,
                       strcmp(common, "programme") == 0
                           ? ": {name: NAME, sizes: [M, L]} says which it strikes"
                           : "");
            sound = 0;
        }
    }
    return sound;
}

static int check_size(struct fill *fill, const struct node *key, const struct node *size)
{
    if (!check_name(fill, key))
        return 0;
    if (size->kind != NODE_MAPPING) {
        node_error(
            tree_of(fill), size, fill->errors,
            "size %s is written as paths of the case with values: {headform.size: E, take_up: comfort}",
            key->text);
        return 0;
    }
    return check_values(fill, size);
}

int fill_sizes_check(struct fill *fill)
{
    const struct node *sizes = fill->sizes;
    if (sizes->kind != NODE_MAPPING || sizes->count == 0 || sizes->count > CASE_SIZES) {
        node_error(tree_of(fill), sizes, fill->errors,
                   "`sizes` takes 1 to %d sizes: {NAME: {PATH: VALUE, take_up: comfort}, ...}", CASE_SIZES);
        return 0;
    }
    int sound = 1;
    for (size_t i = 0; i < sizes->count; i++)
        sound &= check_size(fill, sizes->keys[i], sizes->items[i]);
    return sound;
}

/* --- values --- */

enum status fill_size_values(const struct fill *family, size_t at, struct tree *tree, struct errors *errors)
{
    const struct node *name = family->sizes->keys[at], *size = family->sizes->items[at];
    enum status status = STATUS_OK;
    node_remove(tree->root, node_index(tree->root, "sizes"));
    for (size_t i = 0; i < size->count && status != STATUS_MEMORY; i++) {
        if (!schema_find(SCHEMA_SIZE, size->keys[i]->text))
            status = status_worse(status,
                                  path_set(tree, size->keys[i], size->keys[i]->text, size->items[i], errors));
    }
    if (status == STATUS_OK && !node_get(tree->root, "headform"))
        status = node_error(tree, name, errors,
                            "size %s has no headform: give `headform.size` here, and `headform` in the case, "
                            "which the shell is built round",
                            name->text);
    return status;
}

/* --- geometry --- */

/* Adds `change` [m] to what is there of a part of a region's stack. Less than nothing is an error at take_up,
 * and so is nothing where the part has to stay. */
static void absorb(struct fill *fill, const struct case_region *region, const char *part, int must_stay,
                   double change, double *thickness)
{
    double left = *thickness + change;
    if (left < -nothing || (must_stay && left < nothing))
        node_error(tree_of(fill), node_get(fill->size, "take_up"), fill->errors,
                   "the head takes %.4g mm more of the space, and the %s of region '%s' has %.4g mm to give",
                   -1e3 * change, part, region->shape.name, 1e3 * *thickness);
    *thickness = left > 0 ? left : 0;
}

static void absorb_comfort(struct fill *fill, struct case_region *region, double change)
{
    double *own = &region->comfort_thickness;
    if (isnan(*own))
        *own = fill->file->comfort.thickness;
    if (*own > 0 || change < 0)
        absorb(fill, region, "comfort padding", 1, change, own);
}

static void absorb_gap(struct fill *fill, struct case_region *region, double change)
{
    if (isnan(region->comfort_gap))
        region->comfort_gap = fill->file->comfort.gap;
    absorb(fill, region, "gap", 0, change, &region->comfort_gap);
}

static void absorb_foam(struct fill *fill, struct case_region *region, double change)
{
    if (region->layer_count > 0)
        absorb(fill, region, "inner layer", 1, change, &region->layers[region->layer_count - 1].thickness);
}

/* What a region has more of the space [m] than in the case as written; NaN for a head without a shape. */
static double space_change(const struct fill *fill, size_t region)
{
    const struct case_file *file = fill->file, *family = fill->family;
    int same = region < family->region_count &&
               strcmp(family->regions[region].shape.name, file->regions[region].shape.name) == 0;
    return stack_region_space(file, region) -
           (same ? stack_region_space(family, region) : stack_space(family));
}

void fill_take_up(struct fill *fill)
{
    struct case_file *file = fill->file;
    const struct node *word = node_get(fill->size, "take_up");
    if (isnan(file->shell.inner_radius))
        file->shell.inner_radius = stack_inner_radius(fill->family);
    if (!word)
        return;
    if (strcmp(word->text, "comfort") == 0 && file->comfort.foam[0] == '\0') {
        node_error(tree_of(fill), word, fill->errors,
                   "`take_up: comfort` needs `comfort`, which this case has not");
        return;
    }
    size_t before = fill->errors->count;
    for (size_t i = 0; i < file->region_count && fill->errors->count == before; i++) {
        struct case_region *region = &file->regions[i];
        double change = space_change(fill, i);
        if (region->shape.open || isnan(change))
            continue;
        if (strcmp(word->text, "comfort") == 0)
            absorb_comfort(fill, region, change);
        else if (strcmp(word->text, "gap") == 0)
            absorb_gap(fill, region, change);
        else
            absorb_foam(fill, region, change);
    }
}
