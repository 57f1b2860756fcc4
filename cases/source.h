#ifndef FOAMPULSE_CASES_SOURCE_H
#define FOAMPULSE_CASES_SOURCE_H

#include <stddef.h>

#include "cases/node.h"
#include "solver/base/status.h"

/* Adds a file to the tree, which takes `content` (memory, NUL behind `length` bytes) over, also on failure. A
 * byte order mark is dropped. Returns its index, -1 when memory is out. */
int source_add(struct tree *tree, const char *name, const char *path, char *content, size_t length);

/* Reads a whole file of at most 1 MiB ("-": standard input) into fresh memory. On failure *content is NULL
 * and `why` says what is wrong: STATUS_FILE (missing, a folder, not readable), STATUS_INPUT (too large),
 * STATUS_MEMORY. With `plain`, anything but an ordinary file is refused too. */
enum status source_read(const char *path, int plain, char **content, size_t *length, const char **why);

#endif
