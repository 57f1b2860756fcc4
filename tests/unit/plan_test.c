/*
 * The test list of a laboratory: helmets as few as possible, none struck twice at a point, the worst first.
 * Predictions are made up, so that nothing is solved.
 */
#include <math.h>
#include <stdint.h>

#include "solver/base/memory.h"
#include "solver/study/plan.h"
#include "tests/support/cases.h"
#include "tests/support/random.h"

#define HELMET                                                                                               \
    "headform: {size: J}\n"                                                                                  \
    "shell: {material: abs, thickness: 3.5 mm}\n"                                                            \
    "liner: {density: 50 g/l, thickness: 40 mm}\n"                                                           \
    "model: columns\n"

enum { MOST = 60, HITS = 1000 };

/* --- sharing out --- */

/*
 * Fewer samples than the strikes at one point would strike one of them there twice, fewer than strikes /
 * `most` would strike one too often: no rule can do with less, so a count that equals the larger of the two
 * is the least.
 */
static size_t least_samples(const size_t *point, size_t count, size_t most)
{
    size_t strikes[MOST] = {0}, least = 0;
    for (size_t i = 0; i < count; i++)
        least = ++strikes[point[i]] > least ? strikes[point[i]] : least;
    size_t by_number = most && count ? (count + most - 1) / most : 0;
    return by_number > least ? by_number : least;
}

static void check_packing(const size_t *point, size_t count, size_t most, const char *what)
{
    size_t sample[MOST], samples = 0, struck[MOST][MOST] = {{0}}, load[MOST] = {0};
    cr_assert_eq(plan_pack(point, count, most, sample, &samples), STATUS_OK);
    cr_assert_eq(samples, least_samples(point, count, most), "%s: %zu samples, least %zu", what, samples,
                 least_samples(point, count, most));
    for (size_t i = 0; i < count; i++) {
        cr_assert_lt(sample[i], samples, "%s: strike %zu", what, i);
        cr_assert_eq(struck[sample[i]][point[i]]++, 0, "%s: point %zu twice", what, point[i]);
        cr_assert(most == 0 || ++load[sample[i]] <= most, "%s: too many", what);
    }
}

Test(plan, packs_random_sets_into_the_least_number)
{
    struct random random = random_begin();
    for (int round = 0; round < 20000; round++) {
        size_t point[MOST], count = random_below(&random, MOST), points = 1 + random_below(&random, 12);
        size_t most = random_below(&random, 3) ? 1 + random_below(&random, 8) : 0;
        int uneven = (int)random_below(&random, 2);
        for (size_t i = 0; i < count; i++)
            point[i] = uneven && random_below(&random, 2) ? 0 : random_below(&random, points);
        for (size_t i = 0; i < count; i++)
            point[i] = point[i] < count ? point[i] : 0;
        check_packing(point, count, most, "random");
    }
}

/* First fit needs four samples here: it fills two with the first strikes, and three at point 3 are left. */
Test(plan, serves_the_point_that_needs_every_sample)
{
    static const size_t point[] = {0, 1, 2, 3, 3, 3};
    size_t sample[6], samples;
    check_packing(point, 6, 2, "three strikes at one point");
    plan_pack(point, 6, 2, sample, &samples);
    static const size_t wanted[] = {0, 1, 2, 0, 1, 2};
    for (int i = 0; i < 6; i++)
        cr_expect_eq(sample[i], wanted[i], "strike %d in sample %zu", i, sample[i]);
}

/* Without a largest number the n-th most urgent strike at a point goes to the n-th sample. */
Test(plan, the_first_sample_takes_the_worst_of_each_point)
{
    static const size_t point[] = {2, 0, 2, 1, 0, 2}, wanted[] = {0, 0, 1, 0, 1, 2};
    size_t sample[6], samples;
    plan_pack(point, 6, 0, sample, &samples);
    for (int i = 0; i < 6; i++)
        cr_expect_eq(sample[i], wanted[i], "strike %d in sample %zu", i, sample[i]);
}

Test(plan, packs_nothing_and_runs_out_of_memory)
{
    size_t sample[1], samples = 7, point[] = {0};
    cr_expect_eq(plan_pack(point, 0, 0, sample, &samples), STATUS_OK);
    cr_expect_eq(samples, 0);
    memory_fail_after(0);
    cr_expect_eq(plan_pack(point, 1, 0, sample, &samples), STATUS_MEMORY);
    memory_fail_after(SIZE_MAX);
}

/* --- plans of cases --- */

/* A case with a made-up result: a hit for each of its impacts' hits. */
struct scene {
    struct case_file file;
    struct case_result result;
    struct hit_result hits[HITS];
    struct judgement judgements[HITS];
    struct plan plan;
};

