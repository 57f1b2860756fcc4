#include "cases/fill.h"

#include <math.h>
#include <stdio.h>

#include "solver/base/memory.h"
#include "solver/base/units.h"

static const double half_turn = 3.14159265358979323846;

void *fill_block(struct fill *fill, size_t count, size_t size)
{
    void *block = memory_zeroed(count, size);
    if (!block)
        fill->out_of_memory = 1;
    return block;
}

char *fill_text(struct fill *fill, const char *text)
{
    char *copy = memory_text(text);
    if (!copy)
        fill->out_of_memory = 1;
    return copy;
}

void fill_name(char name[CASE_NAME], const char *text)
{
    snprintf(name, CASE_NAME, "%s", text);
}

int fill_value(struct fill *fill, const struct node *value, const char *name, enum quantity quantity,
               double low, double high, double *si)
{
    struct schema_key row = {
        .name = name, .kind = SCHEMA_QUANTITY, .quantity = quantity, .low = low, .high = high};
    char message[UNITS_MESSAGE];
    *si = NAN;
    return schema_check_value(&fill->file->tree, value, &row, fill->errors) &&
           units_read(quantity, value->text, si, message);
}

int fill_direction(struct fill *fill, const struct node *value, const char *name, double direction[2])
{
    direction[0] = direction[1] = NAN;
    if (value->kind != NODE_SEQUENCE || value->count != 2) {
        node_error(&fill->file->tree, value, fill->errors, "`%s` takes a direction: [elevation, azimuth]",
                   name);
        return 0;
    }
    int sound = fill_value(fill, value->items[0], "elevation", QUANTITY_ANGLE, -half_turn / 2, half_turn / 2,
                           &direction[0]);
    return fill_value(fill, value->items[1], "azimuth", QUANTITY_ANGLE, -half_turn, half_turn,
                      &direction[1]) &&
           sound;
}

int fill_required(struct fill *fill, const struct node *mapping, const char *key)
{
    if (node_get(mapping, key))
        return 1;
    node_error(&fill->file->tree, mapping, fill->errors, "`%s` is missing", key);
    return 0;
}

int fill_exclusive(struct fill *fill, const struct node *mapping, const char *a, const char *b)
{
    if (!node_get(mapping, a) || !node_get(mapping, b))
        return 1;
    node_error(&fill->file->tree, node_get(mapping, b), fill->errors, "`%s` and `%s` exclude each other", a,
               b);
    return 0;
}
