#ifndef FOAMPULSE_IMPACT_RECORD_H
#define FOAMPULSE_IMPACT_RECORD_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * The record of one impact at even intervals, whatever the time steps are: step 7 of the life of a run, with
 * solver/impact/history.
 *
 * Two sorts of channels. A mean channel (forces) holds the mean over each interval: a force that is constant
 * during a step is shared out over the intervals the step touches, so that the sum of means x interval is the
 * impulse that the solver applied, and nothing aliases. A sample channel (positions) holds the value at the
 * end of each interval, linear within the step.
 */

#define RECORD_INTERVAL 10e-6 /* [s] */

struct record {
    double interval; /* [s] */
    size_t room;     /* intervals there is room for */
    size_t count;    /* intervals that are complete */
    size_t mean_count, sample_count;
    double time;      /* end of the last step [s] */
    double *integral; /* (mean_count x room) integral over each interval */
    double *sample;   /* (sample_count x room) value at the end of each interval */
    double *last;     /* (sample_count) values at `time` */
};

/* Makes a record from time 0 to `duration` [s]. `start` (sample_count) are the sample channels at time 0.
 * STATUS_MEMORY: the record is zeroed. */
enum status record_create(struct record *record, double interval, double duration, size_t mean_count,
                          size_t sample_count, const double *start);

/* Adds a step from `time` to `to` [s], of any length: `mean` (mean_count) held during the step, `sample`
 * (sample_count) reached at its end. What lies beyond the duration is dropped. */
void record_step(struct record *record, double to, const double *mean, const double *sample);

/* 1 when a step to `to` [s] completes an interval, so that its samples and those before it are read; the
 * samples of other steps need not be known. */
int record_due(const struct record *record, double to);

/* Writes the (count) means of a mean channel times `scale`, 1/mass for instance, into `values`. */
void record_means(const struct record *record, size_t channel, double scale, double *values);

/* The (count) samples of a sample channel, owned by the record. */
const double *record_samples(const struct record *record, size_t channel);

/* Releases and zeroes; {0} is allowed. */
void record_free(struct record *record);

#endif
