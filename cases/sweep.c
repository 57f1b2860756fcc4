#include "cases/sweep.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cases/factor.h"
#include "solver/base/memory.h"

enum { WHY = 128, MESSAGE = 1024 };

const char *sweep_status_text(int status)
{
    static const char *const names[] = {"computed", "failed", "refused"};
    return status >= 0 && status <= SWEEP_REFUSED ? names[status] : NULL;
}

double *sweep_values(const struct sweep *sweep, size_t point)
{
    return sweep->values + point * sweep->factor_count;
}

double *sweep_metrics(const struct sweep *sweep, size_t point, size_t hit)
{
    return sweep->metrics + (point * sweep->hit_count + hit) * METRIC_COUNT;
}

double *sweep_margins(const struct sweep *sweep, size_t point)
{
    return sweep->margins + point * sweep->hit_count;
}

/* --- room --- */

static int resize(void *array, size_t before, size_t count, size_t size)
{
    void **block = array;
    void *longer = memory_resized(*block, before, count > 0 ? count : 1, size);
    if (longer)
        *block = longer;
    return longer != NULL;
}

static void fill_nan(double *values, size_t count)
{
    for (size_t i = 0; i < count; i++)
        values[i] = NAN;
}

enum status sweep_extend(struct sweep *sweep, size_t count)
{
    size_t before = sweep->point_count, all = before + count, hits = sweep->hit_count;
    size_t factors = sweep->factor_count;
    if (!resize(&sweep->points, before, all, sizeof *sweep->points) ||
        !resize(&sweep->values, before * factors, all * factors, sizeof(double)) ||
        !resize(&sweep->metrics, before * hits * METRIC_COUNT, all * hits * METRIC_COUNT, sizeof(double)) ||
        !resize(&sweep->margins, before * hits, all * hits, sizeof(double)) ||
        !resize(&sweep->states, before * hits, all * hits, 1))
        return STATUS_MEMORY;
    fill_nan(sweep->values + before * factors, count * factors);
    fill_nan(sweep->metrics + before * hits * METRIC_COUNT, count * hits * METRIC_COUNT);
    fill_nan(sweep->margins + before * hits, count * hits);
    memset(sweep->states + before * hits, HIT_NOT_COMPUTED, count * hits);
    sweep->point_count = all;
    for (size_t i = before; i < all; i++)
        sweep->points[i] = (struct sweep_point){.status = SWEEP_REFUSED,
                                                .mass = {NAN, NAN, NAN, NAN, NAN},
                                                .verdict = VERDICT_NOT_COMPUTED,
                                                .worst_margin = NAN,
                                                .worst_hit = -1,
                                                .worst_metric = -1,
                                                .stroke_left = NAN};
    return STATUS_OK;
}

/* --- from a result --- */

static double least_margin(const struct hit_result *hit)
{
    double least = NAN;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        double margin = hit->judgements[i].margin;
        if (isnan(least) || margin < least)
            least = margin;
    }
    return least;
}

static enum status take_why(const struct hit_result *hit, struct sweep_point *point)
{
    char text[WHY];
    if (!hit->why[0])
        return STATUS_OK;
    snprintf(text, sizeof text, "%s, %s %d", hit->why, hit->why_region, hit->why_layer);
    point->why = memory_text(text);
    return point->why ? STATUS_OK : STATUS_MEMORY;
}

static void take_hit(struct sweep *sweep, size_t at, size_t column, const struct hit_result *hit)
{
    struct sweep_point *point = &sweep->points[at];
    sweep->states[at * sweep->hit_count + column] = (unsigned char)hit->status;
    if (hit->status == HIT_FAILED)
        point->status = SWEEP_FAILED;
    if (hit->status != HIT_COMPUTED)
        return;
    memcpy(sweep_metrics(sweep, at, column), hit->output.metrics, METRIC_COUNT * sizeof(double));
    sweep_margins(sweep, at)[column] = least_margin(hit);
    double left = 1.0 - hit->output.metrics[METRIC_crush_fraction];
    if (isnan(point->stroke_left) || left < point->stroke_left)
        point->stroke_left = left;
}

enum status sweep_take(struct sweep *sweep, size_t at, const struct case_result *result)
{
    struct sweep_point *point = &sweep->points[at];
    enum status status = STATUS_OK;
    point->status = SWEEP_COMPUTED;
    point->mass = result->mass;
    point->verdict = result->verdict;
    point->worst_margin = result->worst_margin;
    point->worst_hit = result->worst_hit;
    point->worst_metric = result->worst_metric;
    for (size_t k = 0; k < sweep->hit_count; k++)
        take_hit(sweep, at, k, &result->hits[k]);
    for (size_t k = 0; k < sweep->hit_count && point->status == SWEEP_FAILED && !point->message; k++) {
        char text[MESSAGE];
        if (result->hits[k].status != HIT_FAILED)
            continue;
        snprintf(text, sizeof text, "impact %d: %s", result->hits[k].impact, result->hits[k].message);
        point->message = memory_text(text);
        status = point->message ? STATUS_OK : STATUS_MEMORY;
    }
    if (status == STATUS_OK && point->worst_hit >= 0)
        status = take_why(&result->hits[point->worst_hit], point);
    return status;
}

