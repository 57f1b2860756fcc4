#ifndef FOAMPULSE_SUPPORT_SAMPLE_RESULT_H
#define FOAMPULSE_SUPPORT_SAMPLE_RESULT_H

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cases/result.h"
#include "solver/base/memory.h"

/*
 * A made-up result for tests of files and pictures: no physics, but every member set, and set differently, so
 * that one swapped or forgotten shows. `variant` tells layouts apart.
 */

enum { SAMPLE_COUNT = 1600, SAMPLE_LEDGER = 160 };

static inline double sample_pulse(double time, double height, double width)
{
    double x = time / width;
    return x < 0 || x > 1 ? 0 : height * sin(3.14159265358979 * x) * (1 + 0.15 * sin(9 * x));
}

static inline void sample_output(struct impact_output *output, int hit, int variant)
{
    double height = (1800 + 180 * variant + 60 * hit), width = 9e-3 - 4e-4 * variant, speed = 7.5, travel = 0;
    output->count = SAMPLE_COUNT;
    output->interval = 1e-5;
    for (int c = 0; c < PULSE_COUNT; c++)
        output->channel[c] = memory_doubles(SAMPLE_COUNT);
    double crush = 0;
    for (size_t i = 0; i < SAMPLE_COUNT; i++) {
        double time = ((double)i + 0.5) * 1e-5, a = sample_pulse(time, height, width);
        speed -= a * 1e-5;
        travel += speed * 1e-5;
        crush = 0.8 * travel > 0.008 ? 0.8 * travel : crush > 0.008 ? 0.008 : 0.8 * travel;
        output->channel[PULSE_acceleration][i] = a;
        output->channel[PULSE_acceleration_unfiltered][i] = a * (1 + 0.04 * sin(time * 4e4));
        output->channel[PULSE_anvil_force][i] = a * 5.1;
        output->channel[PULSE_anvil_force_unfiltered][i] = a * 5.1 * (1 + 0.1 * sin(time * 3e4));
        output->channel[PULSE_velocity][i] = speed;
        output->channel[PULSE_travel][i] = travel;
        output->channel[PULSE_crush][i] = crush;
        output->channel[PULSE_normal_acceleration][i] = 0.9 * a;
        output->channel[PULSE_tangential_force][i] = 0.4 * 5.1 * a;
        output->channel[PULSE_rotational_acceleration][i] = 3 * a;
        output->channel[PULSE_rotational_velocity][i] = 3 * (7.5 - speed);
        output->channel[PULSE_shell_rotational_velocity][i] = 4 * (7.5 - speed);
        output->channel[PULSE_slip_velocity][i] = 0.6 * speed;
    }
    output->ledger_count = SAMPLE_LEDGER;
    output->ledger_interval = 1e-4;
    for (int part = 0; part < ENERGY_COUNT; part++)
        output->ledger[part] = memory_doubles(SAMPLE_LEDGER);
    for (size_t i = 0; i < SAMPLE_LEDGER; i++) {
        double u = fmin((double)(i + 1) / 90, 1), lost = 0.5 * (1 - cos(3.14159 * u));
        for (int part = 0; part < ENERGY_COUNT; part++)
            output->ledger[part][i] = (1 + part) * lost;
        output->ledger[ENERGY_initial][i] = 132;
        output->ledger[ENERGY_gravity][i] = 1.4 * u;
        output->ledger[ENERGY_foam][i] = 88 * lost;
        output->ledger[ENERGY_stored][i] = 25 * sin(3.14159 * u) + 2;
        output->ledger[ENERGY_artificial][i] = 0.05 * lost;
        double rest = 133.4;
        for (int part = ENERGY_foam; part < ENERGY_COUNT; part++)
            rest -= output->ledger[part][i];
        output->ledger[ENERGY_rebound][i] = rest;
    }
    for (int part = 0; part < ENERGY_COUNT; part++)
        output->energy[part] = output->ledger[part][SAMPLE_LEDGER - 1];
    for (int m = 0; m < METRIC_COUNT; m++)
        output->metrics[m] = m + 0.125 * hit + 100 * variant;
    output->metrics[METRIC_peak] = 0;
    for (size_t i = 0; i < SAMPLE_COUNT; i++)
        output->metrics[METRIC_peak] =
            fmax(output->metrics[METRIC_peak], output->channel[PULSE_acceleration][i] / 9.80665);
    output->metrics[METRIC_hic] = 1500 + 300 * variant + 100 * hit;
    output->metrics[METRIC_hic_start] = 1e3 * width * 0.25;
    output->metrics[METRIC_hic_end] = 1e3 * width * 0.75;
    output->metrics[METRIC_crush_fraction] = 0.62;
    output->metrics[METRIC_crush] = 21.7;
    output->metrics[METRIC_crush_left] = 13.3;
    output->metrics[METRIC_bric] = NAN;
    output->layer_count = 3;
    output->layers = memory_zeroed(3, sizeof *output->layers);
    for (int layer = 0; layer < 3; layer++) {
        struct layer_output *out = &output->layers[layer];
        snprintf(out->region, sizeof out->region, "%s", layer < 2 ? "crown" : "elsewhere");
        out->layer = layer < 2 ? layer + 1 : 1;
        out->absorbed = 40.0 - 10 * layer;
        out->crush_fraction = layer < 2 ? 0.5 + 0.2 * layer : NAN;
        out->best_strain = 0.6 + 0.01 * layer;
        out->thickness = 0.0175 + 0.001 * layer;
        snprintf(out->past_foam, sizeof out->past_foam, "%s", layer ? "bench60" : "");
        out->past_end = layer ? 0.4 : NAN;
        out->past_strain = layer ? 0.55 + 0.01 * layer : NAN;
        out->crush = layer < 2 ? memory_doubles(SAMPLE_COUNT) : NULL;
        for (size_t i = 0; out->crush && i < SAMPLE_COUNT; i++)
            out->crush[i] = output->channel[PULSE_crush][i] / 0.035 * (0.8 + 0.3 * layer);
    }
    output->steps = 23456 + hit;
    output->cells = 960;
    output->balance_error = 3.25e-7;
    output->impulse_error = 1.5e-9;
    output->anvil_impulse = 52.75;
    output->separated = 1;
}

