#include "solver/study/tune.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/study/batch.h"

/* --- what a row says --- */

/* Largest value of a metric over the hits of a row; NaN for none. */
static double largest(const struct sweep *sweep, size_t row, enum metric metric)
{
    double value = NAN;
    for (size_t k = 0; k < sweep->hit_count; k++) {
        double its = sweep_metrics(sweep, row, k)[metric];
        value = isnan(value) || its > value ? its : value;
    }
    return value;
}

double tune_objective(const struct tune *tune, const struct sweep *sweep, size_t row)
{
    int metric = tune->base->tune.metric;
    if (sweep->points[row].status != SWEEP_COMPUTED)
        return NAN;
    return metric < 0 ? sweep->points[row].worst_margin : largest(sweep, row, (enum metric)metric);
}

/* Slack of one hit; NaN where the metric does not apply. */
static double hit_slack(const struct sweep *sweep, size_t row, size_t hit, const struct case_keep *keep)
{
    const double *metrics = sweep_metrics(sweep, row, hit);
    double value =
        keep->kind == KEEP_STROKE_LEFT ? 1.0 - metrics[METRIC_crush_fraction] : metrics[keep->metric];
    return keep->most ? keep->bound - value : value - keep->bound;
}

static double mass_slack(double mass, const struct case_keep *keep)
{
    return keep->most ? keep->bound - mass : mass - keep->bound;
}

double tune_slack(const struct tune *tune, const struct sweep *sweep, size_t row, size_t at)
{
    const struct case_keep *keep = &tune->base->tune.keeps[at];
    double slack = NAN;
    if (keep->kind == KEEP_HELMET_MASS)
        return mass_slack(sweep->points[row].mass.helmet, keep);
    for (size_t k = 0; k < sweep->hit_count; k++) {
        double its = hit_slack(sweep, row, k, keep);
        slack = isnan(slack) || its < slack ? its : slack;
    }
    return slack;
}

int tune_allowed(const struct tune *tune, const struct sweep *sweep, size_t row)
{
    if (isnan(tune_objective(tune, sweep, row)))
        return 0;
    for (size_t i = 0; i < tune->base->tune.keep_count; i++) {
        if (tune_slack(tune, sweep, row, i) < 0.0)
            return 0;
    }
    return 1;
}

int tune_better(const struct tune *tune, double a, double b)
{
    if (isnan(a) || isnan(b))
        return !isnan(a);
    return tune->base->tune.metric < 0 ? a > b : a < b;
}

int tune_bound(const struct tune *tune, size_t row, size_t factor)
{
    const struct factor *its = &tune->sweep.factors[factor];
    double value = sweep_values(&tune->sweep, row)[factor], low = its->low, high = its->high;
    if (its->texts || its->level_count == 1)
        return 0;
    for (size_t i = 0; i < its->level_count; i++) {
        low = i == 0 || its->levels[i] < low ? its->levels[i] : low;
        high = i == 0 || its->levels[i] > high ? its->levels[i] : high;
    }
    return value <= low ? -1 : value >= high;
}

/* --- order --- */

struct ranked {
    int group; /* 0 keeps the bounds, 1 does not, 2 has no value */
    double value;
    size_t row;
};

static int compare_ranked(const void *left, const void *right)
{
    const struct ranked *a = left, *b = right;
    if (a->group != b->group)
        return a->group - b->group;
    if (a->value != b->value)
        return a->value > b->value ? -1 : 1;
    return a->row < b->row ? -1 : a->row > b->row;
}

