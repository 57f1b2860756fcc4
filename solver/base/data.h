#ifndef FOAMPULSE_BASE_DATA_H
#define FOAMPULSE_BASE_DATA_H

#include "solver/base/status.h"

/*
 * Where data files are: materials, demo cases, and files that a case names.
 */

/* Finds the file `name` ("materials/eps.csv", or what a case says). Looked up beside the file `beside` (NULL:
 * left out), in $FOAMPULSE_DATA, in PREFIX/share/foampulse, in the source tree; an absolute name is taken as
 * it is. *path is fresh (memory_free), NULL when no such file is readable. STATUS_OK, STATUS_MEMORY. */
enum status data_find(const char *name, const char *beside, char **path);

/* What to tell the user when a file of the program itself is in none of these places. */
#define DATA_MISSING                                                                                         \
    "not found: set FOAMPULSE_DATA to the folder share/foampulse of an installation, or to the source tree"

#endif
