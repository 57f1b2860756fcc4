#include "solver/study/plan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cases/stack.h"
#include "solver/base/memory.h"
#include "solver/base/numeric.h"

const double plan_apart = 0.08;

/* --- sharing out -----------------------------------------------------------------------------------------
 */

/* One sample while it is filled; `left` samples are still to be filled, this one among them. */
struct filling {
    const size_t *point;
    size_t *sample, *waiting; /* waiting: strikes at each point that have no sample yet */
    size_t count, most, now, left, taken;
};

enum { NO_SAMPLE = -1 };

static int is_struck(const struct filling *filling, size_t point)
{
    for (size_t i = 0; i < filling->count; i++) {
        if (filling->sample[i] == filling->now && filling->point[i] == point)
            return 1;
    }
    return 0;
}

/* Takes what is urgent and fits. `needed`: only at points that every sample left has to strike. */
static void fill_sample(struct filling *filling, int needed)
{
    for (size_t i = 0; i < filling->count && filling->taken < filling->most; i++) {
        size_t point = filling->point[i];
        if (filling->sample[i] != (size_t)NO_SAMPLE || (needed && filling->waiting[point] < filling->left) ||
            is_struck(filling, point))
            continue;
        filling->sample[i] = filling->now;
        filling->waiting[point]--;
        filling->taken++;
    }
}

/*
 * Filling samples one after the other to the brim keeps to the least number if a point with as many strikes
 * waiting as there are samples left is served first. With k samples left, at most k strikes wait at a point
 * and at most k most in all; so at most `most` points have to be served, and after this sample at most k - 1
 * wait at each. Either `most` were taken, which leaves (k - 1) most, or every point that waited was struck,
 * fewer than `most`, at each of which at most k - 1 wait.
 */
enum status plan_pack(const size_t *point, size_t count, size_t most, size_t *sample, size_t *sample_count)
{
    size_t *waiting = memory_zeroed(count + 1, sizeof *waiting), samples = 0;
    *sample_count = 0;
    if (!waiting)
        return STATUS_MEMORY;
    for (size_t i = 0; i < count; i++) {
        sample[i] = (size_t)NO_SAMPLE;
        samples = ++waiting[point[i]] > samples ? waiting[point[i]] : samples;
    }
    most = most == 0 ? count : most;
    if (count > 0 && (count - 1) / most + 1 > samples)
        samples = (count - 1) / most + 1;
    for (size_t i = 0; i < samples; i++) {
        struct filling filling = {point, sample, waiting, count, most, i, samples - i, 0};
        fill_sample(&filling, 1);
        fill_sample(&filling, 0);
    }
    memory_free(waiting);
    *sample_count = samples;
    return STATUS_OK;
}

/* --- tests -----------------------------------------------------------------------------------------------
 */

static double margin_of(const struct judgement *judgement)
{
    return judgement->state == VERDICT_UNDECIDED ? 0.0 : judgement->margin;
}

/* Whether a computed hit without limits tells more than the one chosen so far. */
static int is_harder(const struct hit_result *hit, const struct plan_test *test)
{
    double own = hit->output.metrics[METRIC_peak];
    return !test->governs || (!test->judgement && own > test->governs->output.metrics[METRIC_peak]);
}

/* Chooses the hit and the limit that decide. */
static void judge_test(struct plan_test *test)
{
    test->margin = INFINITY;
    for (size_t i = 0; i < test->hit_count; i++) {
        const struct hit_result *hit = &test->hits[i];
        if (hit->status != HIT_COMPUTED) {
            test->missing = test->missing ? test->missing : hit;
            continue;
        }
        if (is_harder(hit, test))
            test->governs = hit;
        for (size_t k = 0; k < hit->judgement_count; k++) {
            if (!(margin_of(&hit->judgements[k]) < test->margin))
                continue;
            test->margin = margin_of(&hit->judgements[k]);
            test->judgement = &hit->judgements[k];
            test->governs = hit;
        }
    }
}

static void make_tests(const struct case_file *file, const struct case_result *result, struct plan *plan)
{
    for (size_t i = 0; i < result->hit_count; i += plan->tests[plan->test_count++].hit_count) {
        struct plan_test *test = &plan->tests[plan->test_count];
        *test = (struct plan_test){.hits = &result->hits[i]};
        while (i + test->hit_count < result->hit_count &&
               result->hits[i + test->hit_count].impact == result->hits[i].impact)
            test->hit_count++;
        test->impact = case_impact_find(file, result->hits[i].impact, &test->helmet);
        judge_test(test);
    }
}

