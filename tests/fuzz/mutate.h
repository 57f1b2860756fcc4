#ifndef FOAMPULSE_FUZZ_MUTATE_H
#define FOAMPULSE_FUZZ_MUTATE_H

#include <stddef.h>

#include "tests/support/random.h"

/*
 * Random changes to files, repeatable from a seed.
 */

/* A file in memory while it is changed. */
struct content {
    unsigned char *bytes; /* (room) */
    size_t size, room;
};

/* One change as a fuzzer makes it: bits flipped, bytes set, pieces taken out, repeated, moved, or brought in
 * from `other` (NULL allowed). */
void mutate_bytes(struct random *random, struct content *content, const struct content *other);

/* One change as a person or a bad copy makes it in a text of lines: lines deleted, repeated, swapped, moved;
 * a number, unit or name changed; an indentation; a character lost or doubled; the file cut; a byte flipped.
 * Returns what was done, in a word. */
const char *mutate_text(struct random *random, struct content *content);

#endif
