#include "cases/fill_sites.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_regions.h"
#include "cases/stack.h"
#include "solver/impact/anvil.h"

#define PI 3.14159265358979323846

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* The case's own site of this name; NULL when there is none. */
static const struct node *own_site(const struct fill *fill, const char *name)
{
    const struct node *sites = node_get(fill->root, "sites");
    return sites ? node_get(sites, name) : NULL;
}

/* The built-in site of this name; NULL when there is none. */
static const struct site_info *built_in(const char *name)
{
    for (size_t i = 0; i < site_table_count; i++) {
        if (strcmp(site_table[i].name, name) == 0)
            return &site_table[i];
    }
    return NULL;
}

/* On a head of this case; a head of one radius is as broad as that. */
static double site_elevation_on(const struct fill *fill, const struct site_info *site)
{
    double half_breadth = fill->file->headform.half_axes[1];
    return site_elevation(site, isnan(half_breadth) ? fill->file->headform.radius : half_breadth);
}

static void site_unknown(struct fill *fill, const struct node *at)
{
    enum { NAMES_MAX = 128 };
    const char *names[NAMES_MAX];
    const struct node *sites = node_get(fill->root, "sites");
    size_t count = 0;
    for (size_t i = 0; i < site_table_count && count < NAMES_MAX; i++)
        names[count++] = site_table[i].name;
    for (size_t i = 0; sites && i < sites->count && count < NAMES_MAX; i++)
        names[count++] = sites->keys[i]->text;
    schema_unknown(tree_of(fill), at, "site", at->text, names, count, fill->errors);
}

/* `at: NAME`: an own site before a built-in one. */
static int named_site(struct fill *fill, const struct node *at, double direction[2])
{
    const struct node *own = own_site(fill, at->text);
    /* a fault of its direction was reported where it stands */
    if (own)
        return fill_direction(&(struct fill){.file = fill->file}, own, at->text, direction);
    const struct site_info *site = built_in(at->text);
    if (site) {
        direction[0] = site_elevation_on(fill, site);
        direction[1] = site->azimuth;
        return 1;
    }
    site_unknown(fill, at);
    return 0;
}

/* `at: {region: NAME}`: the region's centre. */
static int region_site(struct fill *fill, const struct node *at, double direction[2])
{
    const struct node *name = node_get(at, "region");
    if (at->count != 1 || !name || name->kind != NODE_SCALAR) {
        node_error(tree_of(fill), at, fill->errors, "`at` takes {region: NAME}");
        return 0;
    }
    int region = fill_region_index(fill, name->text);
    if (region < 0) {
        fill_region_unknown(fill, name);
        return 0;
    }
    if (stack_head_missing(&fill->file->headform)) {
        direction[0] = direction[1] = NAN;
        return 1;
    }
    if (!region_centre(&fill->file->map, region, &direction[0], &direction[1])) {
        node_error(tree_of(fill), name, fill->errors,
                   "the centre of region '%s' does not lie on it; give a direction: [elevation, azimuth]",
                   name->text);
        return 0;
    }
    return 1;
}

/* Resolves `at` into a direction and what to call it. */
static int site_direction(struct fill *fill, const struct node *at, char name[CASE_NAME], double direction[2])
{
    char elevation[24], azimuth[24];
    switch (at->kind) {
    case NODE_SCALAR:
        fill_name(name, at->text);
        return named_site(fill, at, direction);
    case NODE_MAPPING:
        if (!region_site(fill, at, direction))
            return 0;
        snprintf(name, CASE_NAME, "%.*s", CASE_NAME - 1, node_get(at, "region")->text);
        return 1;
    case NODE_SEQUENCE:
        if (!fill_direction(fill, at, "at", direction))
            return 0;
        units_write(QUANTITY_ANGLE, direction[0], elevation, sizeof elevation);
        units_write(QUANTITY_ANGLE, direction[1], azimuth, sizeof azimuth);
        snprintf(name, CASE_NAME, "[%.20s, %.20s]", elevation, azimuth);
        return 1;
    }
    return 0;
}

