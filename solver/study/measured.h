#ifndef FOAMPULSE_STUDY_MEASURED_H
#define FOAMPULSE_STUDY_MEASURED_H

#include <stddef.h>

#include "cases/result.h"
#include "solver/base/status.h"
#include "solver/impact/metrics.h"

/*
 * Measured pulses: files of a laboratory to the metrics that `run` predicts, their scatter, and limits held
 * against them.
 *
 * A file has one column of time (s, ms, us) and one to three of acceleration (g, m/s2), told by the units in
 * their names; several make the resultant. Columns named resultant, magnitude or unfiltered are left out when
 * there are others. Each channel is filtered CFC 1000 before the resultant is taken (SAE J211-1).
 */

enum { MEASURED_AXES = 3, MEASURED_SAMPLES = 4000000, MEASURED_LEAST = 10, MEASURED_NOTES = 6, NOTE = 192 };

#define MEASURED_FACTOR            2.4 /* k of mean + k s */
#define MEASURED_FACTOR_PROVENANCE "from memory, unchecked: production tests of UN Regulation 22"

struct measured_pulse {
    char file[ERROR_FILE]; /* as the user wrote it */
    size_t samples, channels;
    double interval; /* [s] */
    double touch;    /* [s] on the clock of the file: where the part above 5 g about the peak starts */
    int filtered;    /* 0: sampled below 10 kHz, where CFC 1000 is not defined */
    int resampled;   /* steps of time differed by more than 1 %: linear between samples */
    int reversed;    /* one channel, negative in the impact: sign changed */
    double metrics[METRIC_COUNT]; /* times from `touch`; NaN where a pulse does not give a metric */
    size_t note_count;
    char note[MEASURED_NOTES][NOTE]; /* what the reader should know, one sentence each */
};

/* Reads a pulse ("-": standard input) and measures it. The change of velocity is taken over the part above
 * 5 g, of a fall straight down. STATUS_FILE, STATUS_INPUT (up to ten messages with their places),
 * STATUS_MEMORY: the pulse is zeroed. */
enum status measured_read(const char *path, struct measured_pulse *pulse, struct errors *errors);

/* Over several pulses. With one pulse there is no deviation (NaN), and bound is its value. */
struct measured_summary {
    size_t count;
    double factor;
    double mean[METRIC_COUNT], deviation[METRIC_COUNT]; /* of the sample: divided by count - 1 */
    double bound[METRIC_COUNT];                         /* mean + factor x deviation */
    double largest[METRIC_COUNT];
};

void measured_summarise(size_t count, const struct measured_pulse *pulses, double factor,
                        struct measured_summary *summary);

/* Limits in the units of their metrics, and where they are from. */
struct measured_limits {
    double value[METRIC_COUNT]; /* NaN where there is none */
    double target;              /* house mark, a share of the limit; NaN */
    char provenance[96];
};

/* Reads limits "peak_g=275,hic=2400", values bare or in the metric's unit; a text without `=` is the path of
 * a case whose `limits:` are taken. STATUS_USAGE with the nearest name, or what reading the case gives. */
enum status measured_limits_read(const char *text, struct measured_limits *limits, struct errors *errors);

/* Holds the limits against a summary; `judgements` (METRIC_COUNT) gets one for each limit, their number is
 * returned. The value judged is the bound, or the largest single pulse where that is more. States: within,
 * tight, exceeds, not computed. */
size_t measured_judge(const struct measured_limits *limits, const struct measured_summary *summary,
                      struct judgement *judgements);

#endif
