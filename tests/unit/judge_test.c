#include <criterion/criterion.h>
#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/study/judge.h"

/* Verdicts on made-up outputs. */

enum { HITS = 3, LAYERS = 2 };

struct scene {
    struct case_file file;
    struct case_result result;
    struct hit_result hits[HITS];
    struct layer_output layers[HITS][LAYERS];
};

/* `hits` computed hits of 150 g, HIC 1000; two layers short of their best strain; no limits. */
static void begin(struct scene *scene, size_t hits)
{
    *scene = (struct scene){0};
    for (int m = 0; m < METRIC_COUNT; m++)
        scene->file.limit[m] = NAN;
    scene->file.target = NAN;
    scene->result.helmet_mass_limit = scene->result.target = NAN;
    scene->result.hit_count = hits;
    scene->result.hits = scene->hits;
    for (size_t i = 0; i < hits; i++) {
        struct hit_result *hit = &scene->hits[i];
        hit->impact = (int)i + 1;
        hit->output.metrics[METRIC_peak] = 150.0;
        hit->output.metrics[METRIC_hic] = 1000.0;
        hit->output.layer_count = LAYERS;
        hit->output.layers = scene->layers[i];
        for (int k = 0; k < LAYERS; k++) {
            struct layer_output *layer = &scene->layers[i][k];
            *layer = (struct layer_output){.layer = k + 1, .crush_fraction = 0.4, .best_strain = 0.6};
            layer->thickness = 0.010 * (k + 1);
            strcpy(layer->region, "crown");
        }
    }
}

static void judge(struct scene *scene)
{
    cr_assert_eq(judge_case(&scene->file, &scene->result), STATUS_OK);
}

static void end(struct scene *scene)
{
    for (size_t i = 0; i < scene->result.hit_count; i++)
        memory_free(scene->hits[i].judgements);
}

Test(judge, value_against_limit)
{
    cr_expect_eq(judge_value(275.0, 275.0, NAN), VERDICT_WITHIN, "a limit belongs to what is allowed");
    cr_expect_eq(judge_value(275.1, 275.0, NAN), VERDICT_EXCEEDS);
    cr_expect_eq(judge_value(180.0, 200.0, 0.9), VERDICT_WITHIN);
    cr_expect_eq(judge_value(180.1, 200.0, 0.9), VERDICT_TIGHT);
    cr_expect_eq(judge_value(200.0, 200.0, 0.9), VERDICT_TIGHT);
    cr_expect_eq(judge_value(200.1, 200.0, 0.9), VERDICT_EXCEEDS);
    cr_expect_eq(judge_value(199.0, 200.0, NAN), VERDICT_WITHIN, "no target, nothing is tight");
    cr_expect_eq(judge_value(NAN, 200.0, 0.9), VERDICT_UNDECIDED);
    cr_expect_eq(judge_value(10.0, NAN, 0.9), VERDICT_NO_LIMIT);
    cr_expect_eq(judge_value(NAN, NAN, NAN), VERDICT_NO_LIMIT);
}

Test(judge, no_limit)
{
    struct scene scene;
    begin(&scene, 2);
    judge(&scene);
    cr_expect_eq(scene.result.verdict, VERDICT_NO_LIMIT);
    cr_expect_eq(scene.hits[0].judgement_count, 0);
    cr_expect_eq(scene.result.worst_hit, -1);
    cr_expect_eq(scene.result.worst_metric, -1);
    cr_expect(isnan(scene.result.worst_margin));
    end(&scene);
}

/* margin = (limit - value) / limit, so negative beyond the limit; the least is the worst. */
Test(judge, margins_and_worst)
{
    struct scene scene;
    begin(&scene, 3);
    scene.file.limit[METRIC_peak] = 200.0;
    scene.file.limit[METRIC_hic] = 2000.0;
    scene.hits[1].output.metrics[METRIC_hic] = 2500.0;
    scene.hits[2].output.metrics[METRIC_peak] = 220.0;
    judge(&scene);
    cr_assert_eq(scene.hits[0].judgement_count, 2);
    const struct judgement *first = &scene.hits[0].judgements[0];
    cr_expect_eq(first->metric, METRIC_peak);
    cr_expect_float_eq(first->margin, 0.25, 1e-15);
    cr_expect_eq(first->value, 150.0);
    cr_expect_eq(first->limit, 200.0);
    cr_expect_eq(first->state, VERDICT_WITHIN);
    cr_expect_str_eq(first->provenance, "given in the case");
    cr_expect_float_eq(scene.hits[2].judgements[0].margin, -0.1, 1e-15);
    cr_expect_eq(scene.result.verdict, VERDICT_EXCEEDS);
    cr_expect_eq(scene.result.worst_hit, 1);
    cr_expect_eq(scene.result.worst_metric, METRIC_hic);
    cr_expect_float_eq(scene.result.worst_margin, -0.25, 1e-15);
    end(&scene);
}

