#ifndef FOAMPULSE_CASES_FILL_HELMET_H
#define FOAMPULSE_CASES_FILL_HELMET_H

#include "cases/fill.h"

/* Parts of a helmet that are one mapping each, and what a case says once. Each reads its own key of the root
 * and fills defaults where the key is absent. */

void fill_shell(struct fill *fill);

/* `comfort`, `wet`, `fit` and `fill`. */
void fill_comfort(struct fill *fill);

/* `pad` and `striker`, and refuses keys that only a helmet has. Own foams must be filled. */
void fill_pad(struct fill *fill);

/* One limit, of a metric with a limit_key, in the metric's unit. */
void fill_metric_limit(struct fill *fill, const struct node *value, const struct metric_info *metric,
                       double *limit);

/* Limits by metric, in the metric's unit, and on the helmet's mass [kg]; NULL where there may be none. */
void fill_metric_limits(struct fill *fill, const struct node *limits, double limit[METRIC_COUNT],
                        double *helmet_mass);

/* `limits` (all but the name of a programme), `target`, `model`, `solver`. */
void fill_limits(struct fill *fill);
void fill_model(struct fill *fill);

#endif
