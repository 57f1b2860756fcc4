#ifndef FOAMPULSE_SUPPORT_RANDOM_H
#define FOAMPULSE_SUPPORT_RANDOM_H

#include <stddef.h>
#include <stdint.h>

#include "solver/base/random.h"

/* Random numbers for tests, repeatable from a seed. */

/* Even between two values. */
double random_between(struct random *random, double low, double high);

/* 1 in `count` of the cases. */
int random_one_in(struct random *random, size_t count);

/* Seed from the environment variable FOAMPULSE_SEED; without it `fixed`, or from the clock when that is 0. */
uint64_t random_seed(uint64_t fixed);

/* Count from an environment variable, or `otherwise`. */
size_t random_count(const char *variable, size_t otherwise);

/* A start from random_seed(0), printed so that a failure can be repeated. */
struct random random_begin(void);

#endif
