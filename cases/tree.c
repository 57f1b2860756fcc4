#include "cases/node.h"

#include <string.h>

#include "cases/reader.h"
#include "cases/source.h"
#include "solver/base/memory.h"

static enum status refuse_memory(const char *name, struct errors *errors)
{
    return errors_add(errors, STATUS_MEMORY, name, 0, 0, "out of memory while reading");
}

/* A case is a mapping, and can be written back within the limits of reading. */
static enum status root_check(const struct tree *tree, struct errors *errors)
{
    if (tree->root->kind != NODE_MAPPING)
        return node_error(tree, tree->root, errors, "keys are wanted here: lines of \"key: value\"");
    if (tree_text_length(tree) > NODE_TEXT_LIMIT)
        return tree_error(tree, 0, 0, 0, errors,
                          "with all includes and indentation the case is larger than 1 MiB");
    return STATUS_OK;
}

enum status tree_parse(const char *name, const char *content, size_t length, struct tree *tree,
                       struct errors *errors)
{
    size_t nodes = 0;
    enum status status;
    *tree = (struct tree){0};
    if (length > NODE_TEXT_LIMIT)
        return errors_add(errors, STATUS_INPUT, name, 0, 0,
                          "the file is larger than 1 MiB, which no case needs");
    char *copy = memory_text_part(content, length);
    if (!copy || source_add(tree, name, name, copy, length) < 0) {
        status = refuse_memory(name, errors);
        goto done;
    }
    status =
        reader_parse(tree, 0, tree->files[0].content, tree->files[0].length, &nodes, &tree->root, errors);
    if (status == STATUS_OK)
        status = root_check(tree, errors);
    if (status == STATUS_OK && node_get(tree->root, "include"))
        status = node_error(tree, node_get(tree->root, "include"), errors, "this file cannot include others");
done:
    if (status != STATUS_OK)
        tree_free(tree);
    return status;
}

enum status tree_read(const char *path, const char *const *sets, size_t set_count, struct tree *tree,
                      struct errors *errors)
{
    size_t nodes = 0, length;
    char *content;
    const char *why;
    *tree = (struct tree){0};
    (void)sets;
    (void)set_count;
    enum status status = source_read(path, 0, &content, &length, &why);
    if (status != STATUS_OK)
        return errors_add(errors, status, path, 0, 0, "%s", why);
    if (source_add(tree, path, path, content, length) < 0) {
        status = refuse_memory(path, errors);
        goto done;
    }
    status =
        reader_parse(tree, 0, tree->files[0].content, tree->files[0].length, &nodes, &tree->root, errors);
    if (status == STATUS_OK)
        status = root_check(tree, errors);
done:
    if (status != STATUS_OK)
        tree_free(tree);
    return status;
}
