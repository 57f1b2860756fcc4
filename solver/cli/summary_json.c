#include "solver/cli/json_out.h"
#include "solver/cli/summary.h"
#include "solver/study/judge.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define DEGREE 57.29577951308232 /* 180 / pi */

/* Text from a file; broken UTF-8, which JSON cannot hold, becomes null. "" becomes null where nothing is
 * meant. */
static json_t *worst_json(const struct case_result *result)
{
    if (result->worst_hit < 0 || (size_t)result->worst_hit >= result->hit_count)
        return json_null();
    const struct hit_result *hit = &result->hits[result->worst_hit];
    const char *metric = result->worst_metric < 0 ? NULL : metric_table[result->worst_metric].name;
    return json_pack(
        "{s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "impact", hit->impact, "hit", hit->hit, "size",
        json_out_text(hit->size), "site", json_out_text(hit->site), "metric", json_out_text(metric), "margin",
        json_out_number(result->worst_margin), "region", json_out_text(hit->why_region), "layer",
        hit->why_layer ? json_integer(hit->why_layer) : json_null(), "why", json_out_text(hit->why));
}

/* The programmes or the tests that the hit serves, each once, in the order of its judgements. */
static json_t *served(const struct hit_result *hit, int tests)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const char *name = tests ? hit->judgements[i].test : hit->judgements[i].programme;
        int known = name[0] == '\0';
        for (size_t k = 0; k < json_array_size(array) && !known; k++) {
            const char *other = json_string_value(json_array_get(array, k));
            known = other && strcmp(other, name) == 0;
        }
        if (!known)
            json_array_append_new(array, json_out_text(name));
    }
    return array;
}

static json_t *metrics_json(const struct hit_result *hit)
{
    json_t *object = json_object();
    for (size_t i = 0; i < METRIC_COUNT; i++)
        json_object_set_new(
            object, metric_table[i].name,
            json_out_number(hit->status == HIT_COMPUTED ? hit->output.metrics[i] : (double)NAN));
    return object;
}

static json_t *energy_json(const struct hit_result *hit)
{
    json_t *object = json_object();
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        char name[64];
        snprintf(name, sizeof name, "%s_J", energy_table[i].name);
        if (!output_tells(&hit->output, i))
            continue;
        json_object_set_new(
            object, name, json_out_number(hit->status == HIT_COMPUTED ? hit->output.energy[i] : (double)NAN));
    }
    return object;
}

static json_t *layers_json(const struct hit_result *hit)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hit->output.layer_count; i++) {
        const struct layer_output *layer = &hit->output.layers[i];
        json_array_append_new(array,
                              json_pack("{s:o, s:i, s:o, s:o}", "region", json_out_text(layer->region),
                                        "layer", layer->layer, "absorbed_J", json_out_number(layer->absorbed),
                                        "crush_fraction", json_out_number(layer->crush_fraction)));
    }
    return array;
}

static json_t *limits_json(const struct hit_result *hit)
{
    json_t *array = json_array();
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        const struct metric_info *metric = &metric_table[one->metric];
        json_array_append_new(
            array, json_pack("{s:o, s:o, s:s, s:s, s:o, s:o, s:o, s:s, s:n, s:o, s:o}", "programme",
                             json_out_text(one->programme), "test", json_out_text(one->test), "metric",
                             metric->name, "unit", metric->unit, "value", json_out_number(one->value),
                             "limit", json_out_number(one->limit), "margin", json_out_number(one->margin),
                             "state", verdict_text(one->state), "band", "provenance",
                             json_out_text(one->provenance), "source", json_out_text(one->source)));
    }
    return array;
}

/* All the conditions; the arrays and objects are added by hit_json. */
static json_t *conditions_json(const struct hit_result *hit)
{
    return json_pack(
        "{s:i, s:i, s:s, s:o, s:o, s:o, s:o, s:{s:o, s:o, s:o, s:o}, s:o, s:[o, o], s:o, s:o, s:o, "
        "s:o, s:o, s:o, s:o, s:o, s:o}",
        "impact", hit->impact, "hit", hit->hit, "status", summary_status(hit->status), "message",
        json_out_text(hit->message), "programmes", served(hit, 0), "tests", served(hit, 1), "size",
        json_out_text(hit->size), "headform", "set", json_out_text(hit->headform_set), "size",
        json_out_text(hit->headform_size), "own", json_out_text(hit->headform_own), "mass_kg",
        json_out_number(hit->headform_mass), "site", json_out_text(hit->site), "direction_deg",
        json_out_number(hit->elevation * DEGREE), json_out_number(hit->azimuth * DEGREE), "region",
        json_out_text(hit->region), "head_radius_mm", json_out_number(1e3 * hit->head_radius),
        "edge_distance_mm", json_out_number(1e3 * hit->edge_distance), "anvil", json_out_text(hit->anvil),
        "anvil_form", json_out_text(hit->anvil_form), "angle_deg", json_out_number(hit->angle * DEGREE),
        "speed_m_s", json_out_number(hit->speed), "temperature_C", json_out_number(hit->temperature), "model",
        json_out_text(hit->model));
}