/* Site and region of an impact on a helmet. */
static void fill_site(struct fill *fill, const struct node *at, struct case_impact *impact)
{
    double direction[2];
    impact->region = -1;
    if (!site_direction(fill, at, impact->site, direction))
        return;
    impact->elevation = direction[0];
    impact->azimuth = direction[1];
    if (stack_head_missing(&fill->file->headform))
        return;
    impact->region = helmet_map_region(&fill->file->map, direction[0], direction[1]);
    if (impact->region == -1)
        node_error(tree_of(fill), at, fill->errors, "site '%s' lies below the lower edge of the shell",
                   impact->site);
    else if (impact->region < 0)
        node_error(tree_of(fill), at, fill->errors, "no region holds site '%s'", impact->site);
    else if (fill->file->regions[impact->region].shape.open)
        node_error(tree_of(fill), at, fill->errors,
                   "site '%s' lies on the opening '%s', where there is no foam", impact->site,
                   fill->file->regions[impact->region].shape.name);
}

/* "radius, length": what a shape takes. */
static void size_words(enum anvil_shape shape, char *words, size_t size)
{
    words[0] = '\0';
    for (size_t i = 0; i < ANVIL_SIZE_COUNT; i++) {
        size_t used = strlen(words);
        if (!isnan(anvil_ranges[shape][i].usual))
            snprintf(words + used, size - used, "%s`%s`", used ? ", " : "", anvil_size_keys[i]);
    }
}

/* A size that is given: one that the shape has, in its range. */
static void fill_size(struct fill *fill, const struct node *given, enum anvil_shape shape, size_t i,
                      struct anvil_sizes *sizes)
{
    const struct anvil_range *range = &anvil_ranges[shape][i];
    const char *word = anvil_table[shape].name, *key = anvil_size_keys[i];
    char words[80], low[24], high[24];
    double slack = 1e-12 * range->most;
    if (isnan(range->usual)) {
        size_words(shape, words, sizeof words);
        node_error(tree_of(fill), given, fill->errors, "`%s` means nothing for the shape %s, which takes %s",
                   key, word, words);
        return;
    }
    units_write(QUANTITY_LENGTH, range->least, low, sizeof low);
    units_write(QUANTITY_LENGTH, range->most, high, sizeof high);
    if (sizes->of[i] < range->least - slack || sizes->of[i] > range->most + slack)
        node_error(tree_of(fill), given, fill->errors,
                   "`%s` of the shape %s must be from %s to %s; got %.40s", key, word, low, high,
                   given->text);
}

/* What is absent takes the shape's usual value. */
static void fill_sizes(struct fill *fill, const struct node *value, struct case_anvil *anvil)
{
    enum anvil_shape shape = anvil_shape_find(anvil->shape);
    if (shape == ANVIL_SHAPE_COUNT)
        return;
    anvil->sizes = anvil_usual(shape);
    for (size_t i = 0; i < ANVIL_SIZE_COUNT; i++) {
        const struct node *given = node_get(value, anvil_size_keys[i]);
        if (!given)
            continue;
        anvil->sizes.of[i] = schema_quantity(value, SCHEMA_ANVIL, anvil_size_keys[i]);
        fill_size(fill, given, shape, i, &anvil->sizes);
    }
    double most = anvil_largest_rounding(shape, &anvil->sizes);
    const struct node *radius = node_get(value, "radius");
    if (anvil->sizes.of[ANVIL_RADIUS] > most)
        node_error(tree_of(fill), radius ? radius : value, fill->errors,
                   "the rounding of the %s, %.4g mm, does not fit its section: %.4g mm is the most",
                   anvil_table[shape].name, 1e3 * anvil->sizes.of[ANVIL_RADIUS], 1e3 * most);
}

