#include "solver/cli/summary.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/cli/terminal.h"
#include "solver/impact/anvil.h"

/* The sentence for a result with a worst hit: "HIC 2510 against 2400, on size L at crown, flat, 7.50 m/s,
 * 23 degC". */
static void print_worst(const struct case_result *result)
{
    const struct hit_result *hit = &result->hits[result->worst_hit];
    enum metric metric = (enum metric)result->worst_metric;
    const struct judgement *worst = summary_worst(hit);
    const char *unit = metric_table[metric].unit;
    char site[SUMMARY_LABEL], anvil[SUMMARY_LABEL], words[ANVIL_WORDS];
    terminal_print(stdout, STYLE_PLAIN, "; least margin %.1f %%: %s %.*f", 100 * result->worst_margin,
                   metric == METRIC_peak ? "peak" : metrics_word(metric), metrics_decimals(metric),
                   hit->output.metrics[metric]);
    terminal_print(stdout, STYLE_PLAIN, "%s%s", unit[0] == '1' ? "" : " ", unit[0] == '1' ? "" : unit);
    if (worst)
        terminal_print(stdout, STYLE_PLAIN, " against %.6g", worst->limit);
    if (hit->size[0])
        terminal_print(stdout, STYLE_PLAIN, " on size %s", terminal_clean(hit->size, site, sizeof site));
    terminal_print(stdout, STYLE_PLAIN, " at %s, %s, %.2f m/s, %.0f degC",
                   terminal_clean(hit->site, site, sizeof site),
                   terminal_clean(anvil_words(hit->anvil, hit->angle, words), anvil, sizeof anvil),
                   hit->speed, hit->temperature);
    if (hit->why[0])
        terminal_print(stdout, STYLE_PLAIN, ", %s (%s, layer %d)", hit->why,
                       terminal_clean(hit->why_region, site, sizeof site), hit->why_layer);
}

/* Helmets heavier than their limit. */
static void print_heavy(const struct case_result *result)
{
    char name[SUMMARY_LABEL];
    if (result->size_count == 0 && result->mass.helmet > result->helmet_mass_limit)
        terminal_print(stdout, STYLE_PLAIN, "; helmet mass %.3f kg against %.3f", result->mass.helmet,
                       result->helmet_mass_limit);
    for (size_t i = 0; i < result->size_count; i++) {
        const struct size_result *size = &result->sizes[i];
        if (size->mass.helmet > size->helmet_mass_limit)
            terminal_print(stdout, STYLE_PLAIN, "; helmet mass of size %s %.3f kg against %.3f",
                           terminal_clean(size->name, name, sizeof name), size->mass.helmet,
                           size->helmet_mass_limit);
    }
}

static void print_verdict(const struct case_result *result, const char *label)
{
    size_t missing = 0, over = 0, open = 0;
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct hit_result *hit = &result->hits[i];
        const struct judgement *worst = summary_worst(hit);
        missing += hit->status != HIT_COMPUTED;
        over += worst && worst->state == VERDICT_EXCEEDS;
        for (size_t k = 0, known = 0; k < hit->judgement_count && !known; k++)
            open += known = hit->judgements[k].state == VERDICT_UNDECIDED;
    }
    terminal_print(stdout, STYLE_STRONG, "%s: ", label);
    terminal_print(stdout,
                   result->verdict == VERDICT_WITHIN    ? STYLE_GOOD
                   : result->verdict == VERDICT_EXCEEDS ? STYLE_ERROR
                                                        : STYLE_WARNING,
                   "%s", verdict_text(result->verdict));
    if (over)
        terminal_print(stdout, STYLE_PLAIN, " a limit in %zu of %zu hits", over, result->hit_count);
    if (open)
        terminal_print(stdout, STYLE_PLAIN, "; %zu of %zu hits undecided", open, result->hit_count);
    if (missing)
        terminal_print(stdout, STYLE_PLAIN, "; %zu of %zu hits not computed", missing, result->hit_count);
    print_heavy(result);
    if (result->worst_hit >= 0 && (size_t)result->worst_hit < result->hit_count && result->worst_metric >= 0)
        print_worst(result);
    terminal_print(stdout, STYLE_PLAIN, "\n");
}

/* The least margins of several results side by side say which is best; only where all have one, by one model.
 */
static void print_best(const struct case_result *results, size_t count)
{
    size_t best = 0;
    for (size_t i = 0; i < count; i++) {
        if (!isfinite(results[i].worst_margin) || results[i].verdict == VERDICT_INCOMPLETE ||
            results[i].verdict == VERDICT_UNDECIDED || !summary_same_model(&results[i], &results[0]))
            return;
        best = results[i].worst_margin > results[best].worst_margin ? i : best;
    }
    char label[SUMMARY_LABEL];
    if (count > 1)
        terminal_print(stdout, STYLE_STRONG, "largest least margin: %s, %.1f %%\n",
                       summary_label(results, count, best, label), 100 * results[best].worst_margin);
}

void summary_verdicts(const struct case_result *results, size_t count)
{
    char label[SUMMARY_LABEL];
    terminal_print(stdout, STYLE_PLAIN, "\n");
    for (size_t i = 0; i < count; i++)
        print_verdict(&results[i], summary_label(results, count, i, label));
    print_best(results, count);
    terminal_print(stdout, STYLE_FAINT, "\n%s\n", CAUTION_TEXT);
}
