#ifndef FOAMPULSE_STUDY_JUDGE_H
#define FOAMPULSE_STUDY_JUDGE_H

#include "cases/case.h"
#include "cases/result.h"

/*
 * Step 9 of the life of a run: values against limits, the words of the verdict, and why.
 *
 * margin = (limit - value) / limit. A value above its limit *exceeds*; above the house mark `target` (a
 * fraction of the limit) but under the limit is *tight*; else *within*. An impact that was not computed makes
 * the case *incomplete* unless something exceeds; so does a test of impacts that a programme has and that
 * is not covered.
 */

/* Judges the hits of a result by the limits of its case: fills judgements and why of every computed hit, then
 * verdict, worst_hit, worst_metric and worst_margin of the result. STATUS_MEMORY or STATUS_OK. */
enum status judge_case(const struct case_file *file, struct case_result *result);

/* The strictest limit of each metric that holds for a hit of a case, solved or not; NaN for none. */
void judge_limits(const struct case_file *file, const struct hit_result *hit, double limits[METRIC_COUNT]);

/* Did the head come to rest before the run ended? If not, what was measured so far is less than the peak: a
 * value above its limit exceeds it, any other is undecided. A record without samples counts as ended. */
int judge_ended(const struct impact_output *output);

/* Which of two solutions of one hit counts: 1 when `other` is nearer to a limit of the impact than `first`,
 * or past one by more. One that has not ended stands at its limit at least. Without limits, or as near, the
 * larger peak acceleration counts. */
int judge_governs(const struct case_file *file, const struct case_impact *impact,
                  const struct impact_output *other, const struct impact_output *first);

/* State of one value against one limit; `target` NaN for none. Not a number: undecided. */
enum verdict judge_value(double value, double limit, double target);

#endif