size_t *tune_order(const struct tune *tune)
{
    size_t count = tune->sweep.point_count;
    struct ranked *ranked = memory_zeroed(count + 1, sizeof *ranked);
    size_t *order = memory_zeroed(count + 1, sizeof *order);
    for (size_t i = 0; ranked && i < count; i++) {
        double value = tune_objective(tune, &tune->sweep, i);
        int group = isnan(value) ? 2 : !tune_allowed(tune, &tune->sweep, i);
        value = isnan(value) ? 0.0 : tune->base->tune.metric < 0 ? value : -value;
        ranked[i] = (struct ranked){group, value, i};
    }
    if (ranked)
        qsort(ranked, count, sizeof *ranked, compare_ranked);
    for (size_t i = 0; ranked && order && i < count; i++)
        order[i] = ranked[i].row;
    if (!ranked) {
        memory_free(order);
        order = NULL;
    }
    memory_free(ranked);
    return order;
}

/* --- the cube and the ranges --- */

static enum status make_space(struct tune *tune)
{
    const struct sweep *sweep = &tune->sweep;
    size_t count = 0;
    for (size_t i = 0; i < sweep->factor_count; i++)
        count += sweep->factors[i].level_count;
    tune->space = memory_zeroed(sweep->factor_count + 1, sizeof *tune->space);
    tune->levels = memory_doubles(count + 1);
    if (!tune->space || !tune->levels)
        return STATUS_MEMORY;
    double *levels = tune->levels;
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        tune->space[i] = (struct seek_factor){factor->level_count, levels};
        for (size_t k = 0; k < factor->level_count; k++)
            *levels++ = factor_share(factor, factor->levels[k]);
    }
    return STATUS_OK;
}

/* Five digits: what a drawing or an order can say. */
static double five_digits(double value)
{
    char text[32];
    snprintf(text, sizeof text, "%.4e", value);
    return strtod(text, NULL);
}

/* The value of a factor at a place of the cube: the level there. */
static double value_at(const struct tune *tune, size_t at, double place)
{
    const struct factor *factor = &tune->sweep.factors[at];
    const struct seek_factor *space = &tune->space[at];
    size_t nearest = 0;
    if (factor->level_count == 0)
        return fmin(fmax(five_digits(factor->low + place * (factor->high - factor->low)), factor->low),
                    factor->high);
    for (size_t k = 1; k < space->level_count; k++) {
        if (fabs(space->levels[k] - place) < fabs(space->levels[nearest] - place))
            nearest = k;
    }
    return factor->levels[nearest];
}

static void set_values(const struct tune *tune, const double *unit, double *values)
{
    for (size_t i = 0; i < tune->sweep.factor_count; i++)
        values[i] = value_at(tune, i, unit[i]);
}

/* --- outputs: the objective of every hit, then each bound, of every hit or of the helmet --- */

static size_t output_count(const struct tune *tune)
{
    const struct case_tune *asked = &tune->base->tune;
    size_t count = tune->sweep.hit_count;
    for (size_t i = 0; i < asked->keep_count; i++)
        count += asked->keeps[i].kind == KEEP_HELMET_MASS ? 1 : tune->sweep.hit_count;
    return count;
}

static void set_groups(const struct tune *tune, int *groups)
{
    const struct case_tune *asked = &tune->base->tune;
    size_t hits = tune->sweep.hit_count;
    for (size_t k = 0; k < hits; k++)
        *groups++ = 0;
    for (size_t i = 0; i < asked->keep_count; i++) {
        size_t its = asked->keeps[i].kind == KEEP_HELMET_MASS ? 1 : hits;
        for (size_t k = 0; k < its; k++)
            *groups++ = (int)i + 1;
    }
}

static double hit_objective(const struct tune *tune, size_t row, size_t hit)
{
    int metric = tune->base->tune.metric;
    return metric < 0 ? sweep_margins(&tune->sweep, row)[hit]
                      : -sweep_metrics(&tune->sweep, row, hit)[metric];
}