/* By margin, then the larger peak, then those without a prediction; ties as the case has them. */
static int by_margin(const void *a, const void *b)
{
    const struct plan_test *x = a, *y = b;
    if (x->margin != y->margin)
        return x->margin < y->margin ? -1 : 1;
    double left = x->governs ? x->governs->output.metrics[METRIC_peak] : -INFINITY,
           right = y->governs ? y->governs->output.metrics[METRIC_peak] : -INFINITY;
    if (left != right)
        return left > right ? -1 : 1;
    return (x->impact->number > y->impact->number) - (x->impact->number < y->impact->number);
}

/* --- groups ----------------------------------------------------------------------------------------------
 */

/* A temperature without a name is that of any name. */
static int belongs(const struct plan_group *group, const struct plan_test *test)
{
    const char *condition = test->impact->condition;
    return group->helmet == test->helmet && group->temperature == test->impact->temperature &&
           group->wet == (strcmp(condition, "wet") == 0) &&
           (!condition[0] || !group->condition[0] || strcmp(condition, group->condition) == 0);
}

static struct plan_group *group_of(struct plan *plan, const struct plan_test *test)
{
    for (size_t i = 0; i < plan->group_count; i++) {
        if (belongs(&plan->groups[i], test))
            return &plan->groups[i];
    }
    struct plan_group *group = &plan->groups[plan->group_count++];
    *group = (struct plan_group){.helmet = test->helmet,
                                 .temperature = test->impact->temperature,
                                 .wet = strcmp(test->impact->condition, "wet") == 0,
                                 .apart = NAN};
    return group;
}

static void note_rule(struct plan *plan, const struct case_test *rule)
{
    int says = rule->sample_impacts > 0 || !isnan(rule->sample_apart);
    for (size_t i = 0; i < plan->rule_count; i++)
        says = says && strcmp(plan->rules[i]->programme, rule->programme) != 0;
    if (says && plan->rule_count < CASE_PROGRAMMES)
        plan->rules[plan->rule_count++] = rule;
}

/* What the programmes that a test serves allow holds for its group: the fewest impacts, the widest spacing.
 */
static void add_rules(struct plan *plan, const struct plan_test *test, struct plan_group *group)
{
    for (size_t i = 0; i < test->impact->test_count; i++) {
        const struct case_test *rule = &test->helmet->tests[test->impact->tests[i]];
        size_t most = (size_t)rule->sample_impacts;
        note_rule(plan, rule);
        if (most > 0 && (group->most == 0 || most < group->most))
            group->most = most;
        if (rule->sample_apart > group->apart || isnan(group->apart))
            group->apart = rule->sample_apart;
    }
}

/* Tests in the order of the case. */
static void make_groups(struct plan *plan)
{
    for (size_t i = 0; i < plan->test_count; i++) {
        struct plan_test *test = &plan->tests[i];
        struct plan_group *group = group_of(plan, test);
        test->group = (size_t)(group - plan->groups);
        group->test_count++;
        if (!group->condition[0])
            memcpy(group->condition, test->impact->condition, sizeof group->condition);
        add_rules(plan, test, group);
    }
    for (size_t i = 0; i < plan->group_count; i++) {
        if (isnan(plan->groups[i].apart))
            plan->groups[i].apart = plan_apart;
    }
}

/* --- points ----------------------------------------------------------------------------------------------
 */

/* Angle between two directions [rad], from the chord: exact where they are close. */
static double angle_between(const struct case_impact *a, const struct case_impact *b)
{
    double chord = 0;
    const double x[] = {numeric_cos(a->elevation) * numeric_cos(a->azimuth),
                        numeric_cos(a->elevation) * numeric_sin(a->azimuth), numeric_sin(a->elevation)},
                 y[] = {numeric_cos(b->elevation) * numeric_cos(b->azimuth),
                        numeric_cos(b->elevation) * numeric_sin(b->azimuth), numeric_sin(b->elevation)};
    for (int i = 0; i < 3; i++)
        chord += (x[i] - y[i]) * (x[i] - y[i]);
    double half = 0.5 * sqrt(chord);
    return half >= 1.0 ? 3.14159265358979323846 : 2.0 * numeric_atan2(half, sqrt(1.0 - half * half));
}

/* A pad has one face, which is its only point. */
static int same_point(const struct plan_test *a, const struct plan_test *b, double apart)
{
    static const double equal = 1e-9; /* [rad] */
    if (a->helmet->pad.present)
        return 1;
    double angle = angle_between(a->impact, b->impact);
    return angle < equal || angle * stack_inner_radius(a->helmet) < apart;
}

/* The tests of one group, the worst first, while they are shared out. */
struct sharing {
    size_t count;
    size_t *at;             /* (count) indices in the plan */
    size_t *point, *sample; /* (count) */
};

