#include "cases/fill_regions.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_foams.h"
#include "cases/stack.h"
#include "solver/base/memory.h"

static const double pi = 3.14159265358979323846;

static const char lower_edge[] = "lower edge";

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

int fill_region_index(const struct fill *fill, const char *name)
{
    for (size_t i = 0; i < fill->file->region_count; i++) {
        if (strcmp(fill->file->regions[i].shape.name, name) == 0)
            return (int)i;
    }
    return -1;
}

void fill_region_unknown(struct fill *fill, const struct node *node)
{
    const char *names[64];
    size_t count = fill->file->region_count;
    for (size_t i = 0; i < count; i++)
        names[i] = fill->file->regions[i].shape.name;
    schema_unknown(tree_of(fill), node, "region", node->text, names, count, fill->errors);
}

/* Refuses a name used before, or one that is a key of `liner` (paths would be ambiguous). */
static void check_name(struct fill *fill, const struct node *name, size_t index)
{
    int first = fill_region_index(fill, name->text);
    if (first >= 0 && first < (int)index)
        node_error(tree_of(fill), name, fill->errors, "region '%s' is there already, on line %d", name->text,
                   fill->file->regions[first].place->line);
    else if (schema_find(SCHEMA_LINER, name->text) || strcmp(name->text, lower_edge) == 0)
        node_error(tree_of(fill), name, fill->errors,
                   "a region cannot be named '%s': that is a word of its own", name->text);
}

static void fill_region_comfort(struct fill *fill, const struct node *mapping, struct case_region *region)
{
    const struct node *comfort = node_get(mapping, "comfort");
    region->comfort_thickness = schema_quantity(comfort, SCHEMA_REGION_COMFORT, "thickness");
    region->comfort_gap = schema_quantity(comfort, SCHEMA_REGION_COMFORT, "gap");
    if (region->comfort_thickness > 0 && fill->file->comfort.foam[0] == '\0')
        node_error(tree_of(fill), comfort, fill->errors,
                   "the case has no `comfort` that names the padding's foam");
}

static void fill_region(struct fill *fill, const struct node *mapping, const struct node *foam, size_t index)
{
    struct case_region *region = &fill->file->regions[index];
    const struct node *name = node_get(mapping, "name"), *layers = node_get(mapping, "layers");
    region->place = mapping;
    if (fill_required(fill, mapping, "name")) {
        snprintf(region->shape.name, sizeof region->shape.name, "%s", name->text);
        check_name(fill, name, index);
    }
    region->shape.open = schema_flag(mapping, SCHEMA_REGION, "open");
    region->shape.mirror = schema_flag(mapping, SCHEMA_REGION, "mirror");
    region->outer_radius = schema_quantity(mapping, SCHEMA_REGION, "outer_radius");
    region->head_radius = schema_quantity(mapping, SCHEMA_REGION, "head_radius");
    fill_region_comfort(fill, mapping, region);
    if (region->shape.open && layers)
        node_error(tree_of(fill), layers, fill->errors, "an open region has no layers");
    else if (layers)
        fill_layers(fill, layers, foam, schema_quantity(mapping, SCHEMA_REGION, "voids"), &region->layers,
                    &region->layer_count);
    else if (!region->shape.open)
        fill_required(fill, mapping, "layers");
}

/* `liner: {foam, density, thickness}`: one region, one layer. */
static void fill_short_form(struct fill *fill, const struct node *liner)
{
    struct case_region *region = &fill->file->regions[0];
    snprintf(region->shape.name, sizeof region->shape.name, "liner");
    region->comfort_thickness = region->comfort_gap = NAN;
    region->outer_radius = region->head_radius = NAN;
    region->place = liner;
    region->layers = fill_block(fill, 1, sizeof *region->layers);
    if (!region->layers)
        return;
    region->layer_count = 1;
    fill_layer(fill, liner, SCHEMA_LINER, NULL, 0, &region->layers[0]);
}