Test(judge, tight_is_worse_than_within)
{
    struct scene scene;
    begin(&scene, 2);
    scene.file.limit[METRIC_peak] = 200.0;
    scene.file.target = 0.9;
    judge(&scene);
    cr_expect_eq(scene.result.verdict, VERDICT_WITHIN);
    end(&scene);
    begin(&scene, 2);
    scene.file.limit[METRIC_peak] = 200.0;
    scene.file.target = 0.9;
    scene.hits[0].output.metrics[METRIC_peak] = 190.0;
    judge(&scene);
    cr_expect_eq(scene.result.verdict, VERDICT_TIGHT);
    end(&scene);
}

/* A run that ends before the head is at rest has not seen its peak: what exceeds does so, the rest is open.
 */
Test(judge, undecided_before_rest)
{
    struct scene scene;
    double moving[] = {3.0, 2.0, 1.0}, resting[] = {3.0, 1.0, -0.5};
    begin(&scene, 2);
    scene.file.limit[METRIC_peak] = 200.0;
    scene.file.limit[METRIC_hic] = 900.0;
    for (size_t i = 0; i < 2; i++) {
        scene.hits[i].output.count = 3;
        scene.hits[i].output.channel[PULSE_velocity] = i == 0 ? moving : resting;
    }
    judge(&scene);
    cr_expect_not(judge_ended(&scene.hits[0].output));
    cr_expect(judge_ended(&scene.hits[1].output));
    cr_expect_eq(scene.hits[0].judgements[0].state, VERDICT_UNDECIDED, "150 g of 200 so far");
    cr_expect(isnan(scene.hits[0].judgements[0].margin));
    cr_expect_eq(scene.hits[0].judgements[1].state, VERDICT_EXCEEDS, "HIC 1000 of 900 so far");
    cr_expect_eq(scene.hits[1].judgements[0].state, VERDICT_WITHIN);
    cr_expect_str_eq(scene.hits[0].why, "", "no reason before the peak");
    cr_expect_str_neq(scene.hits[1].why, "");
    cr_expect_eq(scene.result.verdict, VERDICT_EXCEEDS);
    end(&scene);
}

Test(judge, undecided_without_a_value)
{
    struct scene scene;
    begin(&scene, 1);
    scene.file.limit[METRIC_peak] = 200.0;
    scene.file.limit[METRIC_bric] = 1.0;
    scene.hits[0].output.metrics[METRIC_bric] = NAN;
    judge(&scene);
    cr_expect_eq(scene.result.verdict, VERDICT_UNDECIDED);
    cr_expect_eq(scene.result.worst_metric, METRIC_peak, "what has no value has no margin");
    end(&scene);
}

/* Not computed or failed: incomplete, unless something computed exceeds. */
Test(judge, incomplete)
{
    const enum hit_status missing[] = {HIT_NOT_COMPUTED, HIT_FAILED};
    for (int i = 0; i < 2; i++) {
        struct scene scene;
        begin(&scene, 2);
        scene.file.limit[METRIC_peak] = 160.0;
        scene.hits[1].status = missing[i];
        judge(&scene);
        cr_expect_eq(scene.result.verdict, VERDICT_INCOMPLETE);
        cr_expect_eq(scene.hits[1].judgement_count, 0);
        cr_expect_eq(scene.hits[0].judgement_count, 1);
        end(&scene);
        begin(&scene, 2);
        scene.file.limit[METRIC_peak] = 140.0;
        scene.hits[1].status = missing[i];
        judge(&scene);
        cr_expect_eq(scene.result.verdict, VERDICT_EXCEEDS);
        end(&scene);
    }
}

/* Of two layers short of their best strain by 0.2 the thicker leaves more stroke: it is too stiff. */
Test(judge, too_stiff)
{
    struct scene scene;
    begin(&scene, 1);
    judge(&scene);
    cr_expect_str_eq(scene.hits[0].why, "too stiff");
    cr_expect_str_eq(scene.hits[0].why_region, "crown");
    cr_expect_eq(scene.hits[0].why_layer, 2);
    end(&scene);
}

