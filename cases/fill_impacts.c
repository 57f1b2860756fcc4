#include "cases/fill_impacts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/fill_sites.h"

/* Standard gravity [m/s2]: CGPM 1901. */
static const double standard_gravity = 9.80665;

/* Temperatures of conditions [degC], from memory, common practice of helmet standards. Wet helmets are
 * computed as ambient ones: closed-cell foam takes up next to no water. */
static const struct {
    const char *name;
    double temperature;
} conditions[] = {{"ambient", 23}, {"cold", -20}, {"hot", 50}, {"wet", 23}};

static const struct tree *tree_of(const struct fill *fill)
{
    return &fill->file->tree;
}

/* Ways to say how hard a hit is. */
static const struct {
    const char *key;
    enum quantity quantity;
} severities[] = {{"speed", QUANTITY_SPEED}, {"drop_height", QUANTITY_LENGTH}, {"energy", QUANTITY_ENERGY}};
enum { SEVERITIES = sizeof severities / sizeof *severities };

/* Speed [m/s] of a severity in SI: sqrt(2 g h), sqrt(2 E / m). */
static double speed_of(enum quantity quantity, double value, double mass)
{
    if (quantity == QUANTITY_LENGTH)
        return sqrt(2 * standard_gravity * value);
    if (quantity == QUANTITY_ENERGY)
        return sqrt(2 * value / mass);
    return value;
}

/* One item of `hits`, told apart by its unit. */
static double hit_speed(struct fill *fill, const struct node *item, double mass)
{
    enum quantity kinds[SEVERITIES];
    double value;
    for (size_t i = 0; i < SEVERITIES; i++)
        kinds[i] = severities[i].quantity;
    enum quantity quantity = item->kind == NODE_SCALAR && !item->quoted
                                 ? units_kind(item->text, kinds, SEVERITIES)
                                 : QUANTITY_COUNT;
    if (quantity == QUANTITY_COUNT) {
        node_error(tree_of(fill), item, fill->errors,
                   "a hit is a speed (7.5 m/s), a drop height (2.87 m) or an energy (110 J)");
        return NAN;
    }
    for (size_t i = 0; i < SEVERITIES; i++) {
        const struct schema_key *row = schema_find(SCHEMA_IMPACT, severities[i].key);
        if (severities[i].quantity == quantity &&
            fill_value(fill, item, "hits", quantity, row->low, row->high, &value))
            return speed_of(quantity, value, mass);
    }
    return NAN;
}

static void fill_hits(struct fill *fill, const struct node *hits, double mass, struct case_impact *impact)
{
    enum { HITS_MAX = 20 };
    if (hits->kind != NODE_SEQUENCE || hits->count == 0 || hits->count > HITS_MAX) {
        node_error(tree_of(fill), hits, fill->errors,
                   "`hits` takes a list of 1 to %d hits: [7.0 m/s, 5.0 m/s]", HITS_MAX);
        return;
    }
    impact->speed = fill_block(fill, hits->count, sizeof *impact->speed);
    if (!impact->speed)
        return;
    impact->hit_count = hits->count;
    for (size_t i = 0; i < hits->count; i++)
        impact->speed[i] = hit_speed(fill, hits->items[i], mass);
}

void fill_severity(struct fill *fill, const struct node *mapping, double mass, struct case_impact *impact)
{
    const struct node *hits = node_get(mapping, "hits"), *last = hits;
    size_t given = hits != NULL, which = 0;
    for (size_t i = 0; i < SEVERITIES; i++) {
        const struct node *value = node_get(mapping, severities[i].key);
        if (!value)
            continue;
        given++;
        which = i;
        last = value;
    }
    if (given != 1) {
        node_error(tree_of(fill), given ? last : mapping, fill->errors,
                   "an impact takes exactly one of speed, drop_height, energy, hits");
        return;
    }
    if (hits) {
        fill_hits(fill, hits, mass, impact);
        return;
    }
    impact->speed = fill_block(fill, 1, sizeof *impact->speed);
    if (!impact->speed)
        return;
    impact->hit_count = 1;
    impact->speed[0] = speed_of(severities[which].quantity,
                                schema_quantity(mapping, SCHEMA_IMPACT, severities[which].key), mass);
}

static void fill_conditions(struct fill *fill, const struct node *mapping, struct case_impact *impact)
{
    const struct node *given = node_get(mapping, "condition");
    const char *condition = given ? given->text : "";
    fill_exclusive(fill, mapping, "condition", "temperature");
    impact->temperature = schema_quantity(mapping, SCHEMA_IMPACT, "temperature");
    snprintf(impact->condition, sizeof impact->condition, "%s", condition);
    for (size_t i = 0; i < sizeof conditions / sizeof *conditions; i++) {
        if (strcmp(condition, conditions[i].name) == 0)
            impact->temperature = conditions[i].temperature;
    }
    if (isnan(impact->temperature))
        impact->temperature = conditions[0].temperature;
    impact->recovered = schema_quantity(mapping, SCHEMA_IMPACT, "recovered");
    if (node_get(mapping, "recovered") && impact->hit_count < 2)
        node_error(tree_of(fill), node_get(mapping, "recovered"), fill->errors,
                   "`recovered` needs `hits` with two hits or more");
}

/* Keys of an impact that mean nothing for a pad. */
static const char *const site_keys[] = {"at", "anvil", "towards", "angle", "friction"};

static void fill_pad_impact(struct fill *fill, const struct node *mapping, struct case_impact *impact)
{
    impact->region = -1;
    impact->elevation = impact->azimuth = NAN;
    impact->towards[0] = impact->towards[1] = impact->head_friction = NAN;
    impact->anvil = (struct case_anvil){
        .name = "flat", .shape = "flat", .friction = NAN, .sizes = anvil_usual(ANVIL_FLAT)};
    for (size_t i = 0; i < sizeof site_keys / sizeof *site_keys; i++) {
        const struct node *value = node_get(mapping, site_keys[i]);
        if (value)
            node_error(tree_of(fill), value, fill->errors, "an impact on a `pad` has no `%s`", site_keys[i]);
    }
}

void fill_impacts(struct fill *fill, double mass)
{
    struct case_file *file = fill->file;
    const struct node *list = node_get(fill->root, "impacts");
    if (!list && !file->pad.present && node_get(fill->root, "programme"))
        return;
    if (!fill_required(fill, fill->root, "impacts"))
        return;
    file->impacts = fill_block(fill, list->count, sizeof *file->impacts);
    if (!file->impacts)
        return;
    file->impact_count = list->count;
    for (size_t i = 0; i < list->count; i++) {
        struct case_impact *impact = &file->impacts[i];
        impact->number = (int)i + 1;
        impact->own = 1;
        impact->place = list->items[i];
        fill_severity(fill, list->items[i], mass, impact);
        fill_conditions(fill, list->items[i], impact);
        if (file->pad.present)
            fill_pad_impact(fill, list->items[i], impact);
        else
            fill_site_impact(fill, list->items[i], impact);
    }
}