/* `anvil: {shape: ..., radius: ...}` */
static void fill_own_anvil(struct fill *fill, const struct node *value, struct case_anvil *anvil)
{
    if (!schema_check(tree_of(fill), value, SCHEMA_ANVIL, fill->errors))
        return;
    fill_required(fill, value, "shape");
    fill_name(anvil->shape, schema_text(value, SCHEMA_ANVIL, "shape"));
    snprintf(anvil->name, sizeof anvil->name, "own %.*s", (int)sizeof anvil->name - 5, anvil->shape);
    anvil->angle = schema_quantity(value, SCHEMA_ANVIL, "angle");
    anvil->friction =
        node_get(value, "friction") ? schema_quantity(value, SCHEMA_ANVIL, "friction") : ANVIL_BARE_FRICTION;
    fill_sizes(fill, value, anvil);
}

static void fill_named_anvil(struct fill *fill, const struct node *place, const char *name,
                             struct case_anvil *anvil)
{
    const struct anvil_info *info = anvil_find(name);
    if (info) {
        fill_name(anvil->name, info->name);
        /* the first rows of the table are the shapes themselves */
        fill_name(anvil->shape, anvil_table[info->shape].name);
        anvil->angle = info->angle;
        anvil->friction = info->friction;
        anvil->sizes = anvil_usual(info->shape);
        return;
    }
    const char *names[ANVIL_COUNT];
    for (size_t i = 0; i < ANVIL_COUNT; i++)
        names[i] = anvil_table[i].name;
    schema_unknown(tree_of(fill), place, "anvil", name, names, ANVIL_COUNT, fill->errors);
}

static void fill_anvil(struct fill *fill, const struct node *mapping, struct case_anvil *anvil)
{
    const struct node *value = node_get(mapping, "anvil");
    *anvil = (struct case_anvil){.friction = NAN, .sizes = anvil_usual(ANVIL_FLAT)};
    if (value && value->kind == NODE_SEQUENCE)
        node_error(tree_of(fill), value, fill->errors,
                   "`anvil` takes a name of `foampulse list anvils`, or {shape, angle, friction and sizes}");
    else if (value && value->kind == NODE_MAPPING)
        fill_own_anvil(fill, value, anvil);
    else
        fill_named_anvil(fill, value ? value : mapping, schema_text(mapping, SCHEMA_IMPACT, "anvil"), anvil);
}

/* Words for `towards`, with elevation and azimuth. */
static const struct {
    const char *word;
    double direction[2];
} headings[] = {
    {"front", {0, 0}},      {"rear", {0, PI}},   {"left", {0, -PI / 2}},
    {"right", {0, PI / 2}}, {"up", {PI / 2, 0}}, {"down", {-PI / 2, 0}},
};
enum { HEADINGS = sizeof headings / sizeof *headings };

const char *fill_heading(const double direction[2], char text[FILL_HEADING])
{
    if (isnan(direction[0]))
        return "-";
    for (size_t i = 0; i < HEADINGS; i++) {
        if (headings[i].direction[0] == direction[0] && headings[i].direction[1] == direction[1])
            return headings[i].word;
    }
    snprintf(text, FILL_HEADING, "[%.4g, %.4g]", direction[0] * 180 / PI, direction[1] * 180 / PI);
    return text;
}

static void read_towards(struct fill *fill, const struct node *towards, double direction[2])
{
    const char *words[HEADINGS];
    if (towards->kind != NODE_SCALAR) {
        fill_direction(fill, towards, "towards", direction);
        return;
    }
    for (size_t i = 0; i < HEADINGS; i++) {
        words[i] = headings[i].word;
        if (strcmp(towards->text, words[i]) == 0) {
            direction[0] = headings[i].direction[0];
            direction[1] = headings[i].direction[1];
            return;
        }
    }
    schema_unknown(tree_of(fill), towards, "`towards`", towards->text, words, HEADINGS, fill->errors);
}

