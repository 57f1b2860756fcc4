#include "cases/node.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/units.h"

/* --- nodes -------------------------------------------------------------------------------------------------
 */

struct node *node_create(enum node_kind kind, int file, int line, int column, const char *text)
{
    struct node *node = memory_zeroed(1, sizeof *node);
    if (!node)
        return NULL;
    *node = (struct node){.kind = kind, .file = file, .line = line, .column = column};
    if (!text)
        return node;
    node->text = memory_text(text);
    if (!node->text) {
        memory_free(node);
        return NULL;
    }
    return node;
}

/* The arrays hold the next power of two of `count`, so they grow when the count is one. */
static enum status slots_grow(struct node ***slots, size_t count)
{
    if (count & (count - 1))
        return STATUS_OK;
    struct node **larger = memory_resized(*slots, count, count ? 2 * count : 1, sizeof **slots);
    if (!larger)
        return STATUS_MEMORY;
    *slots = larger;
    return STATUS_OK;
}

enum status node_append(struct node *parent, struct node *key, struct node *item)
{
    if (slots_grow(&parent->items, parent->count) != STATUS_OK)
        return STATUS_MEMORY;
    if (key && slots_grow(&parent->keys, parent->count) != STATUS_OK)
        return STATUS_MEMORY;
    if (key)
        parent->keys[parent->count] = key;
    parent->items[parent->count++] = item;
    return STATUS_OK;
}

static enum status copy_append(struct node *copy, const struct node *key, const struct node *item)
{
    struct node *own_key = key ? node_copy(key) : NULL;
    struct node *own_item = node_copy(item);
    if (own_item && (own_key || !key) && node_append(copy, own_key, own_item) == STATUS_OK)
        return STATUS_OK;
    node_free(own_key);
    node_free(own_item);
    return STATUS_MEMORY;
}

struct node *node_copy(const struct node *node)
{
    struct node *copy = node_create(node->kind, node->file, node->line, node->column, node->text);
    if (!copy)
        return NULL;
    copy->quoted = node->quoted;
    for (size_t i = 0; i < node->count; i++) {
        if (copy_append(copy, node->keys ? node->keys[i] : NULL, node->items[i]) != STATUS_OK) {
            node_free(copy);
            return NULL;
        }
    }
    return copy;
}

void node_remove(struct node *parent, size_t at)
{
    size_t after = --parent->count - at;
    node_free(parent->items[at]);
    memmove(parent->items + at, parent->items + at + 1, after * sizeof *parent->items);
    if (!parent->keys)
        return;
    node_free(parent->keys[at]);
    memmove(parent->keys + at, parent->keys + at + 1, after * sizeof *parent->keys);
}

void node_free(struct node *node)
{
    if (!node)
        return;
    for (size_t i = 0; i < node->count; i++) {
        if (node->keys)
            node_free(node->keys[i]);
        node_free(node->items[i]);
    }
    memory_free(node->keys);
    memory_free(node->items);
    memory_free(node->text);
    memory_free(node);
}

size_t node_index(const struct node *mapping, const char *key)
{
    size_t i = 0;
    if (mapping->kind != NODE_MAPPING)
        return mapping->count;
    while (i < mapping->count && strcmp(mapping->keys[i]->text, key) != 0)
        i++;
    return i;
}

/* The nearer to `word` of two names, either may be NULL. */
static const char *nearer(const char *word, const char *best, const char *name)
{
    const char *names[2] = {best ? best : name, name};
    return name ? units_nearest(word, names, 2) : best;
}

const char *node_nearest(const struct node *node, const char *word)
{
    const char *best = NULL;
    for (size_t i = 0; i < node->count; i++) {
        const struct node *name = node->keys ? node->keys[i] : node_get(node->items[i], "name");
        best = nearer(word, best, name && name->kind == NODE_SCALAR ? name->text : NULL);
    }
    return best;
}

size_t node_named(const struct node *list, const char *name)
{
    size_t i = 0;
    for (; list->kind == NODE_SEQUENCE && i < list->count; i++) {
        const struct node *own = node_get(list->items[i], "name");
        if (own && own->kind == NODE_SCALAR && strcmp(own->text, name) == 0)
            return i;
    }
    return list->count;
}

const struct node *node_get(const struct node *mapping, const char *key)
{
    size_t at = node_index(mapping, key);
    return at < mapping->count ? mapping->items[at] : NULL;
}

void tree_free(struct tree *tree)
{
    node_free(tree->root);
    for (size_t i = 0; i < tree->file_count; i++) {
        memory_free(tree->files[i].name);
        memory_free(tree->files[i].path);
        memory_free(tree->files[i].content);
    }
    memory_free(tree->files);
    *tree = (struct tree){0};
}

/* --- messages ----------------------------------------------------------------------------------------------
 */

/* Start of a line, counted from 1 as libyaml counts: CR, LF and CRLF end one. */
static const char *line_start(const struct source_file *file, int line)
{
    const char *at = file->content, *end = file->content + file->length;
    for (int i = 1; i < line && at < end; at++) {
        if (*at == '\n' || (*at == '\r' && !(at + 1 < end && at[1] == '\n')))
            i++;
    }
    return at;
}