/* --- journal --- */

static void pack_maybe(struct pack *pack, const char *text)
{
    pack_text(pack, text ? text : "");
}

void sweep_pack(const struct sweep *sweep, size_t at, struct pack *pack)
{
    const struct sweep_point *point = &sweep->points[at];
    const double numbers[] = {point->mass.helmet, point->mass.shell,   point->mass.liner, point->mass.comfort,
                              point->mass.other,  point->worst_margin, point->stroke_left};
    pack_integer(pack, (uint64_t)point->status);
    pack_integer(pack, (uint64_t)point->verdict);
    pack_integer(pack, (uint64_t)point->worst_hit + 1);
    pack_integer(pack, (uint64_t)point->worst_metric + 1);
    pack_doubles(pack, numbers, sizeof numbers / sizeof *numbers);
    pack_maybe(pack, point->message);
    pack_maybe(pack, point->why);
    pack_integer(pack, sweep->hit_count);
    for (size_t k = 0; k < sweep->hit_count; k++)
        pack_integer(pack, sweep->states[at * sweep->hit_count + k]);
    pack_doubles(pack, sweep_margins(sweep, at), sweep->hit_count);
    pack_doubles(pack, sweep_metrics(sweep, at, 0), sweep->hit_count * METRIC_COUNT);
}

/* An integer that has to be below `limit`. */
static int unpack_choice(struct unpack *unpack, uint64_t limit)
{
    uint64_t value = unpack_integer(unpack);
    unpack->bad |= value >= limit;
    return unpack->bad ? 0 : (int)value;
}

static char *unpack_maybe(struct unpack *unpack)
{
    char text[MESSAGE];
    unpack_text(unpack, text, sizeof text);
    if (unpack->bad || !text[0])
        return NULL;
    char *copy = memory_text(text);
    unpack->out_of_memory |= !copy;
    return copy;
}

enum status sweep_unpack(struct sweep *sweep, size_t at, struct unpack *unpack)
{
    struct sweep_point *point = &sweep->points[at];
    double numbers[7];
    point->status = (enum sweep_status)unpack_choice(unpack, SWEEP_REFUSED + 1);
    point->verdict = (enum verdict)unpack_choice(unpack, VERDICT_INCOMPLETE + 1);
    point->worst_hit = unpack_choice(unpack, sweep->hit_count + 1) - 1;
    point->worst_metric = unpack_choice(unpack, METRIC_COUNT + 1) - 1;
    unpack_doubles(unpack, numbers, 7);
    point->mass = (struct mass_by_part){numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]};
    point->worst_margin = numbers[5];
    point->stroke_left = numbers[6];
    point->message = unpack_maybe(unpack);
    point->why = unpack_maybe(unpack);
    unpack->bad |= unpack_integer(unpack) != sweep->hit_count;
    for (size_t k = 0; k < sweep->hit_count && !unpack->bad; k++)
        sweep->states[at * sweep->hit_count + k] = (unsigned char)unpack_choice(unpack, HIT_FAILED + 1);
    if (!unpack->bad) {
        unpack_doubles(unpack, sweep_margins(sweep, at), sweep->hit_count);
        unpack_doubles(unpack, sweep_metrics(sweep, at, 0), sweep->hit_count * METRIC_COUNT);
    }
    if (unpack->out_of_memory)
        return STATUS_MEMORY;
    return unpack->bad || unpack->left ? STATUS_INPUT : STATUS_OK;
}

/* --- copies and order --- */

static enum status copy_text(const char *from, char **to)
{
    *to = from ? memory_text(from) : NULL;
    return from && !*to ? STATUS_MEMORY : STATUS_OK;
}

enum status sweep_copy_point(const struct sweep *from, size_t at, struct sweep *to, size_t to_at)
{
    const struct sweep_point *source = &from->points[at];
    struct sweep_point *point = &to->points[to_at];
    long number = point->number;
    *point = *source;
    point->number = number;
    point->message = point->why = NULL;
    memcpy(sweep_metrics(to, to_at, 0), sweep_metrics(from, at, 0),
           to->hit_count * METRIC_COUNT * sizeof(double));
    memcpy(sweep_margins(to, to_at), sweep_margins(from, at), to->hit_count * sizeof(double));
    memcpy(to->states + to_at * to->hit_count, from->states + at * to->hit_count, to->hit_count);
    enum status status = copy_text(source->message, &point->message);
    return status_worse(status, copy_text(source->why, &point->why));
}

static enum status copy_lines(char **from, size_t count, char ***to, size_t *to_count)
{
    enum status status = STATUS_OK;
    for (size_t i = 0; i < count && status == STATUS_OK; i++)
        status = result_note(to, to_count, "%s", from[i]);
    return status;
}

