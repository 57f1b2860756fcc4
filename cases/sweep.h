#ifndef FOAMPULSE_CASES_SWEEP_H
#define FOAMPULSE_CASES_SWEEP_H

#include "cases/pack.h"
#include "cases/result.h"
#include "solver/base/digest.h"

/*
 * Many layouts of one case and what they give: one row a point. Made by study/explore for `sweep`, `tune` and
 * `tolerance`, written and read back by cases/store_sweep, ranked, drawn and printed. Plain data.
 *
 * Of a point only what compares layouts is kept: metrics and margin of every hit, mass, verdict. Its pulses
 * come from running its layout.
 */

enum sweep_status {
    SWEEP_COMPUTED, /* no hit failed; a hit may be "not computed" for want of data */
    SWEEP_FAILED,   /* a hit failed, or its result could not be kept */
    SWEEP_REFUSED   /* no sound case: its values exclude each other */
};

/* "computed", "failed", "refused"; NULL beyond. */
const char *sweep_status_text(int status);

struct sweep_point {
    long number; /* in the sample, from 1; 0: of an earlier sample of the same sweep. Of a tolerance study
                  * the first row is the case as written, number 0 */
    enum sweep_status status;
    char *message;                        /* why it failed or was refused; NULL */
    unsigned char identity[DIGEST_BYTES]; /* of all that the row depends on (solver/study/identity.h) */
    struct mass_by_part mass;             /* of a family its heaviest helmet; NaN in all for a pad */
    enum verdict verdict;
    double worst_margin; /* least over the hits; NaN for none */
    int worst_hit;       /* column of it, -1 for none */
    int worst_metric;    /* enum metric of it, -1 for none */
    double stroke_left;  /* least 1 - crush_fraction of the hits; NaN for none */
    char *why;           /* of the worst hit: "bottoms out, crown 2"; NULL for none */
};

struct sweep {
    char *title, *case_text; /* of the case as written */
    char case_hash[33];
    char frame[DIGEST_HEX]; /* hash of the case without what varies, of the factors' paths and units, of
                             * program, compiler and model: sweeps with the same can be put together */
    char model[16];
    char sample[16];                  /* grid, latin, sobol, tune, tolerance */
    long seed, asked;                 /* asked: points of the whole sample */
    double target, helmet_mass_limit; /* NaN */
    size_t note_count, warning_count, not_covered_count;
    char **notes, **warnings, **not_covered; /* notes: assumptions of the case as written */
    size_t factor_count;
    struct factor *factors;
    size_t hit_count;
    struct hit_result *hits; /* (hit_count) conditions of the case as written; without outcome */
    double *limits;          /* (hit_count x METRIC_COUNT) the strictest of each metric; NaN for none */
    size_t point_count;
    struct sweep_point *points;
    double *values;        /* (point_count x factor_count) in the unit of the factor; texts: their level; NaN
                            * leaves what the case has */
    double *metrics;       /* (point_count x hit_count x METRIC_COUNT); NaN where not computed */
    double *margins;       /* (point_count x hit_count) least over its limits; NaN */
    unsigned char *states; /* (point_count x hit_count) enum hit_status */
};

/* Rows for `count` points more, zeroed; values and metrics NaN. STATUS_MEMORY: the sweep is as before. */
enum status sweep_extend(struct sweep *sweep, size_t count);

/* Where the columns of one point start. */
double *sweep_values(const struct sweep *sweep, size_t point);
double *sweep_metrics(const struct sweep *sweep, size_t point, size_t hit);
double *sweep_margins(const struct sweep *sweep, size_t point);

/* Fills point `at` from a solved case with as many hits. STATUS_MEMORY. */
enum status sweep_take(struct sweep *sweep, size_t at, const struct case_result *result);

/* One point as the payload of a journal, and back. STATUS_INPUT when the bytes are not those of a point with
 * so many hits; STATUS_MEMORY. Number, identity and values are not in it. */
void sweep_pack(const struct sweep *sweep, size_t at, struct pack *pack);
enum status sweep_unpack(struct sweep *sweep, size_t at, struct unpack *unpack);

/* A sweep of the same case, factors and hits without points. On STATUS_MEMORY it is zeroed. */
enum status sweep_like(const struct sweep *sweep, struct sweep *empty);

/* Copies what solving a point gave, not its number and values, from another sweep of the same hits. */
enum status sweep_copy_point(const struct sweep *from, size_t at, struct sweep *to, size_t to_at);

/* The points in their order by worst margin, the best first, those with more hits not computed behind those
 * with fewer; behind them those where something is undecided, then those without a margin: (point_count)
 * indices, memory_free. NULL when memory is out. */
size_t *sweep_order(const struct sweep *sweep);

/* Releases everything and zeroes; {0} is allowed. */
void sweep_free(struct sweep *sweep);

#endif
