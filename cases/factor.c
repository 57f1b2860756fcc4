#include "cases/factor.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"

/* How far from a whole number of steps a range may be, in steps: rounded decimals. */
static const double slip = 1e-6;

/* A factor while it is read. */
struct reading {
    const struct tree *tree;
    struct factor *factor;
    struct errors *errors;
    const struct node *first; /* the number that gives the unit */
    enum status status;
};

static void refuse(struct reading *reading, const struct node *node, const char *text)
{
    reading->status =
        status_worse(reading->status, node_error(reading->tree, node, reading->errors, "%s", text));
}

static int make_levels(struct reading *reading, size_t count)
{
    reading->factor->levels = memory_doubles(count);
    if (!reading->factor->levels) {
        reading->status = STATUS_MEMORY;
        return 0;
    }
    reading->factor->level_count = count;
    return 1;
}

/* --- ranges --- */

/* A number of the range; its unit must be that of the factor, whose first number gives it. */
static int read_number(struct reading *reading, const struct node *node, double *value)
{
    struct factor *factor = reading->factor;
    char unit[UNITS_NAME], message[UNITS_MESSAGE], text[ERROR_TEXT];
    if (!units_split(node->text, value, unit, message)) {
        refuse(reading, node, message);
        return 0;
    }
    if (node == reading->first) {
        memcpy(factor->unit, unit, sizeof unit);
    } else if (strcmp(unit, factor->unit) != 0) {
        snprintf(text, sizeof text, "\"%s\" has the unit \"%s\" and `from` \"%s\": write all in one unit",
                 node->text, unit, factor->unit);
        refuse(reading, node, text);
        return 0;
    }
    return 1;
}

/* `count` numbers from low to high, both included. */
static void spread(struct reading *reading, size_t count)
{
    struct factor *factor = reading->factor;
    if (!make_levels(reading, count))
        return;
    for (size_t i = 0; i < count; i++)
        factor->levels[i] =
            factor->low + (factor->high - factor->low) * (double)i / (double)(count > 1 ? count - 1 : 1);
}

static void read_step(struct reading *reading, const struct node *node)
{
    const struct factor *factor = reading->factor;
    double step, span = factor->high - factor->low;
    if (!read_number(reading, node, &step))
        return;
    if (step <= 0.0) {
        refuse(reading, node, "`step` is above zero");
        return;
    }
    double steps = floor(span / step + 0.5);
    if (steps >= FACTOR_LEVELS) {
        refuse(reading, node, "a factor takes 100,000 values at most: make the step larger");
    } else if (fabs(span / step - steps) > slip) {
        char text[ERROR_TEXT], below[FACTOR_TEXT], above[FACTOR_TEXT];
        units_join(factor->low + step * floor(span / step), factor->unit, below, sizeof below);
        units_join(factor->low + step * ceil(span / step), factor->unit, above, sizeof above);
        snprintf(text, sizeof text, "the step does not divide the range: `to` could be %s or %s", below,
                 above);
        refuse(reading, node, text);
    } else {
        spread(reading, (size_t)steps + 1);
    }
}

static void read_count(struct reading *reading, const struct node *node)
{
    double count;
    char message[UNITS_MESSAGE];
    if (!units_number(node->text, &count, message))
        refuse(reading, node, message);
    else if (count != floor(count) || count < 2 || count > FACTOR_LEVELS)
        refuse(reading, node, "`count` is a whole number of values from 2 to 100000, both ends included");
    else
        spread(reading, (size_t)count);
}

static void read_range(struct reading *reading, const struct node *value)
{
    struct factor *factor = reading->factor;
    const struct node *from = node_get(value, "from"), *to = node_get(value, "to");
    const struct node *step = node_get(value, "step"), *count = node_get(value, "count");
    if (!from || !to) {
        refuse(reading, value,
               "a range needs `from` and `to`: {from: 40 kg/m3, to: 60 kg/m3, step: 5 kg/m3}");
        return;
    }
    reading->first = from;
    if (!read_number(reading, from, &factor->low) || !read_number(reading, to, &factor->high))
        return;
    if (factor->low >= factor->high)
        refuse(reading, to, "`to` is above `from`");
    else if (step && count)
        refuse(reading, count, "`step` and `count` exclude each other");
    else if (step)
        read_step(reading, step);
    else if (count)
        read_count(reading, count);
}

