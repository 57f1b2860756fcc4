#include "cases/include.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cases/reader.h"
#include "cases/source.h"
#include "solver/base/memory.h"

/* --- merge --- */

struct merge {
    const struct tree *tree;
    struct errors *errors;
    enum status status;
};

static void merge_fail(struct merge *merge, enum status status)
{
    merge->status = status_worse(merge->status, status);
}

static int is_drop(const struct node *value)
{
    return node_get(value, "drop") != NULL;
}

/* `drop` says true and nothing else but the name. */
static int drop_is_sound(struct merge *merge, const struct node *value)
{
    const struct node *drop = node_get(value, "drop");
    size_t other = 0;
    for (size_t i = 0; i < value->count; i++)
        other += strcmp(value->keys[i]->text, "drop") != 0 && strcmp(value->keys[i]->text, "name") != 0;
    if (drop->kind == NODE_SCALAR && !drop->quoted && strcmp(drop->text, "true") == 0 && other == 0)
        return 1;
    merge_fail(merge, node_error(merge->tree, drop, merge->errors,
                                 "drop is written \"drop: true\", with no other key but the name"));
    return 0;
}

/* Takes `at` out of `base`; an error when there is nothing of this name. */
static void merge_drop(struct merge *merge, struct node *base, size_t at, const struct node *value,
                       const char *name)
{
    if (!drop_is_sound(merge, value))
        return;
    if (at < base->count) {
        node_remove(base, at);
        return;
    }
    const char *nearest = node_nearest(base, name);
    merge_fail(merge,
               node_error(merge->tree, value, merge->errors,
                          "the included files have no %.60s to drop%s%.60s%s", name,
                          nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : ""));
}

static int merges_by_name(const char *key)
{
    return strcmp(key, "regions") == 0 || strcmp(key, "sites") == 0 || strcmp(key, "sizes") == 0;
}

static void merge_mapping(struct merge *merge, struct node *base, struct node *over);

/* Moves item `from` of `over` into `base` at `at`. */
static void item_insert(struct merge *merge, struct node *base, size_t at, struct node *over, size_t from)
{
    struct node *item = over->items[from];
    if (node_append(base, NULL, item) != STATUS_OK) {
        merge_fail(merge, STATUS_MEMORY);
        return;
    }
    over->items[from] = NULL;
    memmove(base->items + at + 1, base->items + at, (base->count - 1 - at) * sizeof *base->items);
    base->items[at] = item;
}

static void merge_named(struct merge *merge, struct node *base, struct node *over)
{
    size_t place = 0; /* where an item new to `base` goes */
    for (size_t i = 0; i < over->count && merge->status != STATUS_MEMORY; i++) {
        const struct node *name = node_get(over->items[i], "name");
        if (!name || name->kind != NODE_SCALAR) {
            merge_fail(merge, node_error(merge->tree, over->items[i], merge->errors,
                                         "an item needs a name to be merged with the included ones"));
            continue;
        }
        size_t at = node_named(base, name->text);
        if (is_drop(over->items[i])) {
            place = at < base->count ? at : place;
            merge_drop(merge, base, at, over->items[i], name->text);
        } else if (at < base->count) {
            merge_mapping(merge, base->items[at], over->items[i]);
            place = at + 1;
        } else {
            item_insert(merge, base, place++, over, i);
        }
    }
}

/* Moves pair `from` of `over` to `at` of `base`, or behind its last. */
static void pair_move(struct merge *merge, struct node *base, size_t at, struct node *over, size_t from)
{
    if (at < base->count) {
        node_free(base->keys[at]);
        node_free(base->items[at]);
        base->keys[at] = over->keys[from];
        base->items[at] = over->items[from];
    } else if (node_append(base, over->keys[from], over->items[from]) != STATUS_OK) {
        merge_fail(merge, STATUS_MEMORY);
        return;
    }
    over->keys[from] = over->items[from] = NULL;
}

static void merge_mapping(struct merge *merge, struct node *base, struct node *over)
{
    for (size_t i = 0; i < over->count && merge->status != STATUS_MEMORY; i++) {
        struct node *value = over->items[i];
        const char *key = over->keys[i]->text;
        size_t at = node_index(base, key);
        struct node *old = at < base->count ? base->items[at] : NULL;
        if (is_drop(value))
            merge_drop(merge, base, at, value, key);
        else if (old && old->kind == NODE_MAPPING && value->kind == NODE_MAPPING)
            merge_mapping(merge, old, value);
        else if (old && old->kind == NODE_SEQUENCE && value->kind == NODE_SEQUENCE && merges_by_name(key))
            merge_named(merge, old, value);
        else
            pair_move(merge, base, at, over, i);
    }
}

