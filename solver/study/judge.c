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

/* Limits that hold for an impact: those of the case (test -1), then those of the tests that it serves. */
static const double *limits_of(const struct case_file *file, const struct case_impact *impact, int test)
{
    return test < 0 ? file->limit : file->tests[impact->tests[test]].limit;
}

static size_t count_limits(const double *limit)
{
    size_t count = 0;
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        count += !isnan(limit[metric]);
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

/* Whether a metric follows from the headform's moment of inertia. */
static int is_rotational(enum metric metric)
{
    return metric == METRIC_peak_rot_acc || metric == METRIC_peak_rot_vel || metric == METRIC_bric;
}

/* Smallest margin over the limits of an impact, INFINITY without any. */
static double least_margin(const struct case_file *file, const struct case_impact *impact,
                           const struct impact_output *output)
{
    double least = judge_ended(output) ? INFINITY : 0.0;
    for (int test = -1; test < (int)impact->test_count; test++) {
        const double *limit = limits_of(file, impact, test);
        for (int metric = 0; metric < METRIC_COUNT; metric++) {
            double margin = (limit[metric] - output->metrics[metric]) / limit[metric];
            if (file->headform.inertia_assumed && is_rotational((enum metric)metric))
                continue; /* decides nothing */
            least = margin < least ? margin : least;
        }
    }
    return least;
}

int judge_governs(const struct case_file *file, const struct case_impact *impact,
                  const struct impact_output *other, const struct impact_output *first)
{
    double margins[] = {least_margin(file, impact, other), least_margin(file, impact, first)};
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
    int unsure = hit->inertia_assumed && is_rotational(metric);
    int one_bound = hit->hoop.shown[0] && isnan(hit->hoop.cut_peak); /* the other may be past the limit */
    if (unsure || (judgement.state != VERDICT_EXCEEDS && (one_bound || !judge_ended(&hit->output)))) {
        judgement.state = VERDICT_UNDECIDED;
        judgement.margin = NAN;
    }
    snprintf(judgement.provenance, sizeof judgement.provenance, "given in the case");
    snprintf(judgement.source, sizeof judgement.source, "limits: of the case file");
    return judgement;
}

/* A judgement by a test of a programme. */
static void name_test(const struct case_test *test, struct judgement *judgement)
{
    snprintf(judgement->programme, sizeof judgement->programme, "%s", test->programme);
    snprintf(judgement->test, sizeof judgement->test, "%s", test->test);
    snprintf(judgement->provenance, sizeof judgement->provenance, "%s", test->provenance);
    snprintf(judgement->source, sizeof judgement->source, "%s", test->source);
}

/* Whether a metric is of the motion along the face. */
static int is_along(enum metric metric)
{
    return metric == METRIC_tangential_force || metric == METRIC_tangential_impulse || is_rotational(metric);
}

/* A limit on rotation or friction says nothing of an impact square on. */
static int applies(const struct hit_result *hit, enum metric metric)
{
    return !is_along(metric) || isfinite(hit->head_inertia);
}

static void take_limits(const struct case_file *file, const double *limit, const struct case_test *test,
                        struct hit_result *hit)
{
    for (int metric = 0; metric < METRIC_COUNT; metric++) {
        if (isnan(limit[metric]) || !applies(hit, (enum metric)metric))
            continue;
        struct judgement *judgement = &hit->judgements[hit->judgement_count++];
        *judgement = judge_metric(hit, (enum metric)metric, limit[metric], file->target);
        if (test)
            name_test(test, judgement);
    }
}

/* A test without a limit says so once, of the peak. */
static void take_no_limit(const struct case_test *test, struct hit_result *hit)
{
    struct judgement *judgement = &hit->judgements[hit->judgement_count++];
    *judgement = judge_metric(hit, METRIC_peak, NAN, NAN);
    judgement->state = VERDICT_NO_LIMIT;
    name_test(test, judgement);
}

static enum status judge_hit(const struct case_file *family, struct hit_result *hit)
{
    static const struct case_impact none;
    const struct case_file *file = family;
    size_t room = 0;
    const struct case_impact *impact = case_impact_find(family, hit->impact, &file);
    impact = impact ? impact : &none;
    for (int test = -1; test < (int)impact->test_count; test++)
        room += count_limits(limits_of(file, impact, test)) + 1;
    if (hit->status != HIT_COMPUTED || (room == 1 && impact->test_count == 0))
        return STATUS_OK;
    hit->judgements = memory_zeroed(room, sizeof *hit->judgements);
    if (!hit->judgements)
        return STATUS_MEMORY;
    take_limits(file, file->limit, NULL, hit);
    for (size_t i = 0; i < impact->test_count; i++) {
        const struct case_test *test = &file->tests[impact->tests[i]];
        if (count_limits(test->limit) > 0)
            take_limits(file, test->limit, test, hit);
        else
            take_no_limit(test, hit);
    }
    return STATUS_OK;
}

void judge_limits(const struct case_file *family, const struct hit_result *hit, double limits[METRIC_COUNT])
{
    const struct case_file *file = family;
    const struct case_impact *impact = case_impact_find(family, hit->impact, &file);
    for (int metric = 0; metric < METRIC_COUNT; metric++) {
        limits[metric] = NAN;
        for (int test = -1; impact && test < (int)impact->test_count; test++) {
            double limit = limits_of(file, impact, test)[metric];
            if (applies(hit, (enum metric)metric) && !isnan(limit) && !(limits[metric] < limit))
                limits[metric] = limit;
        }
    }
}

/* How far past its best strain a layer was crushed; NaN off the axis. */
static double past_best(const struct layer_output *layer)
{
    return layer->crush_fraction - layer->best_strain;
}

/* Whether the limit nearest to its end, or every one, is on rotation or on friction along the face, of which
 * the crush of the foam says nothing. */
static int turning_decides(const struct hit_result *hit)
{
    const struct judgement *worst = NULL;
    size_t others = 0;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        others += !is_along(one->metric);
        if (!isnan(one->margin) && (!worst || one->margin < worst->margin))
            worst = one;
    }
    return hit->judgement_count > 0 && (others == 0 || (worst && is_along(worst->metric)));
}

/* A layer past the strain of its best efficiency bottoms out: the worst of them is named. If none is, the
 * stack is too stiff, and the layer that leaves most of its useful stroke unused is named. */
static void say_why(struct hit_result *hit)
{
    const struct layer_output *worst = NULL, *idle = NULL;
    if (turning_decides(hit) || !judge_ended(&hit->output))
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
    if (!isnan(result->helmet_mass_limit) && result->size_count == 0)
        take_worse(&result->verdict,
                   judge_value(result->mass.helmet, result->helmet_mass_limit, result->target));
    for (size_t i = 0; i < result->size_count; i++) {
        const struct size_result *size = &result->sizes[i];
        if (!isnan(size->helmet_mass_limit))
            take_worse(&result->verdict,
                       judge_value(size->mass.helmet, size->helmet_mass_limit, result->target));
    }
}

enum status judge_case(const struct case_file *file, struct case_result *result)
{
    result->verdict = VERDICT_NO_LIMIT;
    result->worst_hit = result->worst_metric = -1;
    result->worst_margin = INFINITY;
    for (size_t i = 0; i < result->hit_count; i++) {
        struct hit_result *hit = &result->hits[i];
        if (judge_hit(file, hit) != STATUS_OK)
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
    if (file->incomplete)
        take_worse(&result->verdict, VERDICT_INCOMPLETE);
    judge_mass(result);
    return STATUS_OK;
}
