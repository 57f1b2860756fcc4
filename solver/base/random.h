#ifndef FOAMPULSE_BASE_RANDOM_H
#define FOAMPULSE_BASE_RANDOM_H

#include <stddef.h>
#include <stdint.h>

/*
 * Random numbers that a seed repeats on every machine: integers and exact scalings only.
 *
 * splitmix64: a counter in steps of 2^64 over the golden ratio, then a mixing of its bits (Steele, Lea and
 * Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, with the mixing constants of
 * Stafford's variant 13). Period 2^64. Not for secrets.
 */

/* The state of one stream; any start is good, neighbouring ones included: {seed}. */
struct random {
    uint64_t state;
};

/* The next 64 bits. */
uint64_t random_next(struct random *random);

/* Evenly from 0 to `count` - 1; 0 for count 0. The chance of a value is off by less than count/2^64. */
size_t random_below(struct random *random, size_t count);

/* Evenly between 0 and 1, both left out: (k + 1/2)/2^52, k of 52 bits. Its normal_quantile is a finite draw
 * from the standard normal distribution. */
double random_uniform(struct random *random);

#endif
