#include "solver/study/judge.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"

enum verdict judge_value(double value, double limit, double target)
{
    if (isnan(limit))
        return VERDICT_NO_LIMIT;
    if (isnan(value))
        return VERDICT_UNDECIDED;
    if (value > limit)
        return VERDICT_EXCEEDS;
    return !isnan(target) && value > target * limit ? VERDICT_TIGHT : VERDICT_WITHIN;
}

static size_t count_limits(const struct case_file *file)
{
    size_t count = 0;
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        count += !isnan(file->limit[metric]);
    return count;
}

int judge_ended(const struct impact_output *output)
{
    const double *velocity = output->channel[PULSE_velocity];
    int moving = velocity && output->count > 0;
    for (size_t i = 0; moving && i < output->count; i++)
        moving = velocity[i] > 0.0;
    return !moving;
}

/* Smallest margin over the limits of the case, INFINITY without any. */
static double least_margin(const struct case_file *file, const struct impact_output *output)
{
    double least = judge_ended(output) ? INFINITY : 0.0;
    for (int metric = 0; metric < METRIC_COUNT; metric++) {
        double margin = (file->limit[metric] - output->metrics[metric]) / file->limit[metric];
        least = margin < least ? margin : least;
    }
    return least;
}

int judge_governs(const struct case_file *file, const struct impact_output *other,
                  const struct impact_output *first)
{
    double margins[] = {least_margin(file, other), least_margin(file, first)};
    return margins[0] < margins[1] ||
           (margins[0] == margins[1] && other->metrics[METRIC_peak] > first->metrics[METRIC_peak]);
}

/* What a metric of a hit decides about a limit. */
static struct judgement judge_metric(const struct hit_result *hit, enum metric metric, double limit,
                                     double target)
{
    double value = hit->output.metrics[metric];
    struct judgement judgement = {.metric = metric,
                                  .value = value,
                                  .limit = limit,
                                  .margin = (limit - value) / limit,
                                  .state = judge_value(value, limit, target)};
    if (judgement.state != VERDICT_EXCEEDS && !judge_ended(&hit->output)) {
        judgement.state = VERDICT_UNDECIDED;
        judgement.margin = NAN;
    }
    snprintf(judgement.provenance, sizeof judgement.provenance, "given in the case");
    snprintf(judgement.source, sizeof judgement.source, "limits: of the case file");
    return judgement;
}

static enum status judge_hit(const struct case_file *file, size_t limit_count, struct hit_result *hit)
{
    if (hit->status != HIT_COMPUTED || limit_count == 0)
        return STATUS_OK;
    hit->judgements = memory_zeroed(limit_count, sizeof *hit->judgements);
    if (!hit->judgements)
        return STATUS_MEMORY;
    for (int metric = 0; metric < METRIC_COUNT; metric++) {
        double limit = file->limit[metric];
        if (!isnan(limit))
            hit->judgements[hit->judgement_count++] =
                judge_metric(hit, (enum metric)metric, limit, file->target);
    }
    return STATUS_OK;
}

/* How far past its best strain a layer was crushed; NaN off the axis. */
static double past_best(const struct layer_output *layer)
{
    return layer->crush_fraction - layer->best_strain;
}

/* A layer past the strain of its best efficiency bottoms out: the worst of them is named. If none is, the
 * stack is too stiff, and the layer that leaves most of its useful stroke unused is named. */
static void say_why(struct hit_result *hit)
{
    const struct layer_output *worst = NULL, *idle = NULL;
    if (!judge_ended(&hit->output))
        return;
    for (size_t i = 0; i < hit->output.layer_count; i++) {
        const struct layer_output *layer = &hit->output.layers[i];
        if (isnan(past_best(layer)))
            continue;
        if (!worst || past_best(layer) > past_best(worst))
            worst = layer;
        if (!idle || past_best(layer) * layer->thickness < past_best(idle) * idle->thickness)
            idle = layer;
    }
    if (!worst)
        return;
    int bottoms = past_best(worst) > 0.0;
    const struct layer_output *named = bottoms ? worst : idle;
    snprintf(hit->why, sizeof hit->why, "%s", bottoms ? "bottoms out" : "too stiff");
    snprintf(hit->why_region, sizeof hit->why_region, "%s", named->region);
    hit->why_layer = named->layer;
}

/* Higher is more decisive for the case. */
static int weight(enum verdict state)
{
    static const enum verdict order[] = {VERDICT_NO_LIMIT,  VERDICT_WITHIN,     VERDICT_TIGHT,
                                         VERDICT_UNDECIDED, VERDICT_INCOMPLETE, VERDICT_EXCEEDS};
    for (int i = 0; i < (int)(sizeof order / sizeof *order); i++) {
        if (order[i] == state)
            return i;
    }
    return 0;
}

static void take_worse(enum verdict *verdict, enum verdict state)
{
    if (weight(state) > weight(*verdict))
        *verdict = state;
}

static void judge_mass(struct case_result *result)
{
    if (!isnan(result->helmet_mass_limit))
        take_worse(&result->verdict, judge_value(result->mass.helmet, result->helmet_mass_limit, NAN));
}

enum status judge_case(const struct case_file *file, struct case_result *result)
{
    size_t limit_count = count_limits(file);
    result->verdict = VERDICT_NO_LIMIT;
    result->worst_hit = result->worst_metric = -1;
    result->worst_margin = INFINITY;
    for (size_t i = 0; i < result->hit_count; i++) {
        struct hit_result *hit = &result->hits[i];
        if (judge_hit(file, limit_count, hit) != STATUS_OK)
            return STATUS_MEMORY;
        say_why(hit);
        if (hit->status != HIT_COMPUTED)
            take_worse(&result->verdict, VERDICT_INCOMPLETE);
        for (size_t k = 0; k < hit->judgement_count; k++) {
            const struct judgement *judgement = &hit->judgements[k];
            take_worse(&result->verdict, judgement->state);
            if (judgement->margin < result->worst_margin) {
                result->worst_margin = judgement->margin;
                result->worst_hit = (int)i;
                result->worst_metric = (int)judgement->metric;
            }
        }
    }
    if (result->worst_hit < 0)
        result->worst_margin = NAN;
    judge_mass(result);
    return STATUS_OK;
}
