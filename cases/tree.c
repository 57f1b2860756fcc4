#include "cases/node.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cases/include.h"
#include "cases/path.h"
#include "cases/reader.h"
#include "cases/source.h"
#include "solver/base/memory.h"

static int node_depth(const struct node *node)
{
    int deepest = 0;
    for (size_t i = 0; i < node->count; i++) {
        int depth = node_depth(node->items[i]);
        deepest = depth > deepest ? depth : deepest;
    }
    return deepest + (node->kind != NODE_SCALAR);
}

/* A case is a mapping, and can be written back and read again within the limits of reading. */
static enum status root_check(const struct tree *tree, struct errors *errors)
{
    if (tree->root->kind != NODE_MAPPING)
        return node_error(tree, tree->root, errors, "keys are wanted here: lines of \"key: value\"");
    if (node_depth(tree->root) > NODE_DEPTH)
        return tree_error(tree, 0, 0, 0, errors, "more than %d levels of lists and mappings", NODE_DEPTH);
    if (tree_text_length(tree) > NODE_TEXT_LIMIT)
        return tree_error(tree, 0, 0, 0, errors,
                          "with all includes and indentation the case is larger than 1 MiB");
    return STATUS_OK;
}

/* Zeroes a tree that failed; says so when memory is out. */
static enum status tree_finish(struct tree *tree, const char *name, enum status status, struct errors *errors)
{
    if (status == STATUS_MEMORY)
        errors_add(errors, status, name, 0, 0, "out of memory while reading");
    if (status != STATUS_OK)
        tree_free(tree);
    return status;
}

static enum status parse_content(struct tree *tree, const char *name, const char *content, size_t length,
                                 struct errors *errors)
{
    size_t nodes = 0;
    char *copy = memory_text_part(content, length);
    if (!copy || source_add(tree, name, "", copy, length) < 0)
        return STATUS_MEMORY;
    const struct source_file *file = &tree->files[0];
    enum status status = reader_parse(tree, 0, file->content, file->length, &nodes, &tree->root, errors);
    if (status == STATUS_OK)
        status = root_check(tree, errors);
    size_t include = status == STATUS_OK ? node_index(tree->root, "include") : 0;
    if (status == STATUS_OK && include < tree->root->count)
        status = node_error(tree, tree->root->keys[include], errors, "this file cannot include others");
    return status;
}

enum status tree_parse(const char *name, const char *content, size_t length, struct tree *tree,
                       struct errors *errors)
{
    *tree = (struct tree){0};
    if (length > NODE_TEXT_LIMIT)
        return errors_add(errors, STATUS_INPUT, name, 0, 0,
                          "the file is larger than 1 MiB, which no case needs");
    return tree_finish(tree, name, parse_content(tree, name, content, length, errors), errors);
}

/* Reads the file and all it includes into tree->root. */
static enum status read_files(struct tree *tree, const char *path, size_t *nodes, struct errors *errors)
{
    char real[PATH_MAX] = "", folder[PATH_MAX], *content;
    const char *why;
    size_t length;
    enum status status = source_read(path, 0, &content, &length, &why);
    if (status == STATUS_MEMORY)
        return status;
    if (status != STATUS_OK)
        return errors_add(errors, status, path, 0, 0, "%s", why);
    if (!realpath(path, real))
        real[0] = '\0'; /* standard input or another pipe */
    int found = include_folder(real, folder);
    if (source_add(tree, path, real, content, length) < 0)
        return STATUS_MEMORY;
    if (!found)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "its folder cannot be found");
    return include_parse(tree, 0, folder, nodes, &tree->root, errors);
}

enum status tree_read(const char *path, const char *const *sets, size_t set_count, struct tree *tree,
                      struct errors *errors)
{
    size_t nodes = 0;
    *tree = (struct tree){0};
    enum status status = read_files(tree, path, &nodes, errors);
    if (status == STATUS_OK)
        status = root_check(tree, errors);
    if (status == STATUS_OK)
        status = include_check_drops(tree, tree->root, errors);
    if (status == STATUS_OK) {
        for (size_t i = 0; i < set_count && status != STATUS_MEMORY; i++)
            status = status_worse(status, path_set_text(tree, sets[i], &nodes, errors));
    }
    if (status == STATUS_OK)
        status = root_check(tree, errors);
    return tree_finish(tree, path, status, errors);
}

enum status tree_copy(const struct tree *tree, struct tree *copy)
{
    *copy = (struct tree){.root = node_copy(tree->root)};
    enum status status = copy->root ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; i < tree->file_count && status == STATUS_OK; i++) {
        const struct source_file *from = &tree->files[i];
        char *content = memory_text_part(from->content, from->length);
        int file = content ? source_add(copy, from->name, from->path, content, from->length) : -1;
        status = file < 0 ? STATUS_MEMORY : STATUS_OK;
        if (status == STATUS_OK) {
            copy->files[file].included_from = from->included_from;
            copy->files[file].included_line = from->included_line;
        }
    }
    if (status != STATUS_OK)
        tree_free(copy);
    return status;
}