static void set_outputs(const struct tune *tune, size_t row, double *outputs)
{
    const struct case_tune *asked = &tune->base->tune;
    size_t hits = tune->sweep.hit_count;
    for (size_t k = 0; k < hits; k++)
        *outputs++ = hit_objective(tune, row, k);
    for (size_t i = 0; i < asked->keep_count; i++) {
        if (asked->keeps[i].kind == KEEP_HELMET_MASS)
            *outputs++ = mass_slack(tune->sweep.points[row].mass.helmet, &asked->keeps[i]);
        for (size_t k = 0; k < hits && asked->keeps[i].kind != KEEP_HELMET_MASS; k++)
            *outputs++ = hit_slack(&tune->sweep, row, k, &asked->keeps[i]);
    }
}

/* A layout that leaves out a hit which the case as written computes is not compared with others. */
static int comparable(const struct tune *tune, size_t row)
{
    const struct sweep *sweep = &tune->sweep;
    for (size_t k = 0; k < sweep->hit_count; k++) {
        if (tune->start.states[k] == HIT_COMPUTED &&
            sweep->states[row * sweep->hit_count + k] != HIT_COMPUTED)
            return 0;
    }
    return !isnan(tune_objective(tune, sweep, row));
}

/* What is known of a layout without a run: whether it is a sound case, and what it weighs. */
static enum status know(void *context, const double *unit, double *outputs)
{
    struct tune *tune = context;
    const struct case_tune *asked = &tune->base->tune;
    struct case_file file = {0};
    struct case_result described = {0};
    struct errors refused = {0};
    set_values(tune, unit, sweep_values(&tune->scratch, 0));
    enum status status = explore_case(tune->base, &tune->scratch, 0, &file, &refused);
    if (status == STATUS_OK)
        status = batch_describe(&file, tune->model, &described, &refused);
    size_t at = tune->sweep.hit_count;
    for (size_t i = 0; status == STATUS_OK && i < asked->keep_count; i++) {
        int mass = asked->keeps[i].kind == KEEP_HELMET_MASS;
        if (mass)
            outputs[at] = mass_slack(described.mass.helmet, &asked->keeps[i]);
        at += mass ? 1 : tune->sweep.hit_count;
    }
    case_result_free(&described);
    case_free(&file);
    return status == STATUS_INPUT || status == STATUS_USAGE ? STATUS_COMPUTATION : status;
}

/* --- beginning --- */

static enum status begin_optimise(struct tune *tune)
{
    const struct case_tune *asked = &tune->base->tune;
    size_t outputs = output_count(tune);
    int *groups = memory_zeroed(outputs + 1, sizeof *groups);
    enum status status = groups ? make_space(tune) : STATUS_MEMORY;
    if (status == STATUS_OK) {
        set_groups(tune, groups);
        struct optimise_options options = {.factor_count = tune->sweep.factor_count,
                                           .factors = tune->space,
                                           .output_count = outputs,
                                           .group_count = asked->keep_count + 1,
                                           .groups = groups,
                                           .runs = asked->runs - 1,
                                           .batch = TUNE_BATCH,
                                           .seed = tune->base->sweep.seed,
                                           .known = know,
                                           .context = tune};
        status = optimise_begin(&options, &tune->optimise);
    }
    memory_free(groups);
    return status;
}

enum status tune_begin(const struct case_file *base, const char *model, struct tune *tune,
                       struct errors *errors)
{
    *tune = (struct tune){.base = base, .model = model, .best = -1};
    enum status status =
        explore_begin(base, base->tune.factors, base->tune.factor_count, model, &tune->sweep, errors);
    if (status == STATUS_OK)
        status = explore_begin(base, NULL, 0, model, &tune->start, errors);
    if (status == STATUS_OK)
        status = sweep_extend(&tune->start, 1);
    if (status == STATUS_OK)
        status = sweep_like(&tune->sweep, &tune->scratch);
    if (status == STATUS_OK)
        status = sweep_extend(&tune->scratch, 1);
    if (status == STATUS_OK)
        status = begin_optimise(tune);
    snprintf(tune->sweep.sample, sizeof tune->sweep.sample, "tune");
    tune->sweep.seed = (long)base->sweep.seed;
    tune->sweep.asked = (long)base->tune.runs;
    if (status != STATUS_OK)
        tune_free(tune);
    return status;
}

