#ifndef FOAMPULSE_CLI_TUNE_TEXT_H
#define FOAMPULSE_CLI_TUNE_TEXT_H

#include "solver/study/tune.h"

/*
 * A tuning in words.
 */

/* What was tried (the best eight, `all`: every one), how the best grew, the best against the case as written,
 * its bounds, and the caution; on standard output. STATUS_MEMORY. */
enum status tune_print(const struct tune *tune, int all);

/* The object of schema foampulse/tune-summary/1; paths "" for none. STATUS_MEMORY. */
enum status tune_json(const struct tune *tune, const char *path, const char *case_path);

/* "worst margin 12.3 %", "largest peak g 187.2 g" */
enum { TUNE_VALUE = 96 };
const char *tune_value(const struct tune *tune, double value, char text[TUNE_VALUE]);

#endif
