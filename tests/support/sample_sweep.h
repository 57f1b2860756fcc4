#ifndef FOAMPULSE_SUPPORT_SAMPLE_SWEEP_H
#define FOAMPULSE_SUPPORT_SAMPLE_SWEEP_H

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/factor.h"
#include "cases/sweep.h"
#include "solver/base/memory.h"

/*
 * A made-up sweep for tests of pictures: density x thickness x foam, the margin of hit k
 *
 *   0.3 - 0.05 k - ((density - 50 - 2 k)/20)^2 - ((thickness - 30)/20)^2 - 0.1 foam
 *
 * peak g 100 (1 - margin) against a limit of 100, HIC ten times that against 1000. Of up to four hits the
 * best layout has density 50, thickness 30, foam 0.
 */

enum { SAMPLE_DENSITIES = 5, SAMPLE_THICKNESSES = 4, SAMPLE_FOAMS = 2 };

static inline double sample_sweep_margin(const double *values, size_t hit)
{
    double k = (double)hit, density = (values[0] - 50 - 2 * k) / 20, thickness = (values[1] - 30) / 20;
    return 0.3 - 0.05 * k - density * density - thickness * thickness - 0.1 * values[2];
}

static inline void sample_factor(struct factor *factor, const char *path, const char *unit, double low,
                                 double step, size_t count, int texts)
{
    snprintf(factor->path, sizeof factor->path, "%s", path);
    snprintf(factor->unit, sizeof factor->unit, "%s", unit);
    factor->low = low;
    factor->high = low + step * (double)(count - 1);
    factor->level_count = count;
    factor->levels = memory_doubles(count);
    factor->texts = texts ? memory_zeroed(count, sizeof *factor->texts) : NULL;
    for (size_t i = 0; i < count; i++) {
        factor->levels[i] = low + step * (double)i;
        if (texts)
            snprintf(factor->texts[i], FACTOR_TEXT, "foam %zu", i);
    }
}

/* Fills row `at` from its values. */
static inline void sample_point(struct sweep *sweep, size_t at)
{
    const double *values = sweep_values(sweep, at);
    struct sweep_point *point = &sweep->points[at];
    *point = (struct sweep_point){.number = (long)at + 1, .worst_hit = -1, .worst_metric = METRIC_peak};
    point->mass = (struct mass_by_part){0.9 + 0.002 * values[0] + 0.004 * values[1], 0.6, 0.2, 0.05, 0};
    point->worst_margin = NAN;
    for (size_t k = 0; k < sweep->hit_count; k++) {
        double margin = sample_sweep_margin(values, k), *metrics = sweep_metrics(sweep, at, k);
        sweep->states[at * sweep->hit_count + k] = HIT_COMPUTED;
        sweep_margins(sweep, at)[k] = margin;
        metrics[METRIC_peak] = 100 * (1 - margin);
        metrics[METRIC_hic] = 1000 * (1 - margin);
        if (point->worst_hit < 0 || margin < point->worst_margin) {
            point->worst_margin = margin;
            point->worst_hit = (int)k;
        }
    }
    point->verdict = point->worst_margin < 0 ? VERDICT_EXCEEDS : VERDICT_WITHIN;
}

static inline void sample_hits(struct sweep *sweep, size_t hits)
{
    sweep->hit_count = hits;
    sweep->hits = memory_zeroed(hits, sizeof *sweep->hits);
    sweep->limits = memory_doubles(hits * METRIC_COUNT);
    for (size_t k = 0; k < hits; k++) {
        struct hit_result *hit = &sweep->hits[k];
        *hit = (struct hit_result){.impact = (int)k + 1, .hit = 1, .speed = 5 + (double)k, .temperature = 23};
        snprintf(hit->site, sizeof hit->site, "site %zu", k);
        snprintf(hit->anvil, sizeof hit->anvil, "flat");
        for (int metric = 0; metric < METRIC_COUNT; metric++)
            sweep->limits[k * METRIC_COUNT + (size_t)metric] = metric == METRIC_peak  ? 100
                                                               : metric == METRIC_hic ? 1000
                                                                                      : (double)NAN;
    }
}

/* Of the first `factors` (1 to 3) factors a whole grid; the others are at the best. */
static inline void sample_sweep(struct sweep *sweep, size_t factors, size_t hits)
{
    static const size_t counts[] = {SAMPLE_DENSITIES, SAMPLE_THICKNESSES, SAMPLE_FOAMS};
    size_t points = 1;
    *sweep = (struct sweep){
        .title = memory_text("Made-up layouts"), .case_text = memory_text(""), .factor_count = 3};
    snprintf(sweep->model, sizeof sweep->model, "columns");
    snprintf(sweep->sample, sizeof sweep->sample, "grid");
    sweep->target = sweep->helmet_mass_limit = NAN;
    sweep->factors = memory_zeroed(3, sizeof *sweep->factors);
    sample_factor(&sweep->factors[0], "liner.crown.layers.1.density", "kg/m3", 30, 10, SAMPLE_DENSITIES, 0);
    sample_factor(&sweep->factors[1], "liner.crown.layers.1.thickness", "mm", 20, 5, SAMPLE_THICKNESSES, 0);
    sample_factor(&sweep->factors[2], "liner.foam", "", 0, 1, SAMPLE_FOAMS, 1);
    sample_hits(sweep, hits);
    for (size_t i = 0; i < factors; i++)
        points *= counts[i];
    sweep_extend(sweep, points);
    for (size_t p = 0; p < points; p++) {
        double *values = sweep_values(sweep, p);
        values[0] = 30 + 10 * (double)(p % SAMPLE_DENSITIES);
        values[1] = factors > 1 ? 20 + 5 * (double)(p / SAMPLE_DENSITIES % SAMPLE_THICKNESSES) : 30;
        values[2] = factors > 2 ? (double)(p / (SAMPLE_DENSITIES * SAMPLE_THICKNESSES)) : 0;
        sample_point(sweep, p);
    }
    /* what is not varied is no factor: the first columns of rows that are three wide are taken together */
    for (size_t p = 0; p < points && factors < 3; p++)
        memmove(sweep->values + p * factors, sweep->values + p * 3, factors * sizeof(double));
    for (size_t i = factors; i < 3; i++)
        factor_free(&sweep->factors[i]);
    sweep->factor_count = factors;
}

#endif
