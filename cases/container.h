#ifndef FOAMPULSE_CASES_CONTAINER_H
#define FOAMPULSE_CASES_CONTAINER_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * HDF5 without HDF5's faces: groups, attributes and arrays of four kinds of value, built and read in memory.
 * No other file knows that library.
 *
 * Rules kept here: no times in the file (equal content gives equal bytes), texts of fixed length, `units` and
 * `description` at every dataset, Fletcher-32 checksums and compression on arrays, every close checked. The
 * first error sticks: later calls do nothing, and the end reports it.
 */

enum value_kind {
    VALUE_INT,    /* int, stored as 32 bits */
    VALUE_LONG,   /* long, stored as 64 bits */
    VALUE_DOUBLE, /* IEEE 754 double */
    VALUE_TEXT    /* `text_size` bytes each, UTF-8, filled up with NUL; may be full */
};

/* An array: rank 0 (one value), 1 or 2, row by row. */
struct values {
    enum value_kind kind;
    size_t text_size; /* VALUE_TEXT only, at least 1 */
    int rank;
    size_t extent[2];
    const void *data; /* owned by whoever made it */
};

/* Number of values. */
size_t values_count(const struct values *values);

struct container;

/* --- writing --- */

/* An empty file in memory; NULL when memory is out. */
struct container *container_new(void);

/* Adds a group; its parent must exist. Paths start with '/'. */
void container_group(struct container *container, const char *path);

/* Adds an attribute of one value to a group, dataset or "/". */
void container_attribute_text(struct container *container, const char *path, const char *name,
                              const char *text);
void container_attribute(struct container *container, const char *path, const char *name,
                         enum value_kind kind, const void *value);

/* Adds a dataset. `units` as UDUNITS reads them, "1" for counts and texts. */
void container_array(struct container *container, const char *path, const char *units,
                     const char *description, const struct values *values);

/* Makes a dataset a dimension scale under this name, and attaches one to a dimension of a dataset. */
void container_scale(struct container *container, const char *path, const char *name);
void container_attach(struct container *container, const char *path, const char *scale, int dimension);

/* Closes the file and hands out its bytes (memory_free), sealed with `kind` (cases/probe.h). Adds the root
 * attribute `content_hash`: SHA-256 of a text with one line "SHA256 KIND EXTENT PATH" for each dataset and
 * attribute outside /run, sorted by bytes, each ended by a line feed. SHA256 is that of the raw values,
 * little-endian, row by row, texts at their fixed length; KIND is int32, int64, float64 or text; EXTENT is
 * "scalar", "n" or "nxm"; an attribute's PATH is OBJECT@NAME. The attributes that make dimension scales are
 * left out. Frees the container in any case. */
enum status container_end(struct container *container, const char *kind, unsigned char **bytes,
                          size_t *length, struct errors *errors);

/* --- reading --- */

/* Opens bytes of a whole file (with its block of 512), which must outlive the container. NULL when
 * memory is out. Only for bytes that probe_try let pass, or inside it. */
struct container *container_open(const unsigned char *bytes, size_t length);

/* 1 when a group or dataset stands under this path; 0 after an error. */
int container_has(struct container *container, const char *path);

/* Whether an object has an attribute of this name. */
int container_has_attribute(struct container *container, const char *path, const char *name);

/* Reads an attribute; a text is cut off nowhere: one that does not fit is an error. */
void container_get_text(struct container *container, const char *path, const char *name, char *text,
                        size_t size);
void container_get(struct container *container, const char *path, const char *name, enum value_kind kind,
                   void *value);

/* Reads a dataset of this kind and rank whole into a fresh block (memory_free `data`), NULL after an error.
 */
void *container_get_array(struct container *container, const char *path, enum value_kind kind, int rank,
                          struct values *values);

/* Records an error that the caller found: bad content, or no memory. */
void container_bad(struct container *container, const char *path, const char *what);
void container_out_of_memory(struct container *container);

/* First error so far, STATUS_OK if none. */
enum status container_status(const struct container *container);

/* Closes and frees; reports the first error, its text naming the object. NULL is STATUS_MEMORY. */
enum status container_close(struct container *container, struct errors *errors);

#endif