/* Cosine of the angle between two directions (elevation, azimuth). */
static double cosine_between(const double a[2], const double b[2])
{
    return cos(a[0]) * cos(b[0]) * cos(a[1] - b[1]) + sin(a[0]) * sin(b[0]);
}

/* Where an oblique face moves over the head: not where it presses. */
static void fill_towards(struct fill *fill, const struct node *mapping, const struct node *towards,
                         struct case_impact *impact)
{
    static const double most = 0.985; /* cosine of 10 deg */
    double site[2] = {impact->elevation, impact->azimuth};
    impact->towards[0] = impact->towards[1] = NAN;
    if (impact->angle == 0 && towards)
        node_error(tree_of(fill), towards, fill->errors, "this impact is square on: `towards` means nothing");
    if (impact->angle == 0)
        return;
    if (!towards) {
        node_error(tree_of(fill), mapping, fill->errors,
                   "`towards` is missing: the face is oblique, so its motion points somewhere on the head");
        return;
    }
    read_towards(fill, towards, impact->towards);
    if (fabs(cosine_between(site, impact->towards)) > most)
        node_error(tree_of(fill), towards, fill->errors,
                   "`towards` points along the face's normal at %s; the face moves across it", impact->site);
}

/* Angle between fall and face, and where an oblique face moves over the head. */
static void fill_obliqueness(struct fill *fill, const struct node *mapping, struct case_impact *impact)
{
    const struct node *angle = node_get(mapping, "angle");
    double own = schema_quantity(mapping, SCHEMA_IMPACT, "angle");
    impact->angle = angle ? own : impact->anvil.angle;
    if (angle && impact->anvil.angle != 0 && own != impact->anvil.angle)
        node_error(tree_of(fill), angle, fill->errors, "the anvil has an angle of its own, %.4g deg",
                   impact->anvil.angle * 180 / PI);
    fill_towards(fill, mapping, node_get(mapping, "towards"), impact);
}

void fill_site_impact(struct fill *fill, const struct node *mapping, struct case_impact *impact)
{
    const struct node *friction = node_get(mapping, "friction");
    double on_anvil = schema_quantity(friction, SCHEMA_FRICTION, "anvil");
    if (fill_required(fill, mapping, "at"))
        fill_site(fill, node_get(mapping, "at"), impact);
    else
        impact->region = -1;
    fill_anvil(fill, mapping, &impact->anvil);
    fill_obliqueness(fill, mapping, impact);
    impact->head_friction = schema_quantity(friction, SCHEMA_FRICTION, "head");
    if (!isnan(on_anvil))
        impact->anvil.friction = on_anvil;
}

void fill_test_impact(struct fill *fill, const struct node *test, const struct node *at,
                      const struct node *anvil, struct case_impact *impact)
{
    impact->anvil = (struct case_anvil){.friction = NAN, .sizes = anvil_usual(ANVIL_FLAT)};
    impact->head_friction = NAN;
    fill_site(fill, at, impact);
    fill_named_anvil(fill, anvil, anvil->text, &impact->anvil);
    impact->angle = impact->anvil.angle;
    fill_towards(fill, test, node_get(test, "towards"), impact);
}

void fill_sites(struct fill *fill)
{
    const struct node *sites = node_get(fill->root, "sites");
    double direction[2];
    if (!sites)
        return;
    if (sites->kind != NODE_MAPPING) {
        node_error(tree_of(fill), sites, fill->errors, "`sites` takes {NAME: [elevation, azimuth], ...}");
        return;
    }
    for (size_t i = 0; i < sites->count; i++) {
        const struct node *name = sites->keys[i];
        if (!schema_is_name(name->text))
            node_error(tree_of(fill), name, fill->errors,
                       "a name has 1 to 40 letters, digits, spaces, - or _, and starts with a letter");
        else if (built_in(name->text))
            node_error(tree_of(fill), name, fill->errors, "'%s' is a built-in site; take another name",
                       name->text);
        fill_direction(fill, sites->items[i], name->text, direction);
    }
}
