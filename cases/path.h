#ifndef FOAMPULSE_CASES_PATH_H
#define FOAMPULSE_CASES_PATH_H

#include "cases/node.h"
#include "solver/base/status.h"

/*
 * Paths into a case, as --set, `sizes`, `vary` and `scatter` write them.
 *
 * Parts are parted by dots. A part is a key, the number of a list item (from 1), the `name` of a list item,
 * or
 * `*` for all items or values. Below `liner` a name that is no key is a region, and `*` is every region. Keys
 * that hold dots themselves are found. "A + B" names both. A key that is not there yet is made, with mappings
 * down to the last part: what it may be called, the schema says. One that looks like a slip for a key beside
 * it, any item and any region that is not there is an error that names the nearest. Behind `*` no mapping is
 * made: items without the rest of the path are passed over as long as one
 * has it.
 */

enum { PATH_PLACE = 200 }; /* longest path of a place, with its NUL */

/* One place of a case that a path names. */
struct path_place {
    char path[PATH_PLACE]; /* names it alone, without `*` */
    const struct node *value;
};

/* Finds the places that `path` names, in its order: (count) places, memory_free. A value that is not written
 * in the case has no place, and is an error unless it stands behind `*`. STATUS_INPUT, STATUS_USAGE,
 * STATUS_MEMORY (adds no message): *places is NULL. */
enum status path_find(const struct tree *tree, const struct node *place, const char *path,
                      struct path_place **places, size_t *count, struct errors *errors);

/* Sets every place that `path` names to a copy of `value`. `place` is where the path stands, for messages: a
 * node whose text starts with the path, or any other. STATUS_MEMORY adds no message. */
enum status path_set(struct tree *tree, const struct node *place, const char *path, const struct node *value,
                     struct errors *errors);

/* Parses and applies one "PATH=VALUE" of the command line, VALUE in flow style; it becomes a file of the
 * tree. `nodes` counts all nodes of the tree. STATUS_MEMORY adds no message. */
enum status path_set_text(struct tree *tree, const char *text, size_t *nodes, struct errors *errors);

#endif
