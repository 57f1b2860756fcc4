#ifndef FOAMPULSE_TESTS_PREDICTION_H
#define FOAMPULSE_TESTS_PREDICTION_H

#include <stddef.h>

#include "solver/impact/metrics.h"

/*
 * What the program itself predicts for a case: `foampulse run CASE --json`, read back. The program is
 * $FOAMPULSE, or .build/release/foampulse; its result files go to .build/validate/.
 */

enum { PREDICTION_ROWS = 16 };

struct prediction_row {
    char site[48];
    double speed;                /* [m/s] */
    double head_radius;          /* [mm] */
    double headform_mass;        /* [kg] */
    double shell_share;          /* energy in the shell over the initial energy */
    double metric[METRIC_COUNT]; /* units of metric_table; NaN for null */
};

struct prediction {
    double helmet_mass; /* [kg] */
    size_t count;
    struct prediction_row row[PREDICTION_ROWS];
};

/* Runs a case with the values of `sets` (ends with NULL; NULL: none), texts as after --set. 1 when every
 * impact was computed; else 0, a line on stderr, and the prediction zeroed. */
int prediction_run(const char *case_path, const char *const *sets, struct prediction *prediction);

/* Mean of a metric over all rows. */
double prediction_mean(const struct prediction *prediction, enum metric metric);

#endif
