#ifndef FOAMPULSE_FUZZ_MUTATE_H
#define FOAMPULSE_FUZZ_MUTATE_H

#include <stddef.h>
#include <stdint.h>

/*
 * Random changes to files, repeatable from a seed.
 */

/* splitmix64 (Steele, Lea and Flood 2014); any start is good. */
struct random {
    uint64_t state;
};

uint64_t random_next(struct random *random);

/* From 0 to `count` - 1; 0 for count 0. */
size_t random_below(struct random *random, size_t count);

/* Even between two values. */
double random_between(struct random *random, double low, double high);

/* 1 in `count` of the cases. */
int random_one_in(struct random *random, size_t count);

/* Seed from the environment variable FOAMPULSE_SEED; without it `fixed`, or from the clock when that is 0. */
uint64_t random_seed(uint64_t fixed);

/* Count from an environment variable, or `otherwise`. */
size_t random_count(const char *variable, size_t otherwise);

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