/* Copies a line, as much as fits and a little more, so that the cut falls between characters. */
static void line_copy(const struct source_file *file, int line, char text[ERROR_LINE + 4])
{
    const char *start = line_start(file, line), *end = file->content + file->length;
    size_t length = 0;
    while (start + length < end && length < ERROR_LINE + 3 && !strchr("\r\n", start[length]))
        length++;
    memcpy(text, start, length);
    text[length] = '\0';
}

/* "included from b.yaml:2, included from a.yaml:3" */
static void chain_write(const struct tree *tree, int file, char text[ERROR_TEXT])
{
    size_t length = 0;
    const struct source_file *at = &tree->files[file];
    text[0] = '\0';
    while (at->included_from >= 0 && length < ERROR_TEXT) {
        const struct source_file *from = &tree->files[at->included_from];
        length += (size_t)snprintf(text + length, ERROR_TEXT - length, "%sincluded from %s:%d",
                                   length ? ", " : "", from->name, at->included_line);
        at = from;
    }
}

static enum status error_place(const struct tree *tree, int file, int line, int column, struct errors *errors,
                               const char *text)
{
    const struct source_file *source = &tree->files[file];
    enum status status = strcmp(source->name, NODE_SET_FILE) == 0 ? STATUS_USAGE : STATUS_INPUT;
    errors_add(errors, status, source->name, line, column, "%s", text);
    if (!errors || errors->count > ERRORS_KEPT)
        return status;
    char chain[ERROR_TEXT], line_text[ERROR_LINE + 4];
    chain_write(tree, file, chain);
    errors_included(errors, chain);
    if (line > 0 && source->content) {
        line_copy(source, line, line_text);
        errors_source(errors, line_text);
    }
    return status;
}

enum status tree_error(const struct tree *tree, int file, int line, int column, struct errors *errors,
                       const char *format, ...)
{
    char text[ERROR_TEXT];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    return error_place(tree, file, line, column, errors, text);
}

enum status node_error(const struct tree *tree, const struct node *node, struct errors *errors,
                       const char *format, ...)
{
    char text[ERROR_TEXT];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    return error_place(tree, node->file, node->line, node->column, errors, text);
}

/* --- text --------------------------------------------------------------------------------------------------
 */

/* Counts what is put, and keeps it when there is room: one walk measures, the next writes. */
struct sink {
    char *text; /* NULL: measure only */
    size_t length;
};

static void put(struct sink *sink, const char *text, size_t length)
{
    if (sink->text)
        memcpy(sink->text + sink->length, text, length);
    sink->length += length;
}

static void put_indent(struct sink *sink, int indent)
{
    for (int i = 0; i < indent; i++)
        put(sink, " ", 1);
}

static void put_quoted(struct sink *sink, const char *text)
{
    put(sink, "\"", 1);
    for (; *text; text++) {
        if (*text == '"' || *text == '\\')
            put(sink, "\\", 1);
        if (*text == '\n')
            put(sink, "\\n", 2);
        else if (*text == '\t')
            put(sink, "\\t", 2);
        else
            put(sink, text, 1);
    }
    put(sink, "\"", 1);
}

static void put_scalar(struct sink *sink, const struct node *node)
{
    if (node->quoted)
        put_quoted(sink, node->text);
    else
        put(sink, node->text, strlen(node->text));
}

/* What fits behind "key: " or "- ": a scalar or an empty collection. */
static int put_short(struct sink *sink, const struct node *node)
{
    if (node->kind == NODE_SCALAR)
        put_scalar(sink, node);
    else if (node->count == 0)
        put(sink, node->kind == NODE_MAPPING ? "{}" : "[]", 2);
    else
        return 0;
    put(sink, "\n", 1);
    return 1;
}

/* Block style. `begun`: the indentation of the first line is already written, by the dash before it. */
static void put_block(struct sink *sink, const struct node *node, int indent, int begun)
{
    for (size_t i = 0; i < node->count; i++) {
        const struct node *item = node->items[i];
        int is_short = item->kind == NODE_SCALAR || item->count == 0;
        put_indent(sink, i == 0 && begun ? 0 : indent);
        if (node->kind == NODE_MAPPING) {
            put_scalar(sink, node->keys[i]);
            put(sink, is_short ? ": " : ":\n", 2);
        } else {
            put(sink, "- ", 2);
        }
        if (!put_short(sink, item))
            put_block(sink, item, indent + 2, node->kind == NODE_SEQUENCE);
    }
}

static size_t tree_put(const struct tree *tree, char *text)
{
    struct sink sink = {.text = text};
    if (tree->root && !put_short(&sink, tree->root))
        put_block(&sink, tree->root, 0, 0);
    return sink.length;
}

size_t tree_text_length(const struct tree *tree)
{
    return tree_put(tree, NULL);
}

char *tree_text(const struct tree *tree)
{
    char *text = memory_zeroed(tree_put(tree, NULL) + 1, 1);
    if (text)
        tree_put(tree, text);
    return text;
}