void fill_regions(struct fill *fill)
{
    struct case_file *file = fill->file;
    const struct node *liner = node_get(fill->root, "liner");
    if (!fill_required(fill, fill->root, "liner"))
        return;
    const struct node *regions = node_get(liner, "regions");
    size_t count = regions ? regions->count : 1;
    file->layers_slip = strcmp(schema_text(liner, SCHEMA_LINER, "interface"), "slip") == 0;
    file->slip_place = node_get(liner, "interface_friction");
    file->slip_friction = schema_quantity(liner, SCHEMA_LINER, "interface_friction");
    if (!file->layers_slip && node_get(liner, "interface_friction"))
        node_error(tree_of(fill), node_get(liner, "interface_friction"), fill->errors,
                   "`interface_friction` is for layers with `interface: slip`");
    file->regions = fill_block(fill, count, sizeof *file->regions);
    if (!file->regions)
        return;
    file->region_count = count;
    if (!regions) {
        fill_short_form(fill, liner);
        return;
    }
    fill_exclusive(fill, liner, "regions", "density");
    fill_exclusive(fill, liner, "regions", "thickness");
    for (size_t i = 0; i < count; i++)
        fill_region(fill, regions->items[i], node_get(liner, "foam"), i);
}

/* Which kinds of bound a mapping gives, one bit each. */
enum { HAS_BOX = 1, HAS_CAP = 2, HAS_BAND = 4 };

static int bound_kinds(const struct node *mapping)
{
    int box = node_get(mapping, "elevation") || node_get(mapping, "azimuth");
    int cap = node_get(mapping, "centre") || node_get(mapping, "half_angle") || node_get(mapping, "radius");
    int band = node_get(mapping, "around") || node_get(mapping, "width");
    return box * HAS_BOX | cap * HAS_CAP | band * HAS_BAND;
}

static void fill_box(struct fill *fill, const struct node *mapping, struct bound *bound)
{
    bound->kind = BOUND_BOX;
    bound->elevation[0] = -pi / 2;
    bound->elevation[1] = pi / 2;
    bound->azimuth[0] = -pi;
    bound->azimuth[1] = pi;
    for (size_t i = 0; i < 2; i++) {
        if (node_get(mapping, "elevation"))
            bound->elevation[i] = schema_item(mapping, SCHEMA_AREA, "elevation", i);
        if (node_get(mapping, "azimuth"))
            bound->azimuth[i] = schema_item(mapping, SCHEMA_AREA, "azimuth", i);
    }
    if (bound->elevation[0] >= bound->elevation[1])
        node_error(tree_of(fill), node_get(mapping, "elevation"), fill->errors,
                   "`elevation` goes from the lower to the higher value");
    if (bound->azimuth[0] == bound->azimuth[1])
        node_error(tree_of(fill), node_get(mapping, "azimuth"), fill->errors, "this `azimuth` holds no area");
}

static void fill_cap(struct fill *fill, const struct node *mapping, struct bound *bound)
{
    bound->kind = BOUND_CAP;
    fill_required(fill, mapping, "centre");
    for (size_t i = 0; i < 2; i++)
        bound->centre[i] = schema_item(mapping, SCHEMA_AREA, "centre", i);
    bound->half_angle = schema_quantity(mapping, SCHEMA_AREA, "half_angle");
    if (!fill_exclusive(fill, mapping, "half_angle", "radius"))
        return;
    if (node_get(mapping, "radius")) {
        double radius = schema_quantity(mapping, SCHEMA_AREA, "radius");
        bound->half_angle = radius / fill->file->map.inner_radius;
        if (bound->half_angle > pi)
            node_error(tree_of(fill), node_get(mapping, "radius"), fill->errors,
                       "`radius` reaches round the whole shell");
    } else if (!node_get(mapping, "half_angle")) {
        node_error(tree_of(fill), mapping, fill->errors, "a circle needs `half_angle` or `radius`");
    }
}

static void fill_band(struct fill *fill, const struct node *mapping, struct bound *bound)
{
    const struct node *around = node_get(mapping, "around");
    bound->kind = BOUND_BAND;
    bound->width = schema_quantity(mapping, SCHEMA_AREA, "width");
    bound->around = -1;
    int complete = fill_required(fill, mapping, "around");
    fill_required(fill, mapping, "width");
    if (!complete || strcmp(around->text, lower_edge) == 0)
        return;
    bound->around = fill_region_index(fill, around->text);
    if (bound->around < 0)
        fill_region_unknown(fill, around);
    else if (!fill->file->regions[bound->around].shape.open)
        node_error(tree_of(fill), around, fill->errors,
                   "a band runs around an opening (`open: true`) or `lower edge`; '%s' is not open",
                   around->text);
}

