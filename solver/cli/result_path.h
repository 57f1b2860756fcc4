#ifndef FOAMPULSE_CLI_RESULT_PATH_H
#define FOAMPULSE_CLI_RESULT_PATH_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * Where the result of each case goes: CASE.h5, or CASE.MODEL.h5 where a case is solved by several models,
 * beside the case, or where --output says. CASE is the name of
 * the case file without .yaml or .yml; standard input is called `stdin`, and has a file only when one is
 * asked for.
 */

/* Fills `paths` (count) with fresh texts, "" where no file is to be written. `models` (count), NULL for none,
 * tell the results of one case apart. `output` is NULL, a file, or a
 * folder (ends in / or is there); several cases need a folder. On an error all are NULL. STATUS_USAGE also
 * when two cases would share a file, or a result would take the place of a case; STATUS_MEMORY. */
enum status result_paths(const char *const *cases, const char *const *models, size_t count,
                         const char *output, char **paths, struct errors *errors);

#endif