static inline void sample_rings(struct hit_rings *rings, int hit)
{
    rings->count = 3;
    rings->region_count = 2;
    rings->edge = memory_doubles(4);
    rings->regions = memory_zeroed(2, sizeof *rings->regions);
    rings->share = memory_doubles(9);
    snprintf(rings->regions[0].name, sizeof rings->regions->name, "crown");
    snprintf(rings->regions[1].name, sizeof rings->regions->name, "elsewhere");
    for (int i = 0; i < 4; i++)
        rings->edge[i] = 0.1 * i * i + 0.01 * hit * (i > 0);
    for (int i = 0; i < 9; i++)
        rings->share[i] = i / 12.0;
}

/* A quarter of a thick circle whose inner face moves outwards; the numbers say where they stand. */
static inline void sample_snapshots(struct snapshots *snapshots, int hit)
{
    enum { RINGS = 9, ROWS = 4, TIMES = 3 };
    if (snapshots_make(snapshots, RINGS, ROWS, TIMES) != STATUS_OK)
        return;
    snapshots->count = TIMES;
    snapshots->shell_thickness = 3e-3 + 1e-4 * hit;
    for (size_t i = 0; i < SNAPSHOT_ANVIL; i++) {
        snapshots->anvil_r[i] = 0.065 * (double)i / (SNAPSHOT_ANVIL - 1);
        snapshots->anvil_z[i] = -1e-4 * hit;
    }
    for (size_t t = 0; t < TIMES; t++) {
        *snapshots_at(snapshots, SNAPSHOT_time, t) = 2e-3 * (double)t + 1e-5 * hit;
        for (size_t k = 0; k < ROWS * (RINGS - 1); k++) {
            snapshots_at(snapshots, SNAPSHOT_strain, t)[k] = 0.2 * (double)t * (double)k / 32;
            snapshots_at(snapshots, SNAPSHOT_density, t)[k] = (k < 16 ? 60.0 : 40.0) + (double)(k + t + hit);
            snapshots_at(snapshots, SNAPSHOT_stress, t)[k] = 1e3 * (double)(k * t) - 500;
        }
        for (size_t i = 0; i < RINGS; i++) {
            double phi = 1.4 * (double)i / (RINGS - 1), place[2] = {sin(phi), cos(phi)};
            snapshots_at(snapshots, SNAPSHOT_shell_r, t)[i] = 0.1315 * place[0];
            snapshots_at(snapshots, SNAPSHOT_shell_z, t)[i] = 0.133 - 0.1315 * place[1];
            snapshots_at(snapshots, SNAPSHOT_head_r, t)[i] = 0.085 * place[0];
            snapshots_at(snapshots, SNAPSHOT_head_z, t)[i] = 0.133 - 5e-3 * (double)t - 0.085 * place[1];
            for (size_t j = 0; j <= ROWS; j++) {
                double radius = 0.13 - (8e-3 - 1e-3 * (double)t) * (double)j;
                snapshots_at(snapshots, SNAPSHOT_r, t)[j * RINGS + i] = radius * place[0];
                snapshots_at(snapshots, SNAPSHOT_z, t)[j * RINGS + i] = 0.133 - radius * place[1];
            }
        }
    }
}