/* Fills one bound; BOUND_ALL when the mapping gives none. */
static void fill_bound(struct fill *fill, const struct node *mapping, struct bound *bound)
{
    int kinds = bound_kinds(mapping);
    *bound = (struct bound){.kind = BOUND_ALL, .around = -1};
    if (kinds == HAS_BOX)
        fill_box(fill, mapping, bound);
    else if (kinds == HAS_CAP)
        fill_cap(fill, mapping, bound);
    else if (kinds == HAS_BAND)
        fill_band(fill, mapping, bound);
    else if (kinds)
        node_error(
            tree_of(fill), mapping, fill->errors,
            "a box (elevation, azimuth), a circle (centre, half_angle or radius) and a band (around, width) "
            "do not mix; give several as `areas`");
}

/* Only the last region may, and must, go without bounds. */
static void check_bounded(struct fill *fill, const struct node *mapping, int last, int bounded)
{
    if (last && bounded)
        node_error(tree_of(fill), mapping, fill->errors,
                   "the last region must have no bounds: it takes what the others leave");
    if (!last && !bounded)
        node_error(tree_of(fill), mapping, fill->errors,
                   "a region without bounds takes all, so it must be the last");
    if (last && schema_flag(mapping, SCHEMA_REGION, "open"))
        node_error(tree_of(fill), mapping, fill->errors,
                   "the last region takes what the others leave: it "
                   "cannot be open");
}

static void fill_bounds(struct fill *fill, size_t index)
{
    struct case_region *region = &fill->file->regions[index];
    const struct node *mapping = region->place, *areas = node_get(mapping, "areas");
    size_t count = areas ? areas->count : 1;
    int own = bound_kinds(mapping);
    if (areas && own)
        node_error(tree_of(fill), areas, fill->errors,
                   "`areas` stands in place of bounds at the region itself");
    if (node_get(fill->root, "liner") != mapping)
        check_bounded(fill, mapping, index + 1 == fill->file->region_count, areas || own);
    region->shape.bounds = fill_block(fill, count, sizeof *region->shape.bounds);
    fill->file->map.regions[index] = region->shape;
    if (!region->shape.bounds)
        return;
    region->shape.bound_count = count;
    for (size_t i = 0; i < count; i++) {
        const struct node *place = areas ? areas->items[i] : mapping;
        fill_bound(fill, place, &region->shape.bounds[i]);
        if (areas && bound_kinds(place) == 0)
            node_error(tree_of(fill), place, fill->errors, "an area needs bounds");
    }
    fill->file->map.regions[index] = region->shape;
}

/* Turns the pairs so that the lowest azimuth comes first. */
static void turn_pairs(double *azimuth, double *elevation, size_t count, size_t first)
{
    for (size_t i = 0; i < first; i++) {
        double lead[] = {azimuth[0], elevation[0]};
        memmove(azimuth, azimuth + 1, (count - 1) * sizeof *azimuth);
        memmove(elevation, elevation + 1, (count - 1) * sizeof *elevation);
        azimuth[count - 1] = lead[0];
        elevation[count - 1] = lead[1];
    }
}

/* Pairs [azimuth, elevation] once round, beginning anywhere; 180 deg is -180 deg. */
static void fill_edge_pairs(struct fill *fill, const struct node *list)
{
    struct helmet_map *map = &fill->file->map;
    size_t count = list->count, lowest = 0;
    for (size_t i = 0; i < count; i++) {
        const struct node *pair = list->items[i];
        if (pair->kind != NODE_SEQUENCE || pair->count != 2) {
            node_error(tree_of(fill), pair, fill->errors,
                       "a pair of `lower_edge` is written [azimuth, elevation]");
            continue;
        }
        fill_value(fill, pair->items[0], "azimuth", QUANTITY_ANGLE, -pi, pi, &map->edge_azimuth[i]);
        fill_value(fill, pair->items[1], "elevation", QUANTITY_ANGLE, -pi / 2, pi / 2,
                   &map->edge_elevation[i]);
        map->edge_azimuth[i] = map->edge_azimuth[i] >= pi ? -pi : map->edge_azimuth[i];
        lowest = map->edge_azimuth[i] < map->edge_azimuth[lowest] ? i : lowest;
    }
    turn_pairs(map->edge_azimuth, map->edge_elevation, count, lowest);
    for (size_t i = 1; i < count; i++) {
        if (map->edge_azimuth[i] <= map->edge_azimuth[i - 1])
            node_error(tree_of(fill), list->items[(lowest + i) % count], fill->errors,
                       "azimuths of `lower_edge` must ascend, once round the head");
    }
}

