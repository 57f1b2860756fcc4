#include "cases/texts.h"

#include <string.h>

#include "cases/result.h"
#include "solver/base/memory.h"

enum { LINES_MOST = 100000 };

void texts_put(struct container *container, const char *path, const char *description, const char *text)
{
    size_t length = text ? strlen(text) : 0;
    container_array(
        container, path, "1", description,
        &(struct values){.kind = VALUE_TEXT, .text_size = length ? length : 1, .data = text ? text : ""});
}

static const char *text_at(char *const *first, size_t stride, size_t at)
{
    const char *text = *(char *const *)((const char *)first + at * stride);
    return text ? text : "";
}

void texts_put_members(struct container *container, const char *path, const char *description,
                       char *const *first, size_t stride, size_t count)
{
    size_t size = 1;
    for (size_t i = 0; i < count; i++) {
        size_t length = strlen(text_at(first, stride, i));
        size = length > size ? length : size;
    }
    char *block = memory_zeroed(count + 1, size);
    if (!block) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        const char *text = text_at(first, stride, i);
        memcpy(block + i * size, text, strlen(text));
    }
    container_array(
        container, path, "1", description,
        &(struct values){.kind = VALUE_TEXT, .text_size = size, .rank = 1, .extent = {count}, .data = block});
    memory_free(block);
}

void texts_put_list(struct container *container, const char *path, const char *description,
                    char *const *texts, size_t count)
{
    texts_put_members(container, path, description, texts, sizeof *texts, count);
}

char *texts_get(struct container *container, const char *path)
{
    struct values values;
    return container_get_array(container, path, VALUE_TEXT, 0, &values);
}

char **texts_get_list(struct container *container, const char *path, size_t *count)
{
    struct values values;
    char **lines = NULL;
    *count = 0;
    char *block = container_get_array(container, path, VALUE_TEXT, 1, &values);
    for (size_t i = 0; block && i < values.extent[0]; i++) {
        const char *text = block + i * values.text_size;
        int length = (int)strnlen(text, values.text_size < LINES_MOST ? values.text_size : LINES_MOST);
        if (result_note(&lines, count, "%.*s", length, text) != STATUS_OK) {
            container_out_of_memory(container);
            break;
        }
    }
    memory_free(block);
    return lines;
}

void texts_get_members(struct container *container, const char *path, size_t most, char **first,
                       size_t stride, size_t count)
{
    struct values values;
    char *block = container_get_array(container, path, VALUE_TEXT, 1, &values);
    if (block && (values.extent[0] != count || values.text_size > most))
        container_bad(container, path, "does not have a short text for each row");
    for (size_t i = 0; block && i < count && container_status(container) == STATUS_OK; i++) {
        const char *text = block + i * values.text_size;
        size_t length = strnlen(text, values.text_size);
        if (length == 0)
            continue;
        char *copy = memory_text_part(text, length);
        if (!copy)
            container_out_of_memory(container);
        *(char **)((char *)first + i * stride) = copy;
    }
    memory_free(block);
}