/* One layer past its best strain bottoms out, whatever the other leaves; of two the one further past. */
Test(judge, bottoms_out)
{
    struct scene scene;
    begin(&scene, 1);
    scene.layers[0][0].crush_fraction = 0.61;
    strcpy(scene.layers[0][0].region, "brow");
    judge(&scene);
    cr_expect_str_eq(scene.hits[0].why, "bottoms out");
    cr_expect_str_eq(scene.hits[0].why_region, "brow");
    cr_expect_eq(scene.hits[0].why_layer, 1);
    end(&scene);
    begin(&scene, 1);
    scene.layers[0][0].crush_fraction = 0.61;
    scene.layers[0][1].crush_fraction = 0.70;
    judge(&scene);
    cr_expect_eq(scene.hits[0].why_layer, 2);
    end(&scene);
}

/* A layer without a column on the axis has no crush there and is never named. */
Test(judge, off_the_axis)
{
    struct scene scene;
    begin(&scene, 1);
    scene.layers[0][1].crush_fraction = NAN;
    judge(&scene);
    cr_expect_eq(scene.hits[0].why_layer, 1);
    end(&scene);
    begin(&scene, 1);
    scene.layers[0][0].crush_fraction = scene.layers[0][1].crush_fraction = NAN;
    judge(&scene);
    cr_expect_str_eq(scene.hits[0].why, "");
    cr_expect_eq(scene.hits[0].why_layer, 0);
    end(&scene);
}

Test(judge, helmet_mass)
{
    const double mass[] = {1.6, 1.8, 1.6, 1.5}, target[] = {NAN, 0.9, 0.9, 0.9};
    const enum verdict expected[] = {VERDICT_WITHIN, VERDICT_EXCEEDS, VERDICT_TIGHT, VERDICT_WITHIN};
    for (int i = 0; i < 4; i++) {
        struct scene scene;
        begin(&scene, 1);
        scene.result.mass.helmet = mass[i];
        scene.result.helmet_mass_limit = 1.7;
        scene.result.target = target[i];
        judge(&scene);
        cr_expect_eq(scene.result.verdict, expected[i], "%g kg", mass[i]);
        cr_expect_eq(scene.result.worst_hit, -1, "the mass belongs to no hit");
        end(&scene);
    }
}

/* Of two solutions the one nearer to a limit counts, whichever limit that is; the larger peak without limits
 * and at equal margins; what has not ended stands at its limit at least. */
Test(judge, which_of_two_governs)
{
    static const struct case_impact none;
    double falling[] = {3.0, 1.0};
    struct scene scene;
    begin(&scene, 2);
    struct impact_output *first = &scene.hits[0].output, *other = &scene.hits[1].output;
    cr_expect_not(judge_governs(&scene.file, &none, other, first), "the first at a tie");
    other->metrics[METRIC_peak] = 151.0;
    cr_expect(judge_governs(&scene.file, &none, other, first));
    cr_expect_not(judge_governs(&scene.file, &none, first, other));
    other->metrics[METRIC_peak] = 120.0;
    other->metrics[METRIC_hic] = 2000.0;
    scene.file.limit[METRIC_peak] = 300.0; /* margins of the first 0.5 and 0.6, of the other 0.6 and 0.2 */
    scene.file.limit[METRIC_hic] = 2500.0;
    cr_expect(judge_governs(&scene.file, &none, other, first), "by its HIC");
    scene.file.limit[METRIC_hic] = NAN;
    cr_expect_not(judge_governs(&scene.file, &none, other, first), "by the peak");
    other->channel[PULSE_velocity] = falling;
    other->count = 2;
    cr_expect(judge_governs(&scene.file, &none, other, first), "undecided before within");
    scene.file.limit[METRIC_peak] = 140.0;
    cr_expect_not(judge_governs(&scene.file, &none, other, first), "exceeds before undecided");
    end(&scene);
    /* the limits of a test count like those of the case: margins 0.5 and 0.6 of the first, 0.8 and 0.2 */
    struct case_test test;
    const struct case_impact tested = {.test_count = 1};
    begin(&scene, 2);
    for (int m = 0; m < METRIC_COUNT; m++)
        test.limit[m] = NAN;
    test.limit[METRIC_hic] = 2500.0;
    scene.file.tests = &test;
    scene.file.limit[METRIC_peak] = 300.0;
    other->metrics[METRIC_peak] = 60.0;
    other->metrics[METRIC_hic] = 2000.0;
    cr_expect_not(judge_governs(&scene.file, &none, other, first), "no test, by the peak");
    cr_expect(judge_governs(&scene.file, &tested, other, first), "by the HIC of the test");
    scene.file.tests = NULL;
    end(&scene);
}