static enum status copy_factors(const struct sweep *from, struct sweep *to)
{
    to->factors = memory_zeroed(from->factor_count + 1, sizeof *to->factors);
    enum status status = to->factors ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; i < from->factor_count && status == STATUS_OK; i++) {
        status = factor_copy(&from->factors[i], &to->factors[i]);
        to->factor_count += status == STATUS_OK;
    }
    return status;
}

static enum status copy_hits(const struct sweep *from, struct sweep *to)
{
    to->hits = memory_zeroed(from->hit_count + 1, sizeof *to->hits);
    to->limits = memory_doubles(from->hit_count * METRIC_COUNT + 1);
    if (!to->hits || !to->limits)
        return STATUS_MEMORY;
    to->hit_count = from->hit_count;
    memcpy(to->hits, from->hits, from->hit_count * sizeof *to->hits);
    memcpy(to->limits, from->limits, from->hit_count * METRIC_COUNT * sizeof *to->limits);
    return STATUS_OK;
}

enum status sweep_like(const struct sweep *sweep, struct sweep *empty)
{
    *empty = (struct sweep){.seed = sweep->seed,
                            .asked = sweep->asked,
                            .target = sweep->target,
                            .helmet_mass_limit = sweep->helmet_mass_limit};
    memcpy(empty->case_hash, sweep->case_hash, sizeof empty->case_hash);
    memcpy(empty->frame, sweep->frame, sizeof empty->frame);
    memcpy(empty->model, sweep->model, sizeof empty->model);
    memcpy(empty->sample, sweep->sample, sizeof empty->sample);
    enum status status = copy_text(sweep->title, &empty->title);
    status = status_worse(status, copy_text(sweep->case_text, &empty->case_text));
    if (status == STATUS_OK)
        status = copy_factors(sweep, empty);
    if (status == STATUS_OK)
        status = copy_hits(sweep, empty);
    if (status == STATUS_OK)
        status = copy_lines(sweep->notes, sweep->note_count, &empty->notes, &empty->note_count);
    if (status == STATUS_OK)
        status = copy_lines(sweep->warnings, sweep->warning_count, &empty->warnings, &empty->warning_count);
    if (status == STATUS_OK)
        status = copy_lines(sweep->not_covered, sweep->not_covered_count, &empty->not_covered,
                            &empty->not_covered_count);
    if (status != STATUS_OK)
        sweep_free(empty);
    return status;
}

struct ranked {
    int group;      /* 0 decided, 1 something is undecided, 2 no margin */
    size_t missing; /* hits that were not computed */
    double margin;
    size_t at;
};

static struct ranked rank_of(const struct sweep *sweep, size_t at)
{
    const struct sweep_point *point = &sweep->points[at];
    int none = point->status != SWEEP_COMPUTED || isnan(point->worst_margin);
    size_t missing = 0;
    for (size_t k = 0; k < sweep->hit_count; k++)
        missing += sweep->states[at * sweep->hit_count + k] != HIT_COMPUTED;
    return (struct ranked){none ? 2 : point->verdict == VERDICT_UNDECIDED, missing,
                           none ? 0.0 : point->worst_margin, at};
}

static int compare_ranked(const void *left, const void *right)
{
    const struct ranked *a = left, *b = right;
    if (a->group != b->group)
        return a->group - b->group;
    if (a->missing != b->missing)
        return a->missing < b->missing ? -1 : 1;
    if (a->margin != b->margin)
        return a->margin > b->margin ? -1 : 1;
    return a->at < b->at ? -1 : a->at > b->at;
}

size_t *sweep_order(const struct sweep *sweep)
{
    size_t count = sweep->point_count;
    struct ranked *ranked = memory_zeroed(count + 1, sizeof *ranked);
    size_t *order = memory_zeroed(count + 1, sizeof *order);
    for (size_t i = 0; ranked && i < count; i++)
        ranked[i] = rank_of(sweep, i);
    if (ranked && order) {
        qsort(ranked, count, sizeof *ranked, compare_ranked);
        for (size_t i = 0; i < count; i++)
            order[i] = ranked[i].at;
    } else {
        memory_free(order);
        order = NULL;
    }
    memory_free(ranked);
    return order;
}

static void free_lines(char **lines, size_t count)
{
    for (size_t i = 0; i < count; i++)
        memory_free(lines[i]);
    memory_free(lines);
}

void sweep_free(struct sweep *sweep)
{
    for (size_t i = 0; i < sweep->point_count; i++) {
        memory_free(sweep->points[i].message);
        memory_free(sweep->points[i].why);
    }
    factors_free(&sweep->factors, &sweep->factor_count);
    free_lines(sweep->notes, sweep->note_count);
    free_lines(sweep->warnings, sweep->warning_count);
    free_lines(sweep->not_covered, sweep->not_covered_count);
    memory_free(sweep->title);
    memory_free(sweep->case_text);
    memory_free(sweep->hits);
    memory_free(sweep->limits);
    memory_free(sweep->points);
    memory_free(sweep->values);
    memory_free(sweep->metrics);
    memory_free(sweep->margins);
    memory_free(sweep->states);
    *sweep = (struct sweep){0};
}
