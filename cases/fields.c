#include "cases/fields.h"

#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"

enum { PATH = 512 };

static enum value_kind stored_kind(const struct field *field)
{
    switch (field->kind) {
    case FIELD_INT:
        return VALUE_INT;
    case FIELD_LONG:
        return VALUE_LONG;
    case FIELD_DOUBLE:
        return VALUE_DOUBLE;
    default:
        return VALUE_TEXT;
    }
}

static size_t stored_size(const struct field *field)
{
    return field->kind == FIELD_INT ? sizeof(int) : field->kind == FIELD_LONG ? sizeof(long) : sizeof(double);
}

/* Text of a text or a choice; "" for a choice without a name. */
static const char *text_at(const struct field *field, const char *item)
{
    if (field->kind == FIELD_TEXT)
        return item + field->offset;
    int value;
    memcpy(&value, item + field->offset, sizeof value);
    const char *name = field->choice(value);
    return name ? name : "";
}

/* Sets a member from a text of at most `size` bytes; 0 when it does not fit or is no known name. */
static int text_set(const struct field *field, char *item, const char *text, size_t size)
{
    size_t length = strnlen(text, size);
    if (field->kind == FIELD_TEXT) {
        if (length >= field->size)
            return 0;
        memset(item + field->offset, 0, field->size);
        memcpy(item + field->offset, text, length);
        return 1;
    }
    const char *name;
    for (int value = 0; (name = field->choice(value)); value++) {
        if (strlen(name) == length && memcmp(name, text, length) == 0) {
            memcpy(item + field->offset, &value, sizeof value);
            return 1;
        }
    }
    return 0;
}

/* Copies a number out of a struct, scaled if the field says so. */
static void number_at(const struct field *field, const char *item, char *to)
{
    memcpy(to, item + field->offset, stored_size(field));
    if (field->kind == FIELD_DOUBLE && field->scale != 0) {
        double value;
        memcpy(&value, to, sizeof value);
        value *= field->scale;
        memcpy(to, &value, sizeof value);
    }
}

void fields_put(struct container *container, const char *path, const struct field *fields, size_t field_count,
                const void *item)
{
    for (size_t i = 0; i < field_count; i++) {
        char value[sizeof(double)] __attribute__((aligned(8)));
        if (stored_kind(&fields[i]) == VALUE_TEXT) {
            container_attribute_text(container, path, fields[i].name, text_at(&fields[i], item));
        } else {
            number_at(&fields[i], item, value);
            container_attribute(container, path, fields[i].name, stored_kind(&fields[i]), value);
        }
    }
}

void fields_get(struct container *container, const char *path, const struct field *fields, size_t field_count,
                void *item)
{
    for (size_t i = 0; i < field_count && container_status(container) == STATUS_OK; i++) {
        if (stored_kind(&fields[i]) == VALUE_TEXT) {
            char text[1024];
            container_get_text(container, path, fields[i].name, text, sizeof text);
            if (container_status(container) == STATUS_OK && !text_set(&fields[i], item, text, sizeof text))
                container_bad(container, path, "a text is too long or no known word");
        } else {
            container_get(container, path, fields[i].name, stored_kind(&fields[i]),
                          (char *)item + fields[i].offset);
        }
    }
}

static void column_put(struct container *container, const char *path, const struct field *field,
                       const char *items, size_t item_size, size_t count)
{
    struct values values = {.kind = stored_kind(field), .text_size = 1, .rank = 1, .extent = {count, 0}};
    for (size_t i = 0; values.kind == VALUE_TEXT && i < count; i++) {
        size_t length = strlen(text_at(field, items + i * item_size));
        values.text_size = length > values.text_size ? length : values.text_size;
    }
    size_t size = values.kind == VALUE_TEXT ? values.text_size : stored_size(field);
    char *block = memory_zeroed(count, size);
    for (size_t i = 0; block && i < count; i++) {
        const char *item = items + i * item_size;
        if (values.kind != VALUE_TEXT) {
            number_at(field, item, block + i * size);
        } else {
            const char *text = text_at(field, item);
            memcpy(block + i * size, text, strlen(text));
        }
    }
    values.data = block;
    if (block)
        container_array(container, path, field->units, field->description, &values);
    else
        container_out_of_memory(container);
    memory_free(block);
}

void fields_put_columns(struct container *container, const char *group, const struct field *fields,
                        size_t field_count, const void *items, size_t item_size, size_t count)
{
    for (size_t i = 0; i < field_count && container_status(container) == STATUS_OK; i++) {
        char path[PATH];
        snprintf(path, sizeof path, "%s/%s", group, fields[i].name);
        column_put(container, path, &fields[i], items, item_size, count);
    }
}

static void column_get(struct container *container, const char *path, const struct field *field, char *items,
                       size_t item_size, const struct values *values)
{
    const char *from = values->data;
    for (size_t i = 0; i < values->extent[0]; i++) {
        char *item = items + i * item_size;
        if (values->kind != VALUE_TEXT)
            memcpy(item + field->offset, from + i * stored_size(field), stored_size(field));
        else if (!text_set(field, item, from + i * values->text_size, values->text_size))
            container_bad(container, path, "a text is too long or no known word");
    }
}

void *fields_get_columns(struct container *container, const char *group, const struct field *fields,
                         size_t field_count, size_t item_size, size_t *count)
{
    char *items = NULL;
    *count = 0;
    for (size_t i = 0; i < field_count && container_status(container) == STATUS_OK; i++) {
        char path[PATH];
        struct values values;
        snprintf(path, sizeof path, "%s/%s", group, fields[i].name);
        void *block = container_get_array(container, path, stored_kind(&fields[i]), 1, &values);
        if (block && i == 0) {
            *count = values.extent[0];
            items = *count ? memory_zeroed(*count, item_size) : NULL;
            if (*count && !items)
                container_out_of_memory(container);
        }
        if (block && values.extent[0] != *count)
            container_bad(container, path, "is not as long as the columns beside it");
        if (block && container_status(container) == STATUS_OK)
            column_get(container, path, &fields[i], items, item_size, &values);
        memory_free(block);
    }
    if (container_status(container) == STATUS_OK)
        return items;
    memory_free(items);
    *count = 0;
    return NULL;
}
