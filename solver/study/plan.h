#ifndef FOAMPULSE_STUDY_PLAN_H
#define FOAMPULSE_STUDY_PLAN_H

#include "cases/case.h"
#include "cases/result.h"

/*
 * The tests of a case as a laboratory does them: which helmets are needed, and what strikes each, the worst
 * predicted margin first.
 *
 * A sample is one helmet of one size, conditioned in one way. It is struck at a point once; the hits of one
 * impact are one strike. Points count as one where they lie nearer to each other than `apart`, directly or by
 * way of points between them. A group is all tests of one size and conditioning; its samples are as few as
 * these rules allow, and the first of them takes the worst tests.
 */

/* Points nearer than this along the inner face of the shell are one [m], where no programme says how far
 * apart they lie. A choice of this program, no source. */
extern const double plan_apart;

/* One impact. */
struct plan_test {
    const struct hit_result *hits; /* (hit_count) in the result */
    size_t hit_count;
    const struct hit_result *governs;  /* the hit of least margin; else the one of the largest peak */
    const struct judgement *judgement; /* its limit of least margin; NULL without limit or prediction */
    const struct hit_result *missing;  /* the first hit that was not computed; NULL */
    double margin; /* what the order goes by: undecided counts as none left, no limit or prediction is
                      INFINITY */
    const struct case_impact *impact;
    const struct case_file *helmet;
    size_t group, point, sample; /* indices; points count within their group */
};

/* Tests of one size and conditioning. */
struct plan_group {
    const struct case_file *helmet;
    char condition[16]; /* "" where the case gives a temperature only */
    double temperature; /* [degC] */
    int wet;
    size_t most;  /* impacts that one sample takes; 0: any number */
    double apart; /* [m] */
    size_t test_count, sample_count;
};

struct plan_sample {
    size_t group;
    size_t first, count; /* of its tests, which stand together */
};

struct plan {
    size_t test_count, group_count, sample_count, rule_count;
    struct plan_test *tests;     /* by sample, within it by margin */
    struct plan_group *groups;   /* in the order of the case */
    struct plan_sample *samples; /* by margin */
    /* (rule_count) a test of each programme that says what one helmet takes */
    const struct case_test *rules[CASE_PROGRAMMES];
};

/* Plans the tests of a case with the predictions of its result; both have to live as long as the plan. On
 * errors the plan is zeroed. STATUS_OK, STATUS_MEMORY. */
enum status plan_make(const struct case_file *file, const struct case_result *result, struct plan *plan);

/* Shares out `count` strikes, the most urgent first, to samples of which none is struck twice at a point
 * (`point`, below `count`) nor more than `most` times (0: any number): `sample` gets 0, 1, ..., and
 * *sample_count their number. It is the least possible: the largest number of strikes at one point, or
 * count / most where that is more. STATUS_OK, STATUS_MEMORY. */
enum status plan_pack(const size_t *point, size_t count, size_t most, size_t *sample, size_t *sample_count);

/* Releases and zeroes; {0} is allowed. */
void plan_free(struct plan *plan);

#endif