/* Joins the points of two tests, and with them all that were joined to either. */
static void join(struct sharing *sharing, size_t a, size_t b)
{
    size_t old = sharing->point[a], new = sharing->point[b];
    for (size_t i = 0; i < sharing->count; i++) {
        if (sharing->point[i] == old)
            sharing->point[i] = new;
    }
}

static void find_points(const struct plan *plan, double apart, struct sharing *sharing)
{
    for (size_t i = 0; i < sharing->count; i++)
        sharing->point[i] = i;
    for (size_t i = 0; i < sharing->count; i++) {
        for (size_t k = 0; k < i; k++) {
            if (sharing->point[i] != sharing->point[k] &&
                same_point(&plan->tests[sharing->at[i]], &plan->tests[sharing->at[k]], apart))
                join(sharing, i, k);
        }
    }
}

/* --- samples ---------------------------------------------------------------------------------------------
 */

/* Adds the samples of a group. Until all are in order a test names its sample by the worst test of it. */
static void add_samples(struct plan *plan, size_t group, const struct sharing *sharing)
{
    for (size_t i = 0; i < sharing->count; i++) {
        struct plan_test *test = &plan->tests[sharing->at[i]];
        struct plan_sample *sample = &plan->samples[plan->sample_count + sharing->sample[i]];
        if (sample->count++ == 0)
            *sample = (struct plan_sample){group, sharing->at[i], 1};
        test->point = sharing->point[i];
        test->sample = sample->first;
    }
    plan->sample_count += plan->groups[group].sample_count;
}

static enum status share_group(struct plan *plan, size_t at, struct sharing *sharing)
{
    struct plan_group *group = &plan->groups[at];
    sharing->count = 0;
    for (size_t i = 0; i < plan->test_count; i++) {
        if (plan->tests[i].group == at)
            sharing->at[sharing->count++] = i;
    }
    find_points(plan, group->apart, sharing);
    enum status status =
        plan_pack(sharing->point, sharing->count, group->most, sharing->sample, &group->sample_count);
    if (status == STATUS_OK)
        add_samples(plan, at, sharing);
    return status;
}

static enum status share_out(struct plan *plan)
{
    size_t *room = memory_zeroed(3 * plan->test_count + 1, sizeof *room);
    struct sharing sharing = {0, room, room + plan->test_count, room + 2 * plan->test_count};
    enum status status = room ? STATUS_OK : STATUS_MEMORY;
    for (size_t i = 0; i < plan->group_count && status == STATUS_OK; i++)
        status = share_group(plan, i, &sharing);
    memory_free(room);
    return status;
}

/* By the place of their worst test in the order of margins. */
static int by_worst(const void *a, const void *b)
{
    const struct plan_sample *x = a, *y = b;
    return (x->first > y->first) - (x->first < y->first);
}

static int by_sample(const void *a, const void *b)
{
    const struct plan_test *x = a, *y = b;
    return x->sample != y->sample ? (x->sample > y->sample) - (x->sample < y->sample) : by_margin(a, b);
}

/* Samples and tests in order, each with its number. */
static void put_in_order(struct plan *plan)
{
    size_t at = 0;
    qsort(plan->samples, plan->sample_count, sizeof *plan->samples, by_worst);
    qsort(plan->tests, plan->test_count, sizeof *plan->tests, by_sample);
    for (size_t i = 0; i < plan->sample_count; i++) {
        plan->samples[i].first = at;
        for (size_t k = 0; k < plan->samples[i].count; k++)
            plan->tests[at++].sample = i;
    }
}

enum status plan_make(const struct case_file *file, const struct case_result *result, struct plan *plan)
{
    size_t most = result->hit_count + 1;
    *plan = (struct plan){.tests = memory_zeroed(most, sizeof *plan->tests),
                          .groups = memory_zeroed(most, sizeof *plan->groups),
                          .samples = memory_zeroed(most, sizeof *plan->samples)};
    enum status status = plan->tests && plan->groups && plan->samples ? STATUS_OK : STATUS_MEMORY;
    if (status == STATUS_OK) {
        make_tests(file, result, plan);
        make_groups(plan);
        qsort(plan->tests, plan->test_count, sizeof *plan->tests, by_margin);
        status = share_out(plan);
    }
    if (status == STATUS_OK)
        put_in_order(plan);
    else
        plan_free(plan);
    return status;
}

void plan_free(struct plan *plan)
{
    memory_free(plan->tests);
    memory_free(plan->groups);
    memory_free(plan->samples);
    *plan = (struct plan){0};
}