static void judge(struct scene *scene, size_t hit, double margin, enum verdict state)
{
    scene->judgements[hit] = (struct judgement){
        .metric = METRIC_peak, .limit = 200, .value = 200 * (1 - margin), .margin = margin};
    scene->judgements[hit].state = state;
    scene->hits[hit].judgements = &scene->judgements[hit];
    scene->hits[hit].judgement_count = 1;
}

/* From a text, or the path of a file. All hits computed, the margins falling from impact to impact. */
static struct scene *begin(const char *text)
{
    struct scene *scene = memory_zeroed(1, sizeof *scene);
    if (text[0] == '/')
        cases_load(text, NULL, 0, &scene->file);
    else
        cases_load_text(text, &scene->file);
    scene->result.hits = scene->hits;
    for (int number = 1; number <= (int)case_impact_count(&scene->file); number++) {
        const struct case_impact *impact = case_impact_find(&scene->file, number, NULL);
        for (size_t i = 0; i < impact->hit_count; i++) {
            size_t at = scene->result.hit_count++;
            cr_assert_lt(at, HITS);
            scene->hits[at] = (struct hit_result){.impact = number, .hit = (int)i + 1};
            scene->hits[at].speed = impact->speed[i];
            scene->hits[at].output.metrics[METRIC_peak] = 100 + number;
            judge(scene, at, 0.5 - 0.001 * (double)number, VERDICT_WITHIN);
        }
    }
    return scene;
}

static void plan(struct scene *scene)
{
    cr_assert_eq(plan_make(&scene->file, &scene->result, &scene->plan), STATUS_OK);
}

static void end(struct scene *scene)
{
    plan_free(&scene->plan);
    case_free(&scene->file);
    memory_free(scene);
}

/* Angle between two sites, from the scalar product, which the plan does not use. */
static double distance(const struct plan_test *a, const struct plan_test *b)
{
    const struct case_impact *x = a->impact, *y = b->impact;
    double product = sin(x->elevation) * sin(y->elevation) +
                     cos(x->elevation) * cos(y->elevation) * cos(x->azimuth - y->azimuth);
    return acos(fmin(product, 1)) * a->helmet->map.inner_radius;
}

static void check_sample(const struct plan *plan, size_t at)
{
    const struct plan_sample *sample = &plan->samples[at];
    const struct plan_group *group = &plan->groups[sample->group];
    cr_assert(group->most == 0 || sample->count <= group->most);
    for (size_t i = sample->first; i < sample->first + sample->count; i++) {
        const struct plan_test *test = &plan->tests[i];
        cr_assert_eq(test->sample, at);
        cr_assert_eq(test->group, sample->group);
        cr_assert_eq(test->helmet, group->helmet);
        cr_assert_eq(test->impact->temperature, group->temperature);
        for (size_t k = sample->first; k < i; k++) {
            cr_assert_geq(distance(test, &plan->tests[k]), group->apart - 1e-6, "sample %zu: %s and %s", at,
                          test->impact->site, plan->tests[k].impact->site);
            cr_assert_leq(plan->tests[k].margin, test->margin, "worst first within sample %zu", at);
        }
    }
}

/* What holds of every plan: each impact once, samples by their worst margin. */
static void check_plan(const struct scene *scene)
{
    const struct plan *plan = &scene->plan;
    int seen[HITS + 1] = {0};
    size_t tests = 0;
    cr_assert_eq(plan->test_count, case_impact_count(&scene->file));
    for (size_t i = 0; i < plan->test_count; i++)
        cr_assert_eq(seen[plan->tests[i].impact->number]++, 0, "impact %d once",
                     plan->tests[i].impact->number);
    for (size_t i = 0; i < plan->sample_count; i++) {
        check_sample(plan, i);
        cr_assert_eq(plan->samples[i].first, tests);
        tests += plan->samples[i].count;
        if (i > 0)
            cr_assert_leq(plan->tests[plan->samples[i - 1].first].margin,
                          plan->tests[plan->samples[i].first].margin, "worst sample first");
    }
    cr_assert_eq(tests, plan->test_count);
}

static const struct plan_group *group_at(const struct plan *plan, const char *size, const char *condition)
{
    for (size_t i = 0; i < plan->group_count; i++) {
        if (strcmp(plan->groups[i].helmet->size, size) == 0 &&
            strcmp(plan->groups[i].condition, condition) == 0)
            return &plan->groups[i];
    }
    cr_assert_fail("no group %s %s", size, condition);
    return NULL;
}

