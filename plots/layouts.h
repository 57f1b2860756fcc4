#ifndef FOAMPULSE_PLOTS_LAYOUTS_H
#define FOAMPULSE_PLOTS_LAYOUTS_H

#include <stddef.h>

#include "cases/result.h"

/*
 * What the pictures of one command show: the layouts, and in each the same impact, the one that governs.
 */

enum { LAYOUTS_MOST = 8, LAYOUT_TEXT = 160 };

#define LAYOUTS_REMARK "Prediction, to compare layouts; not evidence of compliance."

struct layout {
    const struct case_result *result;
    const struct hit_result *hit; /* NULL: this layout has no such hit, or it was not computed */
    const char *size; /* the helmet of a family that a map shows: the governing one, where this layout has it,
                       * else its own worst; "" where the layout is one helmet */
    const char *name; /* title; the name of the file where there is none or two begin alike; the model where
                       * it tells two results apart */
};

/* Fills (count) layouts, count <= LAYOUTS_MOST. The governing hit has the smallest margin of all layouts;
 * where nothing has a limit, the largest peak of the first layout. The others show the
 * same hit (layouts_same). Returns the governing hit, NULL when no layout has a computed one. */
const struct hit_result *layouts_pick(const struct case_result *results, size_t count,
                                      struct layout *layouts);

/* Whether two hits of different layouts are the same one: of one number, in the same setting
 * (cases/result); speed and temperature may differ. */
int layouts_same(const struct hit_result *a, const struct hit_result *b);

/* "Impact 6: front on flat 30 deg, 7.5 m/s, -20 °C". */
void layouts_condition(const struct hit_result *hit, char text[LAYOUT_TEXT]);

/* "M: front, flat 30 deg, 7.5 m/s, -20 °C, hit 2": size and number of the hit where there are several. */
void layouts_short(const struct hit_result *hit, char text[LAYOUT_TEXT]);

/* Judgement of a metric with the smallest margin in a hit; NULL when it has none with a limit. */
const struct judgement *layouts_judgement(const struct hit_result *hit, enum metric metric);

/* Judgement with the smallest margin of all metrics; NULL for none. */
const struct judgement *layouts_worst(const struct hit_result *hit);

/* 1 when a limit is only known from memory. */
int layouts_unchecked(const struct judgement *judgement);

#endif
