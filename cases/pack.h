#ifndef FOAMPULSE_CASES_PACK_H
#define FOAMPULSE_CASES_PACK_H

#include <stddef.h>
#include <stdint.h>

#include "cases/result.h"

/*
 * Numbers, texts and solved hits as bytes, for the payload of a journal (cases/journal). Integers and IEEE
 * doubles take 8 bytes each, little-endian, nothing between them; a text is its length and its bytes. Bytes
 * read back may come from anywhere: lengths are held against what is there before they are believed.
 */

/* Bytes being written; {0} is empty. The first failure sticks: later calls do nothing. */
struct pack {
    unsigned char *bytes; /* memory_free */
    size_t length, room;
    int out_of_memory;
};

void pack_integer(struct pack *pack, uint64_t value);
void pack_doubles(struct pack *pack, const double *values, size_t count);
void pack_text(struct pack *pack, const char *text);

/* Bytes being read. The first failure sticks: later calls give 0, "" and NULL. */
struct unpack {
    const unsigned char *at;
    size_t left;
    int bad, out_of_memory;
};

uint64_t unpack_integer(struct unpack *unpack);
void unpack_doubles(struct unpack *unpack, double *values, size_t count);
/* A text that does not fit with its NUL is bad. */
void unpack_text(struct unpack *unpack, char *text, size_t size);

/* What solving an impact made of its hits: status, message, wall time, output with all histories. What the
 * case says of them and what judging makes of them is not there. */
void pack_hits(struct pack *pack, const struct hit_result *hits, size_t count);

/* Sets those members of `count` hits, which own no output yet. STATUS_INPUT when the bytes are not those of
 * so many hits, or more follows; STATUS_MEMORY. Then the hits own no output. */
enum status unpack_hits(struct unpack *unpack, struct hit_result *hits, size_t count);

#endif
