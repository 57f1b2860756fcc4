#ifndef FOAMPULSE_CASES_FACTOR_H
#define FOAMPULSE_CASES_FACTOR_H

#include "cases/node.h"
#include "solver/base/units.h"

/*
 * One thing that a study varies: a path of the case (cases/path.h) and the values it may take. Numbers keep
 * the unit that the user wrote, so that a value goes back into a case as the user would write it.
 */

enum {
    FACTOR_PATH = 200,
    FACTOR_TEXT = 64,      /* longest value as text */
    FACTORS_MOST = 64,     /* of one study */
    FACTOR_LEVELS = 100000 /* of one factor */
};

struct factor {
    char path[FACTOR_PATH];
    char unit[UNITS_NAME]; /* of its numbers as the user wrote it; "" for none and for texts */
    double low, high;      /* smallest and largest number, in that unit; of texts 0 and level_count - 1 */
    size_t level_count;    /* 0: any number from low to high */
    double *levels;        /* (level_count) numbers in the order given; of texts 0, 1, 2 ... */
    char (*texts)[FACTOR_TEXT];     /* (level_count) what the levels stand for; NULL for numbers */
    const struct node *key, *given; /* its path and its values in the case; NULL where there is none */
};

/* Reads {from, to}, {from, to, step}, {from, to, count} or a list of values, whose keys are known to be sound
 * (schema group VARY). Both ends belong to the range; all numbers of a factor are in one unit. Faults are
 * added at their place: STATUS_INPUT, or STATUS_MEMORY; the factor is then zeroed. */
enum status factor_read(const struct tree *tree, const struct node *path, const struct node *value,
                        struct factor *factor, struct errors *errors);

/* The value at a share of the way through the factor's range, 0 <= share < 1: one of its levels, each with
 * the same part of the way, or any number between its ends. */
double factor_at(const struct factor *factor, double share);

/* The same the other way round: where a value lies between low and high, 0 to 1; for texts the middle of
 * their part. */
double factor_share(const struct factor *factor, double value);

/* A value as a case would write it: "47.5 kg/m3", "eps"; "as written" for NaN, what the case has. */
void factor_write(const struct factor *factor, double value, char text[FACTOR_TEXT]);

enum { FACTOR_LABEL = 96 };

/* What tables and pictures call a factor: its path without the words that say nothing, "crown 1 density" for
 * liner.crown.layers.1.density; of several paths the first and "...". Without the unit. */
void factor_label(const struct factor *factor, char text[FACTOR_LABEL]);

/* Levels for a factor without: the multiples of `step`, in its unit, between low and high. STATUS_INPUT:
 * there is none, or more than FACTOR_LEVELS; STATUS_MEMORY. The factor is then as before. */
enum status factor_step(struct factor *factor, double step);

/* Where the case gives a value: the item of a list, the end of a range. NULL where there is no case. */
const struct node *factor_place(const struct factor *factor, double value);

/* Deep copy; its places stay those of the case. On STATUS_MEMORY the copy is zeroed. */
enum status factor_copy(const struct factor *factor, struct factor *copy);

/* Level of a text, which is added when it is not there; a factor of texts. STATUS_MEMORY. */
enum status factor_level(struct factor *factor, const char *text, double *level);

/* Releases the levels and zeroes; {0} is allowed. */
void factor_free(struct factor *factor);
void factors_free(struct factor **factors, size_t *count);

#endif