/* --- lists --- */

/* Whether all items are numbers in the unit of the first. */
static int all_numbers(const struct node *list, char unit[UNITS_NAME])
{
    char message[UNITS_MESSAGE], its[UNITS_NAME] = "";
    double value;
    for (size_t i = 0; i < list->count; i++) {
        const struct node *item = list->items[i];
        if (item->quoted || !units_split(item->text, &value, i ? its : unit, message) ||
            (i && strcmp(its, unit) != 0))
            return 0;
    }
    return 1;
}

static void read_item(struct reading *reading, const struct node *list, size_t at, int numbers)
{
    struct factor *factor = reading->factor;
    const struct node *item = list->items[at];
    char message[UNITS_MESSAGE], unit[UNITS_NAME];
    factor->levels[at] = (double)at;
    if (numbers)
        units_split(item->text, &factor->levels[at], unit, message);
    else if (strlen(item->text) >= FACTOR_TEXT)
        refuse(reading, item, "is longer than a value of a factor can be");
    else
        memcpy(factor->texts[at], item->text, strlen(item->text) + 1);
    for (size_t i = 0; i < at; i++) {
        if (numbers ? factor->levels[i] == factor->levels[at]
                    : strcmp(list->items[i]->text, item->text) == 0) {
            refuse(reading, item, "stands in the list twice");
            return;
        }
    }
}

static void find_ends(struct factor *factor)
{
    factor->low = factor->high = factor->levels[0];
    for (size_t i = 1; i < factor->level_count; i++) {
        factor->low = fmin(factor->low, factor->levels[i]);
        factor->high = fmax(factor->high, factor->levels[i]);
    }
}

static void read_list(struct reading *reading, const struct node *list)
{
    enum { LIST = 1000 };
    struct factor *factor = reading->factor;
    if (list->count == 0 || list->count > LIST) {
        refuse(reading, list, "a list of values has 1 to 1000 of them");
        return;
    }
    for (size_t i = 0; i < list->count; i++) {
        if (list->items[i]->kind != NODE_SCALAR) {
            refuse(reading, list->items[i], "a factor takes single values: numbers or names");
            return;
        }
    }
    int numbers = all_numbers(list, factor->unit);
    if (!make_levels(reading, list->count))
        return;
    if (!numbers) {
        factor->unit[0] = '\0';
        factor->texts = memory_zeroed(list->count, sizeof *factor->texts);
        if (!factor->texts) {
            reading->status = STATUS_MEMORY;
            return;
        }
    }
    for (size_t i = 0; i < list->count; i++)
        read_item(reading, list, i, numbers);
    find_ends(factor);
}

enum status factor_read(const struct tree *tree, const struct node *path, const struct node *value,
                        struct factor *factor, struct errors *errors)
{
    struct reading reading = {.tree = tree, .factor = factor, .errors = errors};
    *factor = (struct factor){0};
    if (strlen(path->text) >= FACTOR_PATH) {
        refuse(&reading, path, "the path is too long");
    } else {
        memcpy(factor->path, path->text, strlen(path->text) + 1);
        factor->key = path;
        factor->given = value;
        if (value->kind == NODE_MAPPING)
            read_range(&reading, value);
        else if (value->kind == NODE_SEQUENCE)
            read_list(&reading, value);
        else
            refuse(&reading, value,
                   "values are {from, to, step}, {from, to, count} or a list [40 kg/m3, 50 kg/m3]");
    }
    if (reading.status != STATUS_OK)
        factor_free(factor);
    return reading.status;
}

/* --- values --- */

double factor_at(const struct factor *factor, double share)
{
    if (factor->level_count == 0)
        return factor->low + share * (factor->high - factor->low);
    size_t level = (size_t)(share * (double)factor->level_count);
    return factor->levels[level < factor->level_count ? level : factor->level_count - 1];
}

double factor_share(const struct factor *factor, double value)
{
    if (factor->texts)
        return (value + 0.5) / (double)factor->level_count;
    return factor->high > factor->low ? (value - factor->low) / (factor->high - factor->low) : 0.5;
}

void factor_write(const struct factor *factor, double value, char text[FACTOR_TEXT])
{
    if (isnan(value))
        snprintf(text, FACTOR_TEXT, "as written");
    else if (factor->texts)
        snprintf(text, FACTOR_TEXT, "%s", factor->texts[(size_t)value]);
    else
        units_join(value, factor->unit, text, FACTOR_TEXT);
}

