#include "plots/layouts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/impact/anvil.h"

static const char *file_of(const struct case_result *result)
{
    const char *file = result->file ? result->file : "", *slash = strrchr(file, '/');
    return slash ? slash + 1 : file;
}

/* Whether two results have titles that begin alike, so that pictures, which cut long names, would show them
 * as one. */
static int titles_alike(const struct case_result *results, size_t count)
{
    enum { SHOWN = 18 };
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < i; k++) {
            if (results[i].title && results[k].title &&
                strncmp(results[i].title, results[k].title, SHOWN) == 0)
                return 1;
        }
    }
    return 0;
}

static const char *name_of(const struct case_result *result, int by_file)
{
    return !by_file && result->title && result->title[0] ? result->title : file_of(result);
}

/* Two models of one case go by their names. */
static const char *model_of(const struct case_result *results, size_t count, size_t at)
{
    const char *file = results[at].file ? results[at].file : "";
    for (size_t i = 0; i < count; i++) {
        if (results[i].hit_count > 0 && results[at].hit_count > 0 && results[i].file &&
            strcmp(results[i].file, file) == 0 &&
            strcmp(results[i].hits[0].model, results[at].hits[0].model) != 0)
            return results[at].hits[0].model;
    }
    return NULL;
}

static const struct judgement *smallest(const struct hit_result *hit, int metric)
{
    const struct judgement *worst = NULL;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        if ((metric < 0 || one->metric == (enum metric)metric) && isfinite(one->margin) &&
            isfinite(one->limit) && (!worst || one->margin < worst->margin))
            worst = one;
    }
    return worst;
}

const struct judgement *layouts_judgement(const struct hit_result *hit, enum metric metric)
{
    return smallest(hit, (int)metric);
}

const struct judgement *layouts_worst(const struct hit_result *hit)
{
    return smallest(hit, -1);
}

int layouts_unchecked(const struct judgement *judgement)
{
    return strstr(judgement->provenance, "memory") != NULL;
}

/* A hit that can be drawn. */
static int is_solved(const struct hit_result *hit)
{
    return hit->status == HIT_COMPUTED && hit->output.count > 0 && hit->output.channel[PULSE_acceleration];
}

/* Smaller is nearer to governing: the margin, or with no limit anywhere the peak with its sign turned. */
static double rank(const struct hit_result *hit, int has_limits)
{
    if (!is_solved(hit))
        return INFINITY;
    const struct judgement *worst = layouts_worst(hit);
    if (has_limits)
        return worst ? worst->margin : INFINITY;
    double peak = hit->output.metrics[METRIC_peak];
    return isfinite(peak) ? -peak : 0;
}

static const struct hit_result *governing(const struct case_result *results, size_t count, int has_limits)
{
    const struct hit_result *best = NULL;
    double least = INFINITY;
    for (size_t i = 0; i < count; i++) {
        for (size_t h = 0; h < results[i].hit_count; h++) {
            double here = rank(&results[i].hits[h], has_limits);
            if (here < least) {
                least = here;
                best = &results[i].hits[h];
            }
        }
    }
    return best;
}

int layouts_same(const struct hit_result *a, const struct hit_result *b)
{
    return a->impact == b->impact && hit_same_setting(a, b);
}

static const struct hit_result *same_hit(const struct case_result *result, const struct hit_result *as)
{
    for (size_t h = 0; as && h < result->hit_count; h++) {
        const struct hit_result *hit = &result->hits[h];
        if (layouts_same(hit, as) && is_solved(hit))
            return hit;
    }
    return NULL;
}

static const char *size_of(const struct case_result *result, const struct hit_result *best)
{
    for (size_t h = 0; best && h < result->hit_count; h++) {
        if (strcmp(result->hits[h].size, best->size) == 0)
            return best->size;
    }
    const struct hit_result *worst = result->worst_hit >= 0  ? &result->hits[result->worst_hit]
                                     : result->hit_count > 0 ? &result->hits[0]
                                                             : NULL;
    return worst ? worst->size : "";
}

const struct hit_result *layouts_pick(const struct case_result *results, size_t count, struct layout *layouts)
{
    const struct hit_result *best = governing(results, count, 1);
    if (!best)
        best = governing(results, count, 0);
    int by_file = titles_alike(results, count);
    for (size_t i = 0; i < count; i++) {
        const char *model = model_of(results, count, i);
        layouts[i] = (struct layout){&results[i], same_hit(&results[i], best), size_of(&results[i], best),
                                     model ? model : name_of(&results[i], by_file)};
    }
    return best;
}

void layouts_condition(const struct hit_result *hit, char text[LAYOUT_TEXT])
{
    char anvil[ANVIL_WORDS];
    int at = snprintf(text, LAYOUT_TEXT, "Impact %d", hit->impact);
    if (hit->hit > 1)
        at += snprintf(text + at, LAYOUT_TEXT - (size_t)at, ", hit %d", hit->hit);
    at += snprintf(text + at, LAYOUT_TEXT - (size_t)at, ": %.40s%s%.40s, %.3g m/s", hit->site,
                   hit->site[0] && hit->anvil[0] ? " on " : "", anvil_words(hit->anvil, hit->angle, anvil),
                   hit->speed);
    if (isfinite(hit->temperature))
        at += snprintf(text + at, LAYOUT_TEXT - (size_t)at, ", %.3g °C", hit->temperature);
    if (hit->size[0])
        snprintf(text + at, LAYOUT_TEXT - (size_t)at, ", size %.20s", hit->size);
}

void layouts_short(const struct hit_result *hit, char text[LAYOUT_TEXT])
{
    char again[24] = "", size[24] = "", anvil[ANVIL_WORDS];
    if (hit->hit > 1)
        snprintf(again, sizeof again, ", hit %d", hit->hit);
    if (hit->size[0])
        snprintf(size, sizeof size, "%.20s: ", hit->size);
    snprintf(text, LAYOUT_TEXT, "%s%.32s, %.32s, %.4g m/s, %.4g °C%s", size, hit->site,
             anvil_words(hit->anvil, hit->angle, anvil), hit->speed, hit->temperature, again);
}