static inline void sample_judgement(struct judgement *out, enum metric metric, double value, double limit)
{
    out->metric = metric;
    out->value = value;
    out->limit = limit;
    out->margin = (limit - value) / limit;
    out->state = value > limit ? VERDICT_EXCEEDS : out->margin < 0.1 ? VERDICT_TIGHT : VERDICT_WITHIN;
    snprintf(out->programme, sizeof out->programme, "house");
    snprintf(out->test, sizeof out->test, "high/flat");
    snprintf(out->provenance, sizeof out->provenance, "from memory, unchecked");
    snprintf(out->source, sizeof out->source, "house rule");
}

static inline void sample_hit(struct hit_result *hit, int number, int variant)
{
    static const struct {
        const char *name, *region, *anvil;
        double elevation, azimuth;
    } sites[] = {{"P", "crown", "flat", 90, 0},         {"B", "brow", "kerbstone", 15, 0},
                 {"X-left", "temples", "flat", 5, -90}, {"X-right", "temples", "flat", 5, 90},
                 {"R", "elsewhere", "flat", 20, 180},   {"front", "brow", "hemisphere", 20, 0},
                 {"B", "brow", "flat", 15, 0}};
    int at = (number - 1) % 7;
    *hit = (struct hit_result){.impact = number, .hit = 1, .headform_mass = 4.7};
    hit->status = number == 7 ? HIT_NOT_COMPUTED : HIT_COMPUTED;
    if (number == 7)
        snprintf(hit->message, sizeof hit->message, "no temperature table for the foam");
    snprintf(hit->size, sizeof hit->size, "M");
    snprintf(hit->headform_set, sizeof hit->headform_set, "en-960");
    snprintf(hit->headform_size, sizeof hit->headform_size, "J");
    snprintf(hit->headform_own, sizeof hit->headform_own, "own mass");
    snprintf(hit->site, sizeof hit->site, "%s", sites[at].name);
    snprintf(hit->region, sizeof hit->region, "%s", sites[at].region);
    snprintf(hit->anvil, sizeof hit->anvil, "%s", sites[at].anvil);
    hit->elevation = sites[at].elevation * 3.14159265358979 / 180;
    hit->azimuth = sites[at].azimuth * 3.14159265358979 / 180;
    hit->head_radius = 0.09 + 0.001 * number;
    hit->edge_distance = 0.12;
    hit->asymmetry = 0.03;
    hit->angle = 0.01 * number;
    hit->speed = 7.5;
    hit->temperature = -20;
    snprintf(hit->model, sizeof hit->model, "columns");
    snprintf(hit->why, sizeof hit->why, "bottoms out");
    snprintf(hit->why_region, sizeof hit->why_region, "crown");
    hit->why_layer = 2;
    hit->hoop = (struct hoop_bounds){"cut", 210 + number, 1200 + number, 190 + number, 1300 + number};
    hit->wall = 0.05 * number;
    for (int m = 0; m < METRIC_COUNT; m++)
        hit->output.metrics[m] = NAN;
    if (number == 7)
        return;
    sample_output(&hit->output, number, variant);
    sample_rings(&hit->rings, number);
    if (number != 2) /* one has none, as columns do */
        sample_snapshots(&hit->output.snapshots, number);
    hit->judgement_count = 2;
    hit->judgements = memory_zeroed(2, sizeof *hit->judgements);
    sample_judgement(&hit->judgements[0], METRIC_peak, hit->output.metrics[METRIC_peak], 275);
    sample_judgement(&hit->judgements[1], METRIC_hic, hit->output.metrics[METRIC_hic], 2400);
}