enum status include_merge(const struct tree *tree, struct node *base, struct node *over,
                          struct errors *errors)
{
    struct merge merge = {tree, errors, STATUS_OK};
    merge_mapping(&merge, base, over);
    return merge.status;
}

enum status include_check_drops(const struct tree *tree, const struct node *node, struct errors *errors)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < node->count; i++) {
        if (node->keys && strcmp(node->keys[i]->text, "drop") == 0)
            status =
                status_worse(status, node_error(tree, node->keys[i], errors,
                                                "there is nothing to drop: drop takes out what an included "
                                                "file brought"));
        status = status_worse(status, include_check_drops(tree, node->items[i], errors));
    }
    return status;
}

/* --- files --- */

struct include {
    struct tree *tree;
    const char *folder;
    size_t *nodes;
    struct errors *errors;
};

/* Path beside another file: its folder and `name`. 0 when it does not fit. */
static int path_beside(const char *file, const char *name, char path[PATH_MAX])
{
    const char *slash = strrchr(file, '/');
    int folder = slash ? (int)(slash - file) + 1 : 0;
    return snprintf(path, PATH_MAX, "%.*s%s", folder, file, name) < PATH_MAX;
}

/* Depth of a relative path below its start at its least: negative when ".." leads above the start. */
static int path_least_depth(const char *path)
{
    int depth = 0, least = 0;
    while (*path) {
        size_t length = strcspn(path, "/");
        if (length == 2 && strncmp(path, "..", 2) == 0)
            depth--;
        else if (length > 0 && !(length == 1 && *path == '.'))
            depth++;
        least = depth < least ? depth : least;
        path += length + (path[length] == '/');
    }
    return least;
}

/* Path of a file of the tree below the case's folder; "" when it stands elsewhere (standard input). */
static const char *path_below(const struct include *include, const char *path)
{
    size_t length = strlen(include->folder);
    if (strncmp(path, include->folder, length) != 0)
        return "";
    return path[length] == '/'                                ? path + length + 1
           : length > 0 && include->folder[length - 1] == '/' ? path + length
                                                              : "";
}

static int is_below(const struct include *include, const char *path)
{
    return *path_below(include, path) != '\0';
}

static enum status refuse_outside(const struct include *include, const struct node *node)
{
    return node_error(include->tree, node, include->errors,
                      "%.200s is outside the folder of the case: name files in it or below it", node->text);
}

/* "a.yaml -> b.yaml -> a.yaml" from the file met again down to the one that includes it. */
static void cycle_write(const struct tree *tree, int from, int again, char text[ERROR_TEXT])
{
    char tail[ERROR_TEXT];
    snprintf(text, ERROR_TEXT, "%s", tree->files[again].name);
    for (int i = from; i >= 0; i = tree->files[i].included_from) {
        snprintf(tail, sizeof tail, "%s", text);
        snprintf(text, ERROR_TEXT, "%.200s -> %.300s", tree->files[i].name, tail);
        if (i == again)
            return;
    }
}

/* Refuses to include a file that is being read already. */
static enum status cycle_check(const struct include *include, int from, const char *real,
                               const struct node *node)
{
    for (int i = from; i >= 0; i = include->tree->files[i].included_from) {
        if (strcmp(include->tree->files[i].path, real) != 0)
            continue;
        char text[ERROR_TEXT];
        cycle_write(include->tree, from, i, text);
        return node_error(include->tree, node, include->errors, "the files include each other: %s", text);
    }
    return STATUS_OK;
}

/* Checks a path before anything outside the folder is touched, and gives it without links. */
static enum status path_check(const struct include *include, int from, const struct node *node, char *name,
                              char *real)
{
    const struct source_file *file = &include->tree->files[from];
    char below[PATH_MAX], path[PATH_MAX];
    if (node->kind != NODE_SCALAR || node->text[0] == '\0')
        return node_error(include->tree, node, include->errors, "include is a path or a list of paths");
    if (node->text[0] == '/')
        return refuse_outside(include, node);
    if (!path_beside(path_below(include, file->path), node->text, below) ||
        !path_beside(file->name, node->text, name) ||
        !path_beside(*file->path ? file->path : "", node->text, path))
        return node_error(include->tree, node, include->errors, "this path is too long");
    if (path_least_depth(below) < 0)
        return refuse_outside(include, node);
    if (!realpath(path, real))
        return node_error(include->tree, node, include->errors, "%.200s: %s", name,
                          errno == ENOENT ? "no such file" : strerror(errno));
    return is_below(include, real) ? STATUS_OK : refuse_outside(include, node);
}

