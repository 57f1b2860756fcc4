#ifndef FOAMPULSE_CASES_FILL_PROGRAMMES_H
#define FOAMPULSE_CASES_FILL_PROGRAMMES_H

#include "cases/fill.h"

/*
 * Test programmes of standards: impacts and limits from data files.
 *
 * A file in cases/programmes/ (or one of the user's own, given by its path) lists tests; each strikes every
 * site on every anvil in every condition. Equal impacts, also those of the case itself, are solved once and
 * judged by each. Keys: cases/schema.c, groups PROGRAMME and TEST.
 */

/* Names of the programmes that come with the program. */
extern const char *const programme_names[];
extern const size_t programme_count;

/* Finds the file of a programme by one of these names. *path is fresh (memory_free), NULL when there is none.
 * STATUS_OK, STATUS_MEMORY. */
enum status programme_find(const char *name, char **path);

/* Whether a name of `programme:` is a path, of a file in the folder of the case or below. */
int programme_is_path(const char *name);

/* Reads the programmes that the case names and appends their impacts, tests and what they do not cover. After
 * fill_impacts. `mass` [kg] turns energies into speeds. */
void fill_programmes(struct fill *fill, double mass);

/* `limits: NAME`: the impacts of the case take the limits of the test of that programme with the same anvil
 * and speed, if there is one. */
void fill_limits_of(struct fill *fill, const struct node *name);

#endif
