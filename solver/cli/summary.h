#ifndef FOAMPULSE_CLI_SUMMARY_H
#define FOAMPULSE_CLI_SUMMARY_H

#include <jansson.h>

#include "cases/result.h"

/*
 * A result in words: the JSON object of schema foampulse/summary/1, rows of CSV, and a table with the rows
 * that decide first.
 */

enum { SUMMARY_ROWS = 8 };

/* One object for `count` results; the caller owns it. NULL when memory is out. Values that do not apply are
 * null. */
json_t *summary_json(const struct case_result *results, size_t count);

/* The same rows as CSV, one line a hit, with a header of the names of the JSON object; fields that hold a
 * comma, quote or line break are quoted (RFC 4180). */
void summary_csv(const struct case_result *results, size_t count);

/* Table of one result, smallest margin first, SUMMARY_ROWS of it or all; then the verdict in a sentence. */
void summary_print(const struct case_result *result, int all);

#endif