void tune_free(struct tune *tune)
{
    sweep_free(&tune->sweep);
    sweep_free(&tune->start);
    sweep_free(&tune->scratch);
    optimise_free(&tune->optimise);
    memory_free(tune->space);
    memory_free(tune->levels);
    *tune = (struct tune){.best = -1};
}

/* --- running --- */

/* Counts the runs of all questions together for the caller. */
struct counting {
    const struct explore_options *options;
    size_t before, taken_before, taken, all;
};

static void count(void *context, size_t done, size_t taken, size_t all)
{
    struct counting *counting = context;
    (void)all;
    counting->taken = taken;
    if (counting->options->progress)
        counting->options->progress(counting->options->context, counting->before + done,
                                    counting->taken_before + taken, counting->all);
}

static enum status solve(struct tune *tune, struct counting *counting, size_t first, struct sweep *sweep,
                         struct errors *errors)
{
    struct explore_options options = *counting->options;
    options.progress = count;
    options.context = counting;
    counting->taken = 0;
    enum status status = explore_solve(tune->base, &options, first, sweep, errors);
    counting->before += sweep->point_count - first;
    counting->taken_before += counting->taken;
    return status;
}

/* Rows for a question, solved and told. */
static enum status answer(struct tune *tune, struct counting *counting, const double *unit, size_t asked,
                          struct errors *errors)
{
    struct sweep *sweep = &tune->sweep;
    size_t first = sweep->point_count;
    double *outputs = memory_doubles(output_count(tune));
    enum status status = outputs ? sweep_extend(sweep, asked) : STATUS_MEMORY;
    for (size_t i = 0; status == STATUS_OK && i < asked; i++) {
        sweep->points[first + i].number = (long)(first + i + 1);
        set_values(tune, unit + i * sweep->factor_count, sweep_values(sweep, first + i));
    }
    if (status == STATUS_OK)
        status = solve(tune, counting, first, sweep, errors);
    for (size_t i = first; status == STATUS_OK && i < sweep->point_count; i++) {
        set_outputs(tune, i, outputs);
        optimise_tell(&tune->optimise, comparable(tune, i) ? outputs : NULL);
    }
    memory_free(outputs);
    return status;
}

static void find_best(struct tune *tune)
{
    for (size_t i = 0; i < tune->sweep.point_count; i++) {
        double value = tune_objective(tune, &tune->sweep, i);
        if (!comparable(tune, i) || !tune_allowed(tune, &tune->sweep, i))
            continue;
        if (tune->best < 0 ||
            tune_better(tune, value, tune_objective(tune, &tune->sweep, (size_t)tune->best)))
            tune->best = (long)i;
    }
}

enum status tune_run(struct tune *tune, const struct explore_options *options, struct errors *errors)
{
    struct counting counting = {.options = options, .all = tune->base->tune.runs};
    size_t asked = 1;
    double *unit = memory_doubles(optimise_room(&tune->optimise) * tune->sweep.factor_count);
    enum status status = unit ? solve(tune, &counting, 0, &tune->start, errors) : STATUS_MEMORY;
    while (status == STATUS_OK && asked > 0) {
        status = optimise_ask(&tune->optimise, unit, &asked);
        if (status == STATUS_OK && asked > 0)
            status = answer(tune, &counting, unit, asked, errors);
    }
    memory_free(unit);
    if (status != STATUS_OK)
        return status;
    tune->ended = tune->sweep.point_count + 1 < tune->base->tune.runs;
    find_best(tune);
    if (tune->sweep.point_count == 0)
        return node_error(&tune->base->tree,
                          tune->base->tune.place ? tune->base->tune.place : tune->base->sweep.place, errors,
                          "no layout of these ranges is a sound case within the bound on the mass");
    return STATUS_OK;
}
