#ifndef FOAMPULSE_CASES_INCLUDE_H
#define FOAMPULSE_CASES_INCLUDE_H

#include <limits.h>
#include <stddef.h>

#include "cases/node.h"
#include "solver/base/status.h"

enum { INCLUDE_FILES = 64 };

/*
 * `include:` at the top of a file: a path or a list of paths, relative to that file, within the folder tree
 * of the case. Later files win over earlier ones, the including file over all.
 */

/* Parses file `file` of the tree, reads and merges what it includes into *root. `folder`: absolute path of
 * the case's folder, without links. `nodes` counts all nodes of the tree. On errors *root is NULL;
 * STATUS_MEMORY adds no message. */
enum status include_parse(struct tree *tree, int file, const char *folder, size_t *nodes, struct node **root,
                          struct errors *errors);

/* Absolute path of the folder of a file without links; that of the program for "", standard input. 1, or 0
 * when there is none. */
int include_folder(const char *real, char folder[PATH_MAX]);

/* Adds the file that a scalar of the tree names, under the rules of `include`, without parsing it: its index
 * in *file. A value of --set stands for one of the case file. STATUS_MEMORY adds no message. */
enum status include_add(struct tree *tree, const struct node *node, struct errors *errors, int *file);

/* Merges `over` into `base`, both mappings. Mappings merge at every depth; `regions`, `sites` and `sizes`
 * written as lists merge by `name`; all else is replaced whole. `drop: true` in a value or named item takes
 * the one of that key or name out of `base`. An item new to a list comes behind the one it follows in `over`,
 * or first, since the first region that matches wins. Takes nodes out of `over`, which the caller then frees.
 */
enum status include_merge(const struct tree *tree, struct node *base, struct node *over,
                          struct errors *errors);

/* Refuses every `drop` that is left in a merged tree. */
enum status include_check_drops(const struct tree *tree, const struct node *node, struct errors *errors);

#endif