/* Adds the file that `node` of file `from` names to the tree; its index in *file. */
static enum status include_open(const struct include *include, int from, const struct node *node, int *file)
{
    char name[PATH_MAX], real[PATH_MAX], *content;
    const char *why;
    size_t length;
    enum status status = path_check(include, from, node, name, real);
    if (status == STATUS_OK)
        status = cycle_check(include, from, real, node);
    if (status != STATUS_OK)
        return status;
    if (include->tree->file_count >= INCLUDE_FILES)
        return node_error(include->tree, node, include->errors, "more than %d files", INCLUDE_FILES);
    status = source_read(real, 1, &content, &length, &why);
    if (status == STATUS_MEMORY)
        return status;
    if (status != STATUS_OK)
        return node_error(include->tree, node, include->errors, "%.200s: %s", name, why);
    *file = source_add(include->tree, name, real, content, length);
    if (*file < 0)
        return STATUS_MEMORY;
    include->tree->files[*file].included_from = from;
    include->tree->files[*file].included_line = node->line;
    return STATUS_OK;
}

int include_folder(const char *real, char folder[PATH_MAX])
{
    if (*real == '\0')
        return realpath(".", folder) != NULL;
    const char *slash = strrchr(real, '/');
    return snprintf(folder, PATH_MAX, "%.*s", slash > real ? (int)(slash - real) : 1, real) < PATH_MAX;
}

enum status include_add(struct tree *tree, const struct node *node, struct errors *errors, int *file)
{
    char folder[PATH_MAX];
    size_t nodes = 0;
    int by_set = strcmp(tree->files[node->file].name, NODE_SET_FILE) == 0;
    if (!include_folder(tree->files[0].path, folder))
        return node_error(tree, node, errors, "the folder of the case cannot be found");
    const struct include include = {tree, folder, &nodes, errors};
    return include_open(&include, by_set ? 0 : node->file, node, file);
}

static enum status include_file(const struct include *include, int file, struct node **root);

/* Merges the file that `node` names into *base. */
static enum status include_one(const struct include *include, int from, const struct node *node,
                               struct node *base)
{
    int file;
    struct node *root = NULL;
    enum status status = include_open(include, from, node, &file);
    if (status == STATUS_OK)
        status = include_file(include, file, &root);
    if (status == STATUS_OK)
        status = include_merge(include->tree, base, root, include->errors);
    node_free(root);
    return status;
}

/* All that `list` (a path or a list) names, in order, into *base. */
static enum status include_all(const struct include *include, int from, const struct node *list,
                               struct node *base)
{
    enum status status = STATUS_OK;
    if (list->kind != NODE_SEQUENCE)
        return include_one(include, from, list, base);
    for (size_t i = 0; i < list->count; i++)
        status = status_worse(status, include_one(include, from, list->items[i], base));
    return status;
}

static enum status include_file(const struct include *include, int file, struct node **root)
{
    const struct source_file *source = &include->tree->files[file];
    struct node *own = NULL, *base = NULL;
    *root = NULL;
    enum status status = reader_parse(include->tree, file, source->content, source->length, include->nodes,
                                      &own, include->errors);
    if (status != STATUS_OK)
        return status;
    if (own->kind != NODE_MAPPING) {
        status =
            node_error(include->tree, own, include->errors, "keys are wanted here: lines of \"key: value\"");
        goto done;
    }
    size_t at = node_index(own, "include");
    if (at == own->count) {
        *root = own;
        return STATUS_OK;
    }
    base = node_create(NODE_MAPPING, file, own->line, own->column, NULL);
    status = base ? include_all(include, file, own->items[at], base) : STATUS_MEMORY;
    if (status != STATUS_OK)
        goto done;
    node_remove(own, at);
    status = include_merge(include->tree, base, own, include->errors);
    if (status == STATUS_OK) {
        *root = base;
        base = NULL;
    }
done:
    node_free(base);
    node_free(own);
    return status;
}

enum status include_parse(struct tree *tree, int file, const char *folder, size_t *nodes, struct node **root,
                          struct errors *errors)
{
    const struct include include = {tree, folder, nodes, errors};
    return include_file(&include, file, root);
}