enum status factor_step(struct factor *factor, double step)
{
    double first = ceil(factor->low / step - slip), last = floor(factor->high / step + slip);
    if (!(last >= first) || last - first >= FACTOR_LEVELS)
        return STATUS_INPUT;
    size_t count = (size_t)(last - first) + 1;
    double *levels = memory_doubles(count);
    if (!levels)
        return STATUS_MEMORY;
    for (size_t i = 0; i < count; i++)
        levels[i] = fmin(fmax((first + (double)i) * step, factor->low), factor->high);
    memory_free(factor->levels);
    factor->levels = levels;
    factor->level_count = count;
    return STATUS_OK;
}

/* Whether a part of a path tells factors apart. */
static int part_tells(const char *part, size_t length)
{
    static const char *const idle[] = {"liner", "regions", "layers", "*"};
    for (size_t i = 0; i < sizeof idle / sizeof *idle; i++) {
        if (strlen(idle[i]) == length && strncmp(idle[i], part, length) == 0)
            return 0;
    }
    return 1;
}

void factor_label(const struct factor *factor, char text[FACTOR_LABEL])
{
    size_t at = 0, end = strcspn(factor->path, "+");
    int several = factor->path[end] == '+';
    while (end > 0 && factor->path[end - 1] == ' ')
        end--;
    text[0] = '\0';
    for (size_t start = 0; start < end && at < FACTOR_LABEL;) {
        size_t length = strcspn(factor->path + start, ".+");
        length = start + length > end ? end - start : length;
        if (part_tells(factor->path + start, length))
            at += (size_t)snprintf(text + at, FACTOR_LABEL - at, "%s%.*s", at ? " " : "", (int)length,
                                   factor->path + start);
        start += length + 1;
    }
    if (several && at < FACTOR_LABEL)
        snprintf(text + at, FACTOR_LABEL - at, " ...");
}

const struct node *factor_place(const struct factor *factor, double value)
{
    const struct node *given = factor->given;
    if (!given || given->kind == NODE_MAPPING)
        return given ? node_get(given, value == factor->low ? "from" : "to") : NULL;
    for (size_t i = 0; given->kind == NODE_SEQUENCE && i < factor->level_count && i < given->count; i++) {
        if (factor->levels[i] == value)
            return given->items[i];
    }
    return given;
}

enum status factor_copy(const struct factor *factor, struct factor *copy)
{
    size_t count = factor->level_count;
    *copy = *factor;
    copy->levels = memory_doubles(count + 1);
    copy->texts = factor->texts ? memory_zeroed(count + 1, sizeof *copy->texts) : NULL;
    if (!copy->levels || (factor->texts && !copy->texts)) {
        factor_free(copy);
        return STATUS_MEMORY;
    }
    if (count > 0)
        memcpy(copy->levels, factor->levels, count * sizeof *copy->levels);
    if (factor->texts)
        memcpy(copy->texts, factor->texts, count * sizeof *copy->texts);
    return STATUS_OK;
}

enum status factor_level(struct factor *factor, const char *text, double *level)
{
    size_t count = factor->level_count;
    for (size_t i = 0; i < count; i++) {
        *level = (double)i;
        if (strcmp(factor->texts[i], text) == 0)
            return STATUS_OK;
    }
    double *levels = memory_resized(factor->levels, count, count + 1, sizeof *levels);
    factor->levels = levels ? levels : factor->levels;
    char(*texts)[FACTOR_TEXT] = memory_resized(factor->texts, count, count + 1, sizeof *texts);
    factor->texts = texts ? texts : factor->texts;
    if (!levels || !texts)
        return STATUS_MEMORY;
    *level = levels[count] = factor->high = (double)count;
    snprintf(texts[count], FACTOR_TEXT, "%s", text);
    factor->level_count = count + 1;
    return STATUS_OK;
}

void factor_free(struct factor *factor)
{
    memory_free(factor->levels);
    memory_free(factor->texts);
    *factor = (struct factor){0};
}

void factors_free(struct factor **factors, size_t *count)
{
    for (size_t i = 0; i < *count; i++)
        factor_free(&(*factors)[i]);
    memory_free(*factors);
    *factors = NULL;
    *count = 0;
}