/*
 * UN R22.06 strikes P, B, R and one X with two anvils at three speeds, so 6 helmets a conditioning, and at
 * ambient temperature front, rear and right obliquely: front and rear are B and R, and right lies 19 degrees,
 * 50 mm, from X. So 7 there; 19 a size.
 */
Test(plan, un_r22_06_takes_nineteen_helmets_a_size)
{
    struct scene *scene = begin(HELMET "programme: un-r22.06\n"
                                       "sizes: {S: {headform.size: E, take_up: inner layer}, M: {}}\n");
    plan(scene);
    check_plan(scene);
    cr_expect_eq(scene->plan.sample_count, 38, "%zu samples", scene->plan.sample_count);
    static const char *const sizes[] = {"S", "M"};
    for (int i = 0; i < 2; i++) {
        cr_expect_eq(group_at(&scene->plan, sizes[i], "ambient")->sample_count, 7);
        cr_expect_eq(group_at(&scene->plan, sizes[i], "ambient")->test_count, 27);
        cr_expect_eq(group_at(&scene->plan, sizes[i], "cold")->sample_count, 6);
        cr_expect_eq(group_at(&scene->plan, sizes[i], "hot")->sample_count, 6);
    }
    end(scene);
}

/* Random margins, some undecided, some without a limit, some not computed or failed. */
Test(plan, any_predictions_are_put_in_order)
{
    struct random random = random_begin();
    for (int round = 0; round < 50; round++) {
        struct scene *scene = begin(HELMET "programme: [un-r22.05, en-1078]\n"
                                           "impacts: [{at: crown, anvil: flat, speed: 4 m/s}]\n"
                                           "limits: {peak_g: 300 g}\n");
        for (size_t i = 0; i < scene->result.hit_count; i++) {
            size_t kind = random_below(&random, 10);
            judge(scene, i, random_between(&random, -1, 1), kind == 0 ? VERDICT_UNDECIDED : VERDICT_WITHIN);
            scene->hits[i].judgement_count = kind != 1;
            if (kind == 2 || kind == 3) {
                scene->hits[i].status = kind == 2 ? HIT_NOT_COMPUTED : HIT_FAILED;
                scene->hits[i].judgement_count = 0;
            }
        }
        plan(scene);
        check_plan(scene);
        end(scene);
    }
}

/* What is not known comes last: over a limit, undecided, within, without a limit, not computed. */
Test(plan, the_order_of_what_is_not_known)
{
    struct scene *scene = begin(HELMET "impacts:\n"
                                       "  - {at: crown, anvil: flat, speed: 4 m/s}\n"
                                       "  - {at: crown, anvil: flat, speed: 5 m/s}\n"
                                       "  - {at: crown, anvil: flat, speed: 6 m/s}\n"
                                       "  - {at: crown, anvil: flat, speed: 7 m/s}\n"
                                       "  - {at: crown, anvil: flat, speed: 8 m/s}\n"
                                       "limits: {peak_g: 300 g}\n");
    scene->hits[0].status = HIT_NOT_COMPUTED;
    scene->hits[0].judgement_count = 0;
    scene->hits[1].judgement_count = 0;
    judge(scene, 2, 0.1, VERDICT_WITHIN);
    judge(scene, 3, 0.3, VERDICT_UNDECIDED);
    judge(scene, 4, -0.1, VERDICT_EXCEEDS);
    plan(scene);
    check_plan(scene);
    static const int wanted[] = {5, 4, 3, 2, 1};
    cr_assert_eq(scene->plan.sample_count, 5, "one point");
    for (int i = 0; i < 5; i++)
        cr_expect_eq(scene->plan.tests[i].impact->number, wanted[i], "place %d", i);
    cr_expect_eq(scene->plan.tests[4].missing, &scene->hits[0]);
    cr_expect_null(scene->plan.tests[4].governs);
    cr_expect_null(scene->plan.tests[3].judgement);
    end(scene);
}

/* EN 1078 gives each helmet four impacts: two helmets a conditioning. With a fifth site, as the left side is
 * struck too where it differs, ten impacts take three, though no point is struck more than twice. */