static inline struct region_shape *sample_region(struct helmet_map *map, const char *name, size_t bounds)
{
    struct region_shape *region = &map->regions[map->region_count++];
    snprintf(region->name, sizeof region->name, "%s", name);
    region->bound_count = bounds;
    region->bounds = memory_zeroed(bounds, sizeof *region->bounds);
    return region;
}

static inline void sample_map(struct helmet_map *map)
{
    const double deg = 3.14159265358979 / 180;
    map->inner_radius = 0.131;
    map->regions = memory_zeroed(5, sizeof *map->regions);
    struct region_shape *region = sample_region(map, "vision opening", 1);
    region->open = 1;
    region->bounds[0] = (struct bound){
        .kind = BOUND_BOX, .elevation = {-40 * deg, 5 * deg}, .azimuth = {-65 * deg, 65 * deg}, .around = -1};
    sample_region(map, "brow", 1)->bounds[0] =
        (struct bound){.kind = BOUND_BAND, .around = 0, .width = 0.025};
    sample_region(map, "crown", 1)->bounds[0] =
        (struct bound){.kind = BOUND_CAP, .centre = {90 * deg, 0}, .half_angle = 40 * deg, .around = -1};
    region = sample_region(map, "temples", 1);
    region->mirror = 1;
    region->bounds[0] = (struct bound){.kind = BOUND_BOX,
                                       .elevation = {-30 * deg, 30 * deg},
                                       .azimuth = {70 * deg, 110 * deg},
                                       .around = -1};
    sample_region(map, "elsewhere", 1)->bounds[0] = (struct bound){.kind = BOUND_ALL, .around = -1};
    map->edge_count = 2;
    map->edge_azimuth = memory_doubles(2);
    map->edge_elevation = memory_doubles(2);
    map->edge_azimuth[0] = -3.1;
    map->edge_azimuth[1] = 0.5;
    map->edge_elevation[0] = -0.5;
    map->edge_elevation[1] = -0.55;
}

static inline void sample_result(struct case_result *result, int variant)
{
    static const char *const titles[] = {"One density, 50 g/l", "Two-density crown", "Dense brow band"};
    *result = (struct case_result){.verdict = VERDICT_EXCEEDS, .worst_metric = METRIC_hic};
    char file[64];
    snprintf(file, sizeof file, "layout-%c.yaml", 'a' + variant % 26);
    result->file = memory_text(file);
    result->title = memory_text(titles[variant % 3]);
    result->case_text = memory_text("headform: {size: J}\nliner: {density: 50 g/l}\n");
    snprintf(result->case_hash, sizeof result->case_hash, "%032x", 0xabc + variant);
    result->result_file = memory_text("layout.h5");
    result->mass = (struct mass_by_part){1.328, 0.754, 0.174, 0.05, 0.35};
    result->target = 0.9;
    for (int m = 0; m < METRIC_COUNT; m++)
        result->limit[m] = NAN;
    result->limit[METRIC_peak] = 275;
    result->limit[METRIC_hic] = 2400;
    result->helmet_mass_limit = 1.45;
    result->sizes = memory_zeroed(1, sizeof *result->sizes);
    cr_assert_not_null(result->sizes);
    result->size_count = 1;
    result->sizes[0] = (struct size_result){"M", "en-960", "J", "own mass", 4.7, result->mass, 1.45};
    result_note(&result->assumptions, &result->assumption_count, "liner bonded to the shell");
    result_note(&result->assumptions, &result->assumption_count, "half height from length and breadth");
    result_note(&result->warnings, &result->warning_count, "asymmetry %d %%", 17);
    result->hit_count = 7;
    result->hits = memory_zeroed(7, sizeof *result->hits);
    for (int i = 0; i < 7; i++)
        sample_hit(&result->hits[i], i + 1, variant);
    result->worst_hit = 5;
    result->worst_margin = result->hits[5].judgements[1].margin;
    sample_map(&result->map);
    result->wall = 0.75;
    result->threads = 2;
    snprintf(result->isa, sizeof result->isa, "v3");
}

#endif
