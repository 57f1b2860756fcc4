#ifndef FOAMPULSE_STUDY_FORECAST_H
#define FOAMPULSE_STUDY_FORECAST_H

#include <stddef.h>
#include <stdint.h>

#include "solver/base/status.h"
#include "solver/study/surrogate.h"

/*
 * What runs gave, and what Gaussian processes through them (solver/study/surrogate) let expect elsewhere.
 *
 * A run gives numbers, its outputs, in groups. The value of a group is the least of its outputs: the worst
 * margin is the least of those of all impacts. The value of group 0 is to be large; groups above 0 are
 * constraints, whose value has to be 0 or more. Points lie in the unit cube.
 *
 * Outputs that were the least of their group at some point have a surrogate each, the twelve that were so
 * most often; the least of all others of the group has one. The minimum of smooth functions has kinks, which
 * a surrogate of its own learns slowly. Runs that failed give a further surrogate, of 1 where a run succeeded
 * and -1 where not.
 *
 * Values of group 0 below the median of its values are drawn together logarithmically before they are fitted:
 * where a liner bottoms out margins fall without bound, and what a surrogate learned there would not help
 * where they are large.
 */

enum { FORECAST_SINGLE = 12 /* outputs of a group with a surrogate of their own */ };

enum forecast_state {
    FORECAST_TOLD,
    FORECAST_FAILED,  /* the run gave nothing */
    FORECAST_PENDING, /* asked for; stands with what is expected of it */
    FORECAST_PARTIAL  /* not run, some outputs are known without */
};

/* A surrogate of one output or of the least of several. */
struct forecast_model {
    int group;     /* group_count: whether a run succeeds */
    size_t output; /* SIZE_MAX: the least of the group's outputs without one of their own */
    struct surrogate surrogate;
};

/* Lengths and variances as last fitted, by column: outputs, then the rest of each group, then success. */
struct forecast_kept {
    size_t count; /* of points then; 0: never */
    double variance, noise;
    double *lengths; /* (factors) */
};

struct forecast {
    size_t factor_count, output_count, group_count;
    int lump; /* one surrogate a group, of its value */
    uint64_t seed;
    size_t since; /* points before this one are left out of what is fitted */
    int *groups;  /* (output_count) */
    size_t count, room;
    double *points;              /* (count x factors) */
    double *outputs;             /* (count x outputs), NaN where one does not apply */
    enum forecast_state *states; /* (count) */
    unsigned char *single;       /* (outputs) has a surrogate of its own */
    size_t model_count;
    struct forecast_model *models; /* (output_count + group_count + 1) */
    struct forecast_kept *kept;    /* (output_count + group_count + 1) */
    double *lengths;               /* owned, of `kept` */
    double median, spread;         /* of the values of group 0, spread: largest less median */
    double best;                   /* largest value of group 0 where all constraints hold; NaN for none */
};

/* Empty; `groups` (output_count) is copied, NULL: all 0. STATUS_MEMORY: zeroed. */
enum status forecast_begin(size_t factors, size_t outputs, const int *groups, size_t group_count,
                           struct forecast *forecast);

/* Adds a point; outputs NULL: all NaN. STATUS_MEMORY. */
enum status forecast_add(struct forecast *forecast, const double *point, const double *outputs,
                         enum forecast_state state);

/* Value of a group at point `at`; NaN where none of its outputs applies. */
double forecast_value(const struct forecast *forecast, size_t at, int group);

/* Whether point `at` was run, has a value and keeps all constraints. */
int forecast_allowed(const struct forecast *forecast, size_t at);

/* Makes the surrogates of all points, pending ones aside. Lengths are fitted anew when there are a tenth more
 * points than at the last fit. STATUS_COMPUTATION with fewer than two points that were told, STATUS_MEMORY.
 */
enum status forecast_fit(struct forecast *forecast);

/* Leaves all points there are out of what is fitted from now on. */
void forecast_forget(struct forecast *forecast);

/* The point with the largest value of group 0 where all constraints hold, from `since` on; -1 for none. */
long forecast_best(const struct forecast *forecast, size_t since);

/* Takes point `at`, pending, into the surrogates with what they expect there (Ginsbourger, Le Riche and
 * Carraro 2010, the kriging believer): a further point is then sought elsewhere. STATUS_MEMORY. */
enum status forecast_believe(struct forecast *forecast, size_t at);

/* What is expected at n points (n x factors), each (n), NULL if not wanted. STATUS_MEMORY.
 * improvement: of group 0 on `best`, times `chance`; where there is no best, `chance` alone.
 * chance: that all constraints hold and the run succeeds.
 * value: least of the means of group 0. */
enum status forecast_expect(const struct forecast *forecast, size_t n, const double *points,
                            double *improvement, double *chance, double *value);

/* Expected improvement on `best` of the least of `count` independent normal variables: the integral over t
 * from `best` on of prod_i P(variable i > t). For one variable eq. 15 of Jones, Schonlau and Welch, J. Global
 * Optimization 13 (1998) 455-492. Relative error below 1e-4 down to 1e-12 deviations. */
double forecast_improvement(size_t count, const double *mean, const double *deviation, double best);

/* Releases everything and zeroes; {0} is allowed. */
void forecast_free(struct forecast *forecast);

#endif