Test(plan, a_programme_bounds_the_impacts_of_a_sample)
{
    struct scene *scene = begin(HELMET "programme: en-1078\n");
    plan(scene);
    check_plan(scene);
    cr_expect_eq(scene->plan.sample_count, 6);
    cr_assert_eq(scene->plan.rule_count, 1);
    cr_expect_eq(scene->plan.rules[0]->sample_impacts, 4);
    cr_expect_str_eq(scene->plan.rules[0]->sample_provenance,
                     "seen in a secondary source, not in the standard");
    end(scene);
    scene = begin(
        "headform: {size: J}\n"
        "shell: {material: abs, thickness: 3.5 mm}\n"
        "model: columns\n"
        "liner:\n"
        "  regions:\n"
        "    - {name: left side, centre: [10 deg, -90 deg], half_angle: 20 deg, layers: [{density: 60 g/l, "
        "thickness: 40 mm}]}\n"
        "    - {name: elsewhere, layers: [{density: 50 g/l, thickness: 40 mm}]}\n"
        "programme: en-1078\n");
    plan(scene);
    check_plan(scene);
    cr_expect_eq(scene->plan.test_count, 30);
    cr_expect_eq(scene->plan.sample_count, 9, "%zu samples", scene->plan.sample_count);
    end(scene);
}

static void write_text(const char *path, const char *text)
{
    FILE *stream = fopen(path, "w");
    cr_assert(stream && fputs(text, stream) >= 0 && fclose(stream) == 0, "%s", path);
}

/* Writes a programme of one test at three sites that says `sample` of its helmets. */
static void write_programme(const char *path, const char *speed, const char *sample)
{
    char text[512];
    snprintf(text, sizeof text,
             "headforms: {sizes: [J]}\n"
             "sites: [a, b, c]\n"
             "anvils: [flat]\n"
             "conditions: {ambient: 23 degC}\n"
             "%stests: [{name: t, speed: %s, limits: none}]\n",
             sample, speed);
    write_text(path, text);
}

/* Samples for impacts at these elevations, under one programme or, with `other`, also under a second one. */
static size_t samples_of(const int elevation[3], const char *sample, const char *other)
{
    char folder[] = "/tmp/foampulse_plan_XXXXXX", path[64], house[64], second[64], text[1024];
    cr_assert_not_null(mkdtemp(folder));
    snprintf(house, sizeof house, "%s/house.yaml", folder);
    snprintf(second, sizeof second, "%s/second.yaml", folder);
    snprintf(path, sizeof path, "%s/case.yaml", folder);
    write_programme(house, "4 m/s", sample);
    write_programme(second, "5 m/s", other ? other : "");
    snprintf(text, sizeof text,
             HELMET "sites: {a: [%d deg, 45 deg], b: [%d deg, 45 deg], c: [%d deg, 45 deg]}\n"
                    "programme: [./house.yaml%s]\n",
             elevation[0], elevation[1], elevation[2], other ? ", ./second.yaml" : "");
    write_text(path, text);
    struct scene *scene = begin(path);
    plan(scene);
    check_plan(scene);
    size_t samples = scene->plan.sample_count;
    end(scene);
    unlink(house);
    unlink(second);
    unlink(path);
    rmdir(folder);
    return samples;
}

/* Six impacts on three points: two samples, three where one programme allows two impacts a helmet. Where one
 * keeps points 120 mm apart, and these are 40 degrees or 91 mm from each other, all are one: six. */
Test(plan, the_stricter_of_two_programmes_holds)
{
    static const int elevation[] = {88, 48, 8};
    static const char two[] = "sample: {impacts: 2}\n", three[] = "sample: {impacts: 3}\n",
                      wide[] = "sample: {apart: 120 mm}\n", narrow[] = "sample: {apart: 20 mm}\n";
    cr_expect_eq(samples_of(elevation, "", ""), 2);
    cr_expect_eq(samples_of(elevation, three, ""), 2);
    cr_expect_eq(samples_of(elevation, two, three), 3);
    cr_expect_eq(samples_of(elevation, three, two), 3);
    cr_expect_eq(samples_of(elevation, wide, narrow), 6);
    cr_expect_eq(samples_of(elevation, narrow, wide), 6);
    cr_expect_eq(samples_of(elevation, narrow, ""), 2);
}

/*
 * The inner face of the shell has a radius of 90.7 + 40 mm: 120 mm are 52.6 degrees of it, 80 mm, which hold
 * where no programme says more, 35.1 degrees. Points nearer than that are one, and so are the ends of a
 * chain: three strikes at one point take three samples, at three points one.
 */
