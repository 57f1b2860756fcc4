#ifndef FOAMPULSE_CLI_SUMMARY_H
#define FOAMPULSE_CLI_SUMMARY_H

#include <jansson.h>

#include "cases/result.h"

/*
 * Results in words, for `run` and `show`: the JSON object of schema foampulse/summary/1, rows of CSV, and
 * text for a decision within a minute.
 */

enum { SUMMARY_ROWS = 8, SUMMARY_LABEL = 128 };

/* The judgement of least margin of a hit; NULL without any. */
const struct judgement *summary_worst(const struct hit_result *hit);

/* The strictest limit of a hit on a metric; NaN for none. */
double summary_limit(const struct hit_result *hit, enum metric metric);

/* "computed", "not computed", "failed". */
const char *summary_status(enum hit_status status);

/* 1 when two results were solved by one model, also when one has no hits. */
int summary_same_model(const struct case_result *a, const struct case_result *b);

/* What one of several results is called: its title, or its file when it has none of its own;
 * with the model where the same case is there by another. One line. */
const char *summary_label(const struct case_result *results, size_t count, size_t at,
                          char label[SUMMARY_LABEL]);

/* The hits of a result, least margin first (undecided counts as none), then without limits the largest peak
 * first, then those not computed. A fresh array of hit_count; NULL when memory is out. */
const struct hit_result **summary_rows(const struct case_result *result);

enum { SUMMARY_HIT = 24 };

/* What a hit is called in tables: the number of its impact, with ".1", ".2" behind it where impacts of the
 * result have several hits. */
const char *summary_hit(const struct case_result *result, const struct hit_result *hit,
                        char name[SUMMARY_HIT]);

/* One object for `count` results; the caller owns it. NULL when memory is out. Values that do not apply are
 * null. */
json_t *summary_json(const struct case_result *results, size_t count);

/* The same rows as CSV, one line a hit, with a header of the names of the JSON object; fields that hold a
 * comma, quote or line break are quoted (RFC 4180). */
void summary_csv(const struct case_result *results, size_t count);

/* For each result its header, the table of its worst SUMMARY_ROWS hits (`all`: every one), the worst by site
 * and temperature; then once for all of them limits, warnings, what is not covered, and assumptions
 * (`verbose`: in words, and how it was solved). On standard output. STATUS_MEMORY. */
enum status summary_print(const struct case_result *results, size_t count, int all, int verbose);

/* One sentence a result, which of several has the best worst margin, and the caution. */
void summary_verdicts(const struct case_result *results, size_t count);

/* Results against the first of them, hit by hit in the order of their tables (`all`: every hit): differences
 * in g, %, mass, and below them in rotation where there is any. On standard output. STATUS_MEMORY. */
enum status summary_compare(const struct case_result *results, size_t count, int all);

/* What changed from an earlier result of the same file: the hits that differ, or that none does; nothing
 * where it holds no hit under the conditions of any of these. */
enum status summary_changes(const struct case_result *earlier, const struct case_result *now);

#endif
