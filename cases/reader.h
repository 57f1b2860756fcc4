#ifndef FOAMPULSE_CASES_READER_H
#define FOAMPULSE_CASES_READER_H

#include <stddef.h>

#include "cases/node.h"
#include "solver/base/status.h"

/* Parses `content` into a fresh tree of nodes. Places and messages are those of file `file` of `tree`, whose
 * content has the same lines and columns. `nodes` counts all nodes of a tree over several calls. On errors
 * *root is NULL and the worst status is returned; STATUS_MEMORY adds no message. Any kind of root is allowed;
 * an empty text is an error. */
enum status reader_parse(const struct tree *tree, int file, const char *content, size_t length, size_t *nodes,
                         struct node **root, struct errors *errors);

#endif
