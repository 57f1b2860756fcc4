#ifndef FOAMPULSE_CLI_PLAN_WORDS_H
#define FOAMPULSE_CLI_PLAN_WORDS_H

#include <jansson.h>

#include "solver/study/plan.h"

/*
 * The test list of `foampulse plan` as text, CSV and JSON.
 */

/* Longest line of the CSV, its end included. */
enum { PLAN_LINE = 16384 };

/* Table, count of samples, rules, what is not predicted, and the caution, on standard output. STATUS_MEMORY.
 */
enum status plan_print(const struct case_result *result, const struct plan *plan);

/* The object of schema foampulse/plan/1; the caller owns it. NULL when memory is out. `csv` is the file
 * written, "" for none. */
json_t *plan_json(const struct case_result *result, const struct plan *plan, const char *csv);

/* Hands the lines of the CSV to `put`, one by one with their end: the header, whose names carry the units, a
 * line a test in order, and one for each thing that is not predicted, with only `status` and `message`. Ends
 * with what `put` first returned beside STATUS_OK. */
enum status plan_csv(const struct case_result *result, const struct plan *plan,
                     enum status (*put)(void *context, const char *line), void *context);

#endif