Test(plan, points_that_lie_near_are_one)
{
    static const char apart[] = "sample: {apart: 120 mm}\n";
    static const struct {
        const char *sample;
        int elevation[3];
        size_t samples;
    } rows[] = {{apart, {88, 36, -16}, 3}, {apart, {88, 35, -16}, 2}, {apart, {88, 35, -18}, 1},
                {apart, {88, -16, 36}, 3}, {"", {88, 53, 18}, 3},     {"", {88, 53, 17}, 2},
                {"", {88, 52, 16}, 1},     {apart, {36, 88, -16}, 3}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        cr_expect_eq(samples_of(rows[i].elevation, rows[i].sample, NULL), rows[i].samples, "row %zu", i);
}

/* Wet helmets are of their own, though as warm as others; a temperature without a name is that of any name.
 */
Test(plan, conditioning_by_name_and_temperature)
{
    struct scene *scene = begin(HELMET "impacts:\n"
                                       "  - {at: crown, anvil: flat, speed: 4 m/s, temperature: 23 degC}\n"
                                       "  - {at: front, anvil: flat, speed: 4 m/s, condition: wet}\n"
                                       "  - {at: rear, anvil: flat, speed: 4 m/s, condition: ambient}\n"
                                       "  - {at: right, anvil: flat, speed: 4 m/s, condition: cold}\n");
    plan(scene);
    check_plan(scene);
    cr_assert_eq(scene->plan.group_count, 3);
    cr_expect_eq(scene->plan.sample_count, 3);
    cr_expect_eq(group_at(&scene->plan, "", "ambient")->test_count, 2);
    cr_expect_eq(group_at(&scene->plan, "", "wet")->test_count, 1);
    cr_expect_eq(group_at(&scene->plan, "", "cold")->test_count, 1);
    end(scene);
}

/* Two hits of one impact are one strike, judged by the worse of them; FMVSS 218 gives a helmet four points.
 */
Test(plan, hits_of_one_impact_stay_together)
{
    struct scene *scene = begin("headform: {set: fmvss-218, size: M, circumference: 570 mm}\n"
                                "shell: {material: abs, thickness: 3.5 mm}\n"
                                "liner: {density: 50 g/l, thickness: 40 mm}\n"
                                "model: columns\n"
                                "programme: {name: fmvss-218, temperatures: [ambient]}\n");
    judge(scene, 5, -0.2, VERDICT_EXCEEDS); /* hit 2 of impact 3 */
    judge(scene, 0, -0.1, VERDICT_EXCEEDS); /* hit 1 of impact 1 */
    scene->hits[3].status = HIT_FAILED;     /* hit 2 of impact 2 */
    scene->hits[3].judgement_count = 0;
    scene->hits[6].judgement_count = scene->hits[7].judgement_count = 0; /* no limits on impact 4 */
    scene->hits[7].output.metrics[METRIC_peak] = 300;
    plan(scene);
    check_plan(scene);
    cr_expect_eq(scene->plan.test_count, 8);
    cr_expect_eq(scene->plan.sample_count, 2);
    cr_expect_eq(scene->plan.groups[0].most, 4);
    const struct plan_test *worst = &scene->plan.tests[0];
    cr_expect_eq(worst->impact->number, 3);
    cr_expect_eq(worst->hit_count, 2);
    cr_expect_eq(worst->governs, &scene->hits[5]);
    cr_expect_eq(scene->plan.tests[1].governs, &scene->hits[0]);
    for (size_t i = 0; i < 8; i++) {
        const struct plan_test *test = &scene->plan.tests[i];
        cr_expect_eq(test->missing, test->impact->number == 2 ? &scene->hits[3] : NULL);
        cr_expect(test->impact->number != 2 || test->governs == &scene->hits[2]);
        cr_expect(test->impact->number != 4 || test->governs == &scene->hits[7], "the larger peak");
    }
    end(scene);
}

/* A pad has one face: each impact takes a new one. */
Test(plan, every_impact_on_a_pad_takes_a_new_one)
{
    struct scene *scene =
        begin("pad: {area: 60 cm2, layers: [{foam: eps, density: 50 g/l, thickness: 30 mm}]}\n"
              "striker: {mass: 5 kg}\n"
              "impacts: [{speed: 4 m/s}, {speed: 5 m/s}, {hits: [4 m/s, 3 m/s]}]\n");
    plan(scene);
    cr_expect_eq(scene->plan.test_count, 3);
    cr_expect_eq(scene->plan.sample_count, 3);
    end(scene);
}

Test(plan, a_failed_allocation_is_told)
{
    struct scene *scene = begin(HELMET "programme: en-1078\n");
    for (size_t at = 0;; at++) {
        size_t before = memory_failures();
        memory_fail_after(at);
        enum status status = plan_make(&scene->file, &scene->result, &scene->plan);
        memory_fail_after(SIZE_MAX);
        if (memory_failures() == before) {
            cr_assert_eq(status, STATUS_OK);
            cr_assert_gt(at, 6);
            break;
        }
        cr_assert_eq(status, STATUS_MEMORY, "allocation %zu", at);
        cr_assert_null(scene->plan.tests);
    }
    end(scene);
}
