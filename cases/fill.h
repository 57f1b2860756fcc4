#ifndef FOAMPULSE_CASES_FILL_H
#define FOAMPULSE_CASES_FILL_H

#include "cases/case.h"
#include "cases/schema.h"
#include "materials/registry.h"

/*
 * Filling a case from its checked tree: what the parts (fill_*) share.
 *
 * A part reads keys that schema_check has found sound, so only what keys mean together is left to check. A
 * fault is added to `errors` and filling goes on, so that one reading shows all of them; the values then left
 * behind are NaN or zero and the case is thrown away at the end.
 */

struct fill {
    struct case_file *file;
    const struct node *root;
    struct registry registry; /* foams of the data files */
    struct errors *errors;
    int out_of_memory;
    const struct node *sizes;       /* names of the sizes of a family, a mapping; NULL for one helmet */
    const struct node *size;        /* the size that is filled, a mapping; NULL for the case as written */
    const struct case_file *family; /* the case as written, already filled, when a size is */
};

/* Zeroed block; on failure NULL, and the case ends in STATUS_MEMORY. */
void *fill_block(struct fill *fill, size_t count, size_t size);

/* Copy of a text; same on failure. */
char *fill_text(struct fill *fill, const char *text);

/* Copies a name, cut to fit. */
void fill_name(char name[CASE_NAME], const char *text);

/* Reads a direction [elevation, azimuth] as the key `name` of whatever form; 1 when sound, with angles in
 * rad. */
int fill_direction(struct fill *fill, const struct node *value, const char *name, double direction[2]);

/* Reads one value against a row of its own (for lists of pairs); 1 when sound. */
int fill_value(struct fill *fill, const struct node *value, const char *name, enum quantity quantity,
               double low, double high, double *si);

/* Adds "`KEY` is missing" at the mapping when it has no such key; 1 when it has. */
int fill_required(struct fill *fill, const struct node *mapping, const char *key);

/* Adds "`A` and `B` exclude each other" at the key `b` when a mapping has both; 1 when it has not. */
int fill_exclusive(struct fill *fill, const struct node *mapping, const char *a, const char *b);

#endif