/* Both bounds at an opening; null where one solution is all there is. */
static json_t *hoop_json(const struct hoop_bounds *hoop)
{
    if (!hoop->shown[0])
        return json_null();
    return json_pack("{s:o, s:{s:o, s:o}, s:{s:o, s:o}}", "shown", json_out_text(hoop->shown), "kept",
                     "peak_g", json_out_number(hoop->kept_peak), "hic", json_out_number(hoop->kept_hic),
                     "cut", "peak_g", json_out_number(hoop->cut_peak), "hic", json_out_number(hoop->cut_hic));
}

/* What the rotation of an impact was computed with; null without rotation. */
static json_t *rotation_json(const struct hit_result *hit)
{
    if (isnan(hit->head_inertia))
        return json_null();
    return json_pack("{s:[o, o], s:o, s:o, s:o, s:b}", "towards_deg",
                     json_out_number(hit->towards[0] * DEGREE), json_out_number(hit->towards[1] * DEGREE),
                     "face_friction", json_out_number(hit->face_friction), "head_friction",
                     json_out_number(hit->head_friction), "head_inertia_kg_m2",
                     json_out_number(hit->head_inertia), "inertia_assumed", hit->inertia_assumed);
}

static json_t *hit_json(const struct hit_result *hit)
{
    const struct impact_output *output = &hit->output;
    json_t *object = conditions_json(hit);
    if (!object)
        return NULL;
    json_object_set_new(object, "metrics", metrics_json(hit));
    json_object_set_new(object, "rotation", rotation_json(hit));
    json_object_set_new(object, "opening_hoop", hoop_json(&hit->hoop));
    json_object_set_new(object, "energy", energy_json(hit));
    json_object_set_new(object, "layers", layers_json(hit));
    json_object_set_new(object, "limits", limits_json(hit));
    json_object_set_new(object, "solver",
                        json_pack("{s:I, s:I, s:o}", "steps", (json_int_t)output->steps, "cells",
                                  (json_int_t)output->cells, "balance_error",
                                  json_out_number(output->balance_error)));
    return object;
}

/* The helmet's mass against its limit; null without one. */
static json_t *mass_limit_json(double mass, double limit, double target)
{
    if (!isfinite(limit))
        return json_null();
    return json_pack("{s:o, s:o, s:o, s:s}", "value_kg", json_out_number(mass), "limit_kg",
                     json_out_number(limit), "margin", json_out_number((limit - mass) / limit), "state",
                     verdict_text(judge_value(mass, limit, target)));
}

static json_t *mass_json(const struct mass_by_part *mass)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o}", "helmet", json_out_number(mass->helmet), "shell",
                     json_out_number(mass->shell), "liner", json_out_number(mass->liner), "comfort",
                     json_out_number(mass->comfort), "other", json_out_number(mass->other));
}

/* The helmets of a family; null when the case is one helmet. */
static json_t *sizes_json(const struct case_result *result)
{
    json_t *array = result->size_count > 0 ? json_array() : json_null();
    for (size_t i = 0; i < result->size_count; i++) {
        const struct size_result *size = &result->sizes[i];
        json_array_append_new(
            array,
            json_pack("{s:o, s:{s:o, s:o, s:o, s:o}, s:o, s:o}", "size", json_out_text(size->name),
                      "headform", "set", json_out_text(size->headform_set), "size",
                      json_out_text(size->headform_size), "own", json_out_text(size->headform_own), "mass_kg",
                      json_out_number(size->headform_mass), "mass_kg", mass_json(&size->mass), "mass_limit",
                      mass_limit_json(size->mass.helmet, size->helmet_mass_limit, result->target)));
    }
    return array;
}

static json_t *case_json(const struct case_result *result)
{
    json_t *impacts = json_array();
    for (size_t i = 0; i < result->hit_count; i++)
        json_array_append_new(impacts, hit_json(&result->hits[i]));
    return json_pack(
        "{s:o, s:o, s:s, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "file",
        json_out_text(result->file), "title", json_out_text(result->title), "case_hash", result->case_hash,
        "result_file", json_out_text(result->result_file), "verdict", verdict_text(result->verdict), "worst",
        worst_json(result), "mass_kg", mass_json(&result->mass), "mass_limit",
        mass_limit_json(result->mass.helmet, result->helmet_mass_limit, result->target), "sizes",
        sizes_json(result), "assumptions", json_out_lines(result->assumptions, result->assumption_count),
        "warnings", json_out_lines(result->warnings, result->warning_count), "not_covered",
        json_out_lines(result->not_covered, result->not_covered_count), "impacts", impacts);
}

/* Wall times add up over the cases; threads and instruction set are the same for all. */
static json_t *run_json(const struct case_result *results, size_t count)
{
    double wall = 0;
    json_t *walls = json_array();
    for (size_t i = 0; i < count; i++) {
        wall += results[i].wall;
        for (size_t h = 0; h < results[i].hit_count; h++)
            json_array_append_new(walls, json_out_number(results[i].hits[h].wall));
    }
    return json_pack("{s:o, s:i, s:o, s:o}", "wall_s", json_out_number(wall), "threads",
                     count ? results[0].threads : 0, "isa", json_out_text(count ? results[0].isa : ""),
                     "impacts_wall_s", walls);
}

json_t *summary_json(const struct case_result *results, size_t count)
{
    json_t *cases = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(cases, case_json(&results[i]));
    return json_pack("{s:s, s:s, s:s, s:o, s:o}", "schema", "foampulse/summary/1", "program_version",
                     FOAMPULSE_VERSION, "caution", CAUTION_TEXT, "cases", cases, "run",
                     run_json(results, count));
}