/* One elevation all round, or pairs [azimuth, elevation]. */
static void fill_edge(struct fill *fill)
{
    struct helmet_map *map = &fill->file->map;
    const struct node *shell = node_get(fill->root, "shell");
    const struct node *edge = shell ? node_get(shell, "lower_edge") : NULL;
    size_t count = edge && edge->kind == NODE_SEQUENCE ? edge->count : 1;
    map->edge_azimuth = fill_block(fill, count, sizeof(double));
    map->edge_elevation = fill_block(fill, count, sizeof(double));
    if (!map->edge_azimuth || !map->edge_elevation)
        return;
    map->edge_count = count;
    if (edge && edge->kind == NODE_SEQUENCE && count > 0)
        fill_edge_pairs(fill, edge);
    else if (edge && edge->kind != NODE_SCALAR)
        node_error(tree_of(fill), edge, fill->errors,
                   "`lower_edge` takes an elevation, or pairs [azimuth, elevation] all round");
    else if (edge)
        fill_value(fill, edge, "lower_edge", QUANTITY_ANGLE, -pi / 2, pi / 2, map->edge_elevation);
    else
        map->edge_elevation[0] = schema_quantity(shell, SCHEMA_SHELL, "lower_edge");
}

void fill_map(struct fill *fill)
{
    struct helmet_map *map = &fill->file->map;
    fill_edge(fill);
    if (fill->file->region_count == 0)
        return;
    map->inner_radius = stack_inner_radius(fill->file);
    map->regions = fill_block(fill, fill->file->region_count, sizeof *map->regions);
    if (!map->regions)
        return;
    map->region_count = fill->file->region_count;
    for (size_t i = 0; i < map->region_count; i++)
        fill_bounds(fill, i);
}

/* Direction `index` of a sequence spread evenly over the sphere: the additive recurrence of the plastic
 * number (1.3247...), whose every beginning is even as well. */
static void spread_direction(size_t index, double *elevation, double *azimuth)
{
    double u = fmod(0.5 + (double)index * 0.7548776662466927, 1);
    double v = fmod(0.5 + (double)index * 0.5698402909980532, 1);
    *elevation = asin(2 * u - 1);
    *azimuth = pi * (2 * v - 1);
}

void fill_hidden(struct fill *fill)
{
    enum { DIRECTIONS = 200000, REGIONS = 64 };
    const struct helmet_map *map = &fill->file->map;
    char seen[REGIONS] = {0};
    size_t missing = map->region_count;
    double elevation, azimuth;
    for (size_t i = 0; i < map->region_count; i++) {
        if (region_centre(map, (int)i, &elevation, &azimuth)) {
            seen[i] = 1;
            missing--;
        }
    }
    for (size_t i = 0; i < DIRECTIONS && missing > 0; i++) {
        spread_direction(i, &elevation, &azimuth);
        int region = helmet_map_region(map, elevation, azimuth);
        if (region >= 0 && !seen[region]) {
            seen[region] = 1;
            missing--;
        }
    }
    for (size_t i = 0; i < map->region_count; i++) {
        if (!seen[i])
            node_error(tree_of(fill), fill->file->regions[i].place, fill->errors,
                       "region '%s' is hidden: earlier regions and the lower edge leave no direction to it",
                       map->regions[i].name);
    }
}

void fill_thickness(struct fill *fill)
{
    struct case_file *file = fill->file;
    for (size_t i = 0; i < file->region_count; i++) {
        const struct case_region *region = &file->regions[i];
        double space = stack_region_space(file, i), needed = stack_needed(file, i);
        if (needed > space + 1e-9)
            node_error(
                tree_of(fill), region->place, fill->errors,
                "the stack of region '%s' is %.4g mm thick, %.4g mm more than the space of %.4g mm between "
                "head and shell%s",
                region->shape.name, 1e3 * needed, 1e3 * (needed - space), 1e3 * space,
                fill->size && !node_get(fill->size, "take_up")
                    ? "; a size says with `take_up` what gives way: comfort, inner layer or gap"
                    : "");
    }
}
