#ifndef FOAMPULSE_CASES_FIELDS_H
#define FOAMPULSE_CASES_FIELDS_H

#include <stddef.h>

#include "cases/container.h"

/*
 * Tables that say how the members of a struct stand in a file, so that one walk writes them and one reads
 * them: as attributes of an object (one struct), or as columns of a group (an array of structs).
 */

enum field_kind {
    FIELD_INT,    /* int */
    FIELD_LONG,   /* long */
    FIELD_DOUBLE, /* double; stored = member x scale when scale is not 0 */
    FIELD_TEXT,   /* char[size] */
    FIELD_CHOICE  /* an enum, stored by its name */
};

struct field {
    const char *name, *units, *description;
    enum field_kind kind;
    size_t offset, size;              /* of the member */
    const char *(*choice)(int value); /* FIELD_CHOICE: name of a value, NULL beyond the last */
    double scale;                     /* FIELD_DOUBLE, when only written */
};

/* `struct` member as a field; the unit and text stand only at columns. */
#define FIELD(type, member, kind, name, units, description)                                                  \
    {                                                                                                        \
        name, units, description, kind, offsetof(type, member), sizeof(((type *)0)->member), NULL, 0         \
    }
#define FIELD_OF(type, member, choice, name, description)                                                    \
    {                                                                                                        \
        name, "1", description, FIELD_CHOICE, offsetof(type, member), sizeof(((type *)0)->member), choice, 0 \
    }
#define FIELD_SCALED(type, member, scale, name, units, description)                                          \
    {                                                                                                        \
        name, units, description, FIELD_DOUBLE, offsetof(type, member), sizeof(double), NULL, scale          \
    }

/* One struct as attributes of an object. */
void fields_put(struct container *container, const char *path, const struct field *fields, size_t field_count,
                const void *item);
void fields_get(struct container *container, const char *path, const struct field *fields, size_t field_count,
                void *item);

/* `count` structs as datasets of one dimension within a group. */
void fields_put_columns(struct container *container, const char *group, const struct field *fields,
                        size_t field_count, const void *items, size_t item_size, size_t count);

/* Reads them into a fresh block (memory_free) and gives their count; NULL after an error or when the group
 * holds no rows. */
void *fields_get_columns(struct container *container, const char *group, const struct field *fields,
                         size_t field_count, size_t item_size, size_t *count);

#endif
