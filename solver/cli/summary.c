#include "solver/cli/summary.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/cli/terminal.h"

const char *summary_status(enum hit_status status)
{
    return status == HIT_COMPUTED ? "computed" : status == HIT_FAILED ? "failed" : "not computed";
}

const struct judgement *summary_worst(const struct hit_result *hit)
{
    const struct judgement *worst = NULL;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        if (isfinite(one->margin) && (!worst || one->margin < worst->margin))
            worst = one;
    }
    return worst;
}

int summary_same_model(const struct case_result *a, const struct case_result *b)
{
    return a->hit_count == 0 || b->hit_count == 0 || strcmp(a->hits[0].model, b->hits[0].model) == 0;
}

const char *summary_label(const struct case_result *results, size_t count, size_t at,
                          char label[SUMMARY_LABEL])
{
    const char *title = results[at].title ? results[at].title : "";
    int own = title[0] != '\0';
    const char *file = results[at].file, *model = NULL;
    for (size_t i = 0; i < count; i++) {
        int same_file = strcmp(results[i].file, file) == 0,
            by_another = !summary_same_model(&results[i], &results[at]);
        own = own && (i == at || !results[i].title || strcmp(results[i].title, title) != 0 ||
                      (same_file && by_another));
        if (same_file && by_another)
            model = results[at].hits[0].model;
    }
    char text[2 * SUMMARY_LABEL];
    snprintf(text, sizeof text, "%.*s%s%s", SUMMARY_LABEL - 24,
             own                      ? title
             : strcmp(file, "-") == 0 ? "standard input"
                                      : file,
             model ? ", " : "", model ? model : "");
    return terminal_clean(text, label, SUMMARY_LABEL);
}

/* A limit that is undecided stands between those that are exceeded and those that are not. */
static double margin_of(const struct hit_result *hit)
{
    double margin = INFINITY;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        double own = one->state == VERDICT_UNDECIDED ? 0.0 : one->margin;
        margin = own < margin ? own : margin;
    }
    return margin;
}

static int row_order(const void *a, const void *b)
{
    const struct hit_result *x = *(const struct hit_result *const *)a,
                            *y = *(const struct hit_result *const *)b;
    if ((x->status == HIT_COMPUTED) != (y->status == HIT_COMPUTED))
        return x->status == HIT_COMPUTED ? -1 : 1;
    double left = margin_of(x), right = margin_of(y);
    if (left != right)
        return left < right ? -1 : 1;
    left = x->output.metrics[METRIC_peak], right = y->output.metrics[METRIC_peak];
    if (left != right && isfinite(left) && isfinite(right))
        return left > right ? -1 : 1;
    return (x > y) - (x < y);
}

const struct hit_result **summary_rows(const struct case_result *result)
{
    const struct hit_result **rows = memory_zeroed(result->hit_count + 1, sizeof *rows);
    for (size_t i = 0; rows && i < result->hit_count; i++)
        rows[i] = &result->hits[i];
    if (rows)
        qsort(rows, result->hit_count, sizeof *rows, row_order);
    return rows;
}

const char *summary_hit(const struct case_result *result, const struct hit_result *hit,
                        char name[SUMMARY_HIT])
{
    int several = 0;
    for (size_t i = 0; i < result->hit_count; i++)
        several |= result->hits[i].hit > 1;
    snprintf(name, SUMMARY_HIT, several ? "%d.%d" : "%d", hit->impact, hit->hit);
    return name;
}

double summary_limit(const struct hit_result *hit, enum metric metric)
{
    const struct judgement *strictest = hit_limit(hit, metric);
    return strictest ? strictest->limit : (double)NAN;
}
