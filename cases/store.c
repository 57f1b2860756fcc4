#include "cases/store.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/utsname.h>

#include "cases/container.h"
#include "cases/fields.h"
#include "cases/probe.h"
#include "cases/store_rings.h"
#include "cases/store_snapshots.h"
#include "cases/texts.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/base/version.h"

enum { PATH = 512, MOST_REGIONS = 64, MOST_BOUNDS = 64, MOST_POINTS = 100000 };

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define DEGREE       57.29577951308232 /* 180 / pi */

#define CONVENTIONS                                                                                          \
    "SI units; temperatures in degree Celsius. Elevation up from the plane AA' of the headform, azimuth 0 "  \
    "at "                                                                                                    \
    "the front and positive to the wearer's right. Motion towards the anvil, crush and compression are "     \
    "positive; acceleration is contact force over mass, positive when the head is slowed. Samples are "      \
    "means "                                                                                                 \
    "over, or values at the end of, the interval that starts at `time`, as their description says."

/* --- what stands where --- */

static const char *verdict_name(int value)
{
    return value >= 0 && value <= VERDICT_INCOMPLETE ? verdict_text((enum verdict)value) : NULL;
}

static const char *metric_name(int value)
{
    return value >= 0 && value < METRIC_COUNT ? metric_table[value].name : NULL;
}

static const char *metric_unit(int value)
{
    return value >= 0 && value < METRIC_COUNT ? metric_table[value].unit : NULL;
}

static const char *status_name(int value)
{
    static const char *const names[] = {"computed", "not computed", "failed"};
    return value >= 0 && value < (int)COUNT(names) ? names[value] : NULL;
}

static const char *bound_name(int value)
{
    static const char *const names[] = {"all", "box", "cap", "band"};
    return value >= 0 && value < (int)COUNT(names) ? names[value] : NULL;
}

#define HIT(member, kind, name, units, text) FIELD(struct hit_result, member, kind, name, units, text)

/* Conditions and outcome of a hit: attributes of its group. */
static const struct field hit_fields[] = {
    HIT(impact, FIELD_INT, "impact", "1", ""),
    HIT(hit, FIELD_INT, "hit", "1", ""),
    FIELD_OF(struct hit_result, status, status_name, "status", ""),
    HIT(message, FIELD_TEXT, "message", "1", ""),
    HIT(size, FIELD_TEXT, "size", "1", ""),
    HIT(headform_set, FIELD_TEXT, "headform_set", "1", ""),
    HIT(headform_size, FIELD_TEXT, "headform_size", "1", ""),
    HIT(headform_own, FIELD_TEXT, "headform_own", "1", ""),
    HIT(headform_mass, FIELD_DOUBLE, "headform_mass_kg", "kg", ""),
    HIT(site, FIELD_TEXT, "site", "1", ""),
    HIT(elevation, FIELD_DOUBLE, "elevation_rad", "rad", ""),
    HIT(azimuth, FIELD_DOUBLE, "azimuth_rad", "rad", ""),
    HIT(region, FIELD_TEXT, "region", "1", ""),
    HIT(head_radius, FIELD_DOUBLE, "head_radius_m", "m", ""),
    HIT(edge_distance, FIELD_DOUBLE, "edge_distance_m", "m", ""),
    HIT(asymmetry, FIELD_DOUBLE, "asymmetry", "1", ""),
    HIT(anvil, FIELD_TEXT, "anvil", "1", ""),
    HIT(anvil_form, FIELD_TEXT, "anvil_form", "1", ""),
    HIT(angle, FIELD_DOUBLE, "angle_rad", "rad", ""),
    HIT(towards[0], FIELD_DOUBLE, "towards_elevation_rad", "rad", ""),
    HIT(towards[1], FIELD_DOUBLE, "towards_azimuth_rad", "rad", ""),
    HIT(face_friction, FIELD_DOUBLE, "face_friction", "1", ""),
    HIT(head_friction, FIELD_DOUBLE, "head_friction", "1", ""),
    HIT(head_inertia, FIELD_DOUBLE, "head_inertia_kg_m2", "kg m2", ""),
    HIT(inertia_assumed, FIELD_INT, "inertia_assumed", "1", ""),
    HIT(speed, FIELD_DOUBLE, "speed_m_s", "m/s", ""),
    HIT(temperature, FIELD_DOUBLE, "temperature_C", "degC", ""),
    HIT(model, FIELD_TEXT, "model", "1", ""),
    HIT(why, FIELD_TEXT, "why", "1", ""),
    HIT(why_region, FIELD_TEXT, "why_region", "1", ""),
    HIT(why_layer, FIELD_INT, "why_layer", "1", ""),
    HIT(hoop.shown, FIELD_TEXT, "hoop_shown", "1", ""),
    HIT(hoop.kept_peak, FIELD_DOUBLE, "hoop_kept_peak_g", "9.80665 m s-2", ""),
    HIT(hoop.kept_hic, FIELD_DOUBLE, "hoop_kept_hic", "1", ""),
    HIT(hoop.cut_peak, FIELD_DOUBLE, "hoop_cut_peak_g", "9.80665 m s-2", ""),
    HIT(hoop.cut_hic, FIELD_DOUBLE, "hoop_cut_hic", "1", ""),
    HIT(output.interval, FIELD_DOUBLE, "interval_s", "s", ""),
    HIT(output.ledger_interval, FIELD_DOUBLE, "ledger_interval_s", "s", ""),
    HIT(output.steps, FIELD_LONG, "steps", "1", ""),
    HIT(output.cells, FIELD_LONG, "cells", "1", ""),
    HIT(output.balance_error, FIELD_DOUBLE, "balance_error", "1", ""),
    HIT(output.impulse_error, FIELD_DOUBLE, "impulse_error", "1", ""),
    HIT(output.anvil_impulse, FIELD_DOUBLE, "anvil_impulse_Ns", "N s", ""),
    HIT(output.layer_slide, FIELD_DOUBLE, "layer_slide_m", "m", "furthest that layers slid on each other"),
    HIT(output.separated, FIELD_INT, "separated", "1", ""),
};

#define SCALED(member, scale, name, units, text)                                                             \
    FIELD_SCALED(struct hit_result, member, scale, name, units, text)

/* Columns of /summary, beside those of metrics and energies. */
static const struct field summary_fields[] = {
    HIT(impact, FIELD_INT, "impact", "1", "number of the impact, from 1"),
    HIT(hit, FIELD_INT, "hit", "1", "number of the hit of that impact, from 1"),
    FIELD_OF(struct hit_result, status, status_name, "status", "computed, not computed or failed"),
    HIT(message, FIELD_TEXT, "message", "1", "why it was not computed or failed"),
    HIT(size, FIELD_TEXT, "size", "1", "size of the helmet"),
    HIT(headform_set, FIELD_TEXT, "headform_set", "1", "set of the headform"),
    HIT(headform_size, FIELD_TEXT, "headform_size", "1", "size of the headform"),
    HIT(headform_own, FIELD_TEXT, "headform_own", "1", "what the case gives in place of the size's"),
    HIT(headform_mass, FIELD_DOUBLE, "headform_mass_kg", "kg", "mass of the headform"),
    HIT(site, FIELD_TEXT, "site", "1", "site of the impact"),
    SCALED(elevation, DEGREE, "elevation_deg", "degree", "elevation of the site above plane AA'"),
    SCALED(azimuth, DEGREE, "azimuth_deg", "degree", "azimuth of the site, 0 front, positive to the right"),
    HIT(region, FIELD_TEXT, "region", "1", "region of the liner under the site"),
    SCALED(head_radius, 1e3, "head_radius_mm", "mm", "radius of the head at the site"),
    SCALED(edge_distance, 1e3, "edge_distance_mm", "mm",
           "from the site to the nearest border of the foam, infinite where there is none"),
    HIT(anvil, FIELD_TEXT, "anvil", "1", "anvil"),
    HIT(anvil_form, FIELD_TEXT, "anvil_form", "1",
        "true, or equal overlap: a body of revolution that meets the same area at every depth"),
    SCALED(angle, DEGREE, "angle_deg", "degree", "angle between the fall and the normal of the anvil's face"),
    SCALED(towards[0], DEGREE, "towards_elevation_deg", "degree",
           "where the face's motion points on the head, elevation; NaN square on"),
    SCALED(towards[1], DEGREE, "towards_azimuth_deg", "degree", "the same, azimuth"),
    HIT(face_friction, FIELD_DOUBLE, "face_friction", "1", "friction of the shell on the anvil"),
    HIT(head_friction, FIELD_DOUBLE, "head_friction", "1", "friction of the liner on the head"),
    HIT(head_inertia, FIELD_DOUBLE, "head_inertia_kg_m2", "kg m2",
        "moment of inertia of the headform about the axis of rotation; NaN without rotation"),
    HIT(inertia_assumed, FIELD_INT, "inertia_assumed", "1", "1: that of a uniform ellipsoid"),
    HIT(speed, FIELD_DOUBLE, "speed_m_s", "m/s", "speed at first touch"),
    HIT(temperature, FIELD_DOUBLE, "temperature_C", "degC", "temperature of the helmet"),
    HIT(model, FIELD_TEXT, "model", "1", "model of the liner"),
    HIT(why, FIELD_TEXT, "why", "1", "what governs: bottoms out, too stiff, or nothing"),
    HIT(why_region, FIELD_TEXT, "why_region", "1", "region that governs"),
    HIT(why_layer, FIELD_INT, "why_layer", "1", "layer that governs, from 1; 0 for none"),
    HIT(hoop.shown, FIELD_TEXT, "hoop_shown", "1",
        "hoop stiffness of the shell at openings that the row was solved with, kept or cut; empty where both "
        "are one"),
    HIT(hoop.kept_peak, FIELD_DOUBLE, "hoop_kept_peak_g", "9.80665 m s-2", "peak_g with it kept"),
    HIT(hoop.kept_hic, FIELD_DOUBLE, "hoop_kept_hic", "1", "hic with it kept"),
    HIT(hoop.cut_peak, FIELD_DOUBLE, "hoop_cut_peak_g", "9.80665 m s-2", "peak_g with it cut"),
    HIT(hoop.cut_hic, FIELD_DOUBLE, "hoop_cut_hic", "1", "hic with it cut"),
    HIT(output.steps, FIELD_LONG, "steps", "1", "time steps"),
    HIT(output.cells, FIELD_LONG, "cells", "1", "cells of the mesh"),
    HIT(output.balance_error, FIELD_DOUBLE, "balance_error", "1", "largest residual of the energy ledger"),
};

#define JUDGEMENT(member, kind, name, text) FIELD(struct judgement, member, kind, name, "1", text)

static const struct field judgement_fields[] = {
    JUDGEMENT(programme, FIELD_TEXT, "programme", "programme, empty for the case's own limits"),
    JUDGEMENT(test, FIELD_TEXT, "test", "test of the programme"),
    FIELD_OF(struct judgement, metric, metric_name, "metric", "name of the metric"),
    JUDGEMENT(value, FIELD_DOUBLE, "value", "predicted value, in the unit of the column `unit`"),
    JUDGEMENT(limit, FIELD_DOUBLE, "limit", "limit, in the unit of the column `unit`"),
    JUDGEMENT(margin, FIELD_DOUBLE, "margin", "(limit - value) / limit"),
    FIELD_OF(struct judgement, state, verdict_name, "state", "within, tight, exceeds, undecided or no limit"),
    JUDGEMENT(provenance, FIELD_TEXT, "provenance", "where the number of the limit comes from"),
    JUDGEMENT(source, FIELD_TEXT, "source", "standard that sets the limit"),
    /* Written for the reader of the file; not read back. */
    FIELD_OF(struct judgement, metric, metric_unit, "unit", "unit of the metric"),
};
enum { JUDGEMENT_READ = COUNT(judgement_fields) - 1 };

#define LAYER(member, kind, name, units, text) FIELD(struct layer_output, member, kind, name, units, text)

static const struct field layer_fields[] = {
    LAYER(region, FIELD_TEXT, "region", "1", "region of the layer"),
    LAYER(layer, FIELD_INT, "layer", "1", "number of the layer, from 1 at the shell or anvil"),
    LAYER(absorbed, FIELD_DOUBLE, "absorbed", "J", "energy lost in crushing"),
    LAYER(crush_fraction, FIELD_DOUBLE, "crush_fraction", "1",
          "largest nominal crush on the site's axis, mean over r <= 15 mm; NaN away from it"),
    LAYER(best_strain, FIELD_DOUBLE, "best_strain", "1", "strain of best efficiency of the foam"),
    LAYER(thickness, FIELD_DOUBLE, "thickness", "m", "thickness on the site's axis"),
    LAYER(past_foam, FIELD_TEXT, "past_foam", "1",
          "foam crushed past the end of its measured curve, or none"),
    LAYER(past_end, FIELD_DOUBLE, "past_end", "1", "strain where that curve ends"),
    LAYER(past_strain, FIELD_DOUBLE, "past_strain", "1", "strain that it was crushed to"),
};

#define RESULT(member, kind, name) FIELD(struct case_result, member, kind, name, "1", "")

static const struct field case_fields[] = {
    RESULT(case_hash, FIELD_TEXT, "hash"),
    RESULT(identity, FIELD_TEXT, "identity"),
    FIELD_OF(struct case_result, verdict, verdict_name, "verdict", ""),
    RESULT(worst_margin, FIELD_DOUBLE, "worst_margin"),
    RESULT(mass.helmet, FIELD_DOUBLE, "mass_helmet_kg"),
    RESULT(mass.shell, FIELD_DOUBLE, "mass_shell_kg"),
    RESULT(mass.liner, FIELD_DOUBLE, "mass_liner_kg"),
    RESULT(mass.comfort, FIELD_DOUBLE, "mass_comfort_kg"),
    RESULT(mass.other, FIELD_DOUBLE, "mass_other_kg"),
    RESULT(target, FIELD_DOUBLE, "target"),
    RESULT(helmet_mass_limit, FIELD_DOUBLE, "helmet_mass_limit_kg"),
};

#define SIZE(member, kind, name, units, text) FIELD(struct size_result, member, kind, name, units, text)

static const struct field size_fields[] = {
    SIZE(name, FIELD_TEXT, "name", "1", "name of the size"),
    SIZE(headform_set, FIELD_TEXT, "headform_set", "1", "set of its headform"),
    SIZE(headform_size, FIELD_TEXT, "headform_size", "1", "size of its headform"),
    SIZE(headform_own, FIELD_TEXT, "headform_own", "1", "what the case gives in place of the size's"),
    SIZE(headform_mass, FIELD_DOUBLE, "headform_mass_kg", "kg", "mass of its headform"),
    SIZE(mass.helmet, FIELD_DOUBLE, "mass_helmet_kg", "kg", "mass of the helmet"),
    SIZE(mass.shell, FIELD_DOUBLE, "mass_shell_kg", "kg", "of its shell"),
    SIZE(mass.liner, FIELD_DOUBLE, "mass_liner_kg", "kg", "of its liner"),
    SIZE(mass.comfort, FIELD_DOUBLE, "mass_comfort_kg", "kg", "of its comfort padding"),
    SIZE(mass.other, FIELD_DOUBLE, "mass_other_kg", "kg", "of its other parts"),
    SIZE(helmet_mass_limit, FIELD_DOUBLE, "helmet_mass_limit_kg", "kg", "limit of the helmet's mass, or NaN"),
};

static const struct field run_fields[] = {
    RESULT(wall, FIELD_DOUBLE, "wall_s"),
    RESULT(threads, FIELD_INT, "threads"),
    RESULT(isa, FIELD_TEXT, "isa"),
};

static const struct field region_fields[] = {
    FIELD(struct region_shape, name, FIELD_TEXT, "name", "1",
          "name of the region; the first that holds a direction counts"),
    FIELD(struct region_shape, open, FIELD_INT, "open", "1", "1 where there is neither liner nor shell"),
    FIELD(struct region_shape, mirror, FIELD_INT, "mirror", "1",
          "1 when bounds hold at both signs of azimuth"),
    FIELD(struct region_shape, bound_count, FIELD_LONG, "bound_count", "1",
          "bounds of this region, in `bounds`"),
};

#define BOUND(member, kind, name, units, text) FIELD(struct bound, member, kind, name, units, text)

static const struct field bound_fields[] = {
    FIELD_OF(struct bound, kind, bound_name, "kind", "all, box, cap or band"),
    BOUND(elevation[0], FIELD_DOUBLE, "elevation_low", "rad", "box: lowest elevation"),
    BOUND(elevation[1], FIELD_DOUBLE, "elevation_high", "rad", "box: highest elevation"),
    BOUND(azimuth[0], FIELD_DOUBLE, "azimuth_from", "rad", "box: first azimuth"),
    BOUND(azimuth[1], FIELD_DOUBLE, "azimuth_to", "rad", "box: last azimuth"),
    BOUND(centre[0], FIELD_DOUBLE, "centre_elevation", "rad", "cap: elevation of the centre"),
    BOUND(centre[1], FIELD_DOUBLE, "centre_azimuth", "rad", "cap: azimuth of the centre"),
    BOUND(half_angle, FIELD_DOUBLE, "half_angle", "rad", "cap: half angle"),
    BOUND(around, FIELD_INT, "around", "1", "band: index from 0 of the open region, -1 for the lower edge"),
    BOUND(width, FIELD_DOUBLE, "width", "m", "band: width on the inner face of the shell"),
};

/* Units as UDUNITS reads them: its `g` is the gram. */
static const char *metric_units(size_t metric)
{
    const char *unit = metric_table[metric].unit;
    return strcmp(unit, "g") == 0 ? "9.80665 m s-2" : unit;
}

__attribute__((format(printf, 2, 3))) static const char *path_of(char path[PATH], const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(path, PATH, format, arguments);
    va_end(arguments);
    return path;
}

/* --- writing --- */

static void put_number(struct container *container, const char *path, const char *units,
                       const char *description, double value)
{
    container_array(container, path, units, description,
                    &(struct values){.kind = VALUE_DOUBLE, .data = &value});
}

static void put_doubles(struct container *container, const char *path, const char *units,
                        const char *description, const double *values, size_t count)
{
    container_array(container, path, units, description,
                    &(struct values){.kind = VALUE_DOUBLE, .rank = 1, .extent = {count, 0}, .data = values});
}

static void put_root(struct container *container)
{
    container_attribute_text(container, "/", "schema", STORE_RUN);
    container_attribute_text(container, "/", "program_version", FOAMPULSE_VERSION);
    if (version_revision[0] != '\0')
        container_attribute_text(container, "/", "git_revision", version_revision);
    container_attribute_text(container, "/", "compiler", __VERSION__);
    container_attribute_text(container, "/", "caution", CAUTION_TEXT);
    container_attribute_text(container, "/", "conventions", CONVENTIONS);
}

static void put_map(struct container *container, const struct helmet_map *map)
{
    size_t bound_count = 0;
    for (size_t i = 0; i < map->region_count; i++)
        bound_count += map->regions[i].bound_count;
    struct bound *bounds = memory_zeroed(bound_count, sizeof *bounds);
    if (!bounds) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0, at = 0; i < map->region_count; at += map->regions[i++].bound_count)
        memcpy(bounds + at, map->regions[i].bounds, map->regions[i].bound_count * sizeof *bounds);
    container_group(container, "/case/map");
    container_attribute(container, "/case/map", "inner_radius_m", VALUE_DOUBLE, &map->inner_radius);
    container_group(container, "/case/map/regions");
    fields_put_columns(container, "/case/map/regions", region_fields, COUNT(region_fields), map->regions,
                       sizeof *map->regions, map->region_count);
    container_group(container, "/case/map/bounds");
    fields_put_columns(container, "/case/map/bounds", bound_fields, COUNT(bound_fields), bounds,
                       sizeof *bounds, bound_count);
    memory_free(bounds);
    put_doubles(container, "/case/map/edge_azimuth", "rad", "points of the lower edge: azimuth",
                map->edge_azimuth, map->edge_count);
    put_doubles(container, "/case/map/edge_elevation", "rad", "points of the lower edge: elevation",
                map->edge_elevation, map->edge_count);
}

static void put_case(struct container *container, const struct case_result *result)
{
    container_group(container, "/case");
    fields_put(container, "/case", case_fields, COUNT(case_fields), result);
    int worst_row = result->worst_hit + 1;
    container_attribute(container, "/case", "worst_row", VALUE_INT, &worst_row);
    const char *worst_metric = metric_name(result->worst_metric);
    container_attribute_text(container, "/case", "worst_metric", worst_metric ? worst_metric : "");
    texts_put(container, "/case/title", "title of the case", result->title);
    texts_put(container, "/case/text", "the case with all includes and defaults, as YAML", result->case_text);
    texts_put_list(container, "/case/assumptions", "what the prediction assumes", result->assumptions,
                   result->assumption_count);
    texts_put_list(container, "/case/warnings", "what deserves a second look", result->warnings,
                   result->warning_count);
    texts_put_list(container, "/case/not_covered", "what was asked for and not computed", result->not_covered,
                   result->not_covered_count);
    if (result->size_count > 0) {
        container_group(container, "/case/sizes");
        fields_put_columns(container, "/case/sizes", size_fields, COUNT(size_fields), result->sizes,
                           sizeof *result->sizes, result->size_count);
    }
    container_group(container, "/case/limits");
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        char path[PATH];
        if (!isnan(result->limit[i]))
            put_number(container, path_of(path, "/case/limits/%s", metric_table[i].name), metric_units(i),
                       metric_table[i].description, result->limit[i]);
    }
    put_map(container, &result->map);
}

/* Start of each interval, as a dimension scale. */
static void put_time(struct container *container, const char *path, double interval, size_t count)
{
    double *time = memory_doubles(count);
    if (!time) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < count; i++)
        time[i] = (double)i * interval;
    put_doubles(container, path, "s", "start of each interval, since first touch", time, count);
    container_scale(container, path, "time");
    memory_free(time);
}

static void put_channels(struct container *container, const char *group, const struct channel_info *table,
                         size_t table_count, double *const *channels, size_t count)
{
    char path[PATH], scale[PATH];
    path_of(scale, "%s/time", group);
    for (size_t i = 0; i < table_count; i++) {
        if (!channels[i])
            continue;
        path_of(path, "%s/%s", group, table[i].name);
        put_doubles(container, path, table[i].unit, table[i].description, channels[i], count);
        container_attach(container, path, scale, 0);
    }
}

/* Crush of each layer, layers x samples; NaN rows for layers away from the axis. */
static void put_layer_crush(struct container *container, const char *group,
                            const struct impact_output *output)
{
    double *crush = memory_doubles(output->layer_count * output->count);
    if (!crush) {
        container_out_of_memory(container);
        return;
    }
    for (size_t layer = 0; layer < output->layer_count; layer++) {
        const double *from = output->layers[layer].crush;
        for (size_t i = 0; i < output->count; i++)
            crush[layer * output->count + i] = from ? from[i] : NAN;
    }
    char path[PATH], scale[PATH];
    path_of(path, "%s/layer_crush", group);
    container_array(
        container, path, "1",
        "nominal crush of each layer on the site's axis, end of the interval; NaN away from it",
        &(struct values){
            .kind = VALUE_DOUBLE, .rank = 2, .extent = {output->layer_count, output->count}, .data = crush});
    container_attach(container, path, path_of(scale, "%s/time", group), 1);
    memory_free(crush);
}

static void put_pulse(struct container *container, const char *hit, const struct impact_output *output)
{
    char group[PATH], path[PATH];
    if (output->count > 0) {
        container_group(container, path_of(group, "%s/pulse", hit));
        put_time(container, path_of(path, "%s/time", group), output->interval, output->count);
        put_channels(container, group, pulse_table, PULSE_COUNT, output->channel, output->count);
        if (output->layer_count > 0)
            put_layer_crush(container, group, output);
    }
    if (output->ledger_count > 0) {
        container_group(container, path_of(group, "%s/ledger", hit));
        put_time(container, path_of(path, "%s/time", group), output->ledger_interval, output->ledger_count);
        put_channels(container, group, energy_table, ENERGY_COUNT, output->ledger, output->ledger_count);
    }
}

static void put_hit(struct container *container, const struct hit_result *hit)
{
    char group[PATH], part[PATH], path[PATH];
    path_of(group, "/impacts/%04d", hit->impact);
    if (!container_has(container, group))
        container_group(container, group);
    path_of(group, "/impacts/%04d/hit%d", hit->impact, hit->hit);
    container_group(container, group);
    fields_put(container, group, hit_fields, COUNT(hit_fields), hit);
    put_pulse(container, group, &hit->output);
    store_put_rings(container, group, &hit->rings);
    store_put_snapshots(container, group, &hit->output.snapshots);
    container_group(container, path_of(part, "%s/metrics", group));
    for (size_t i = 0; i < METRIC_COUNT; i++)
        put_number(container, path_of(path, "%s/%s", part, metric_table[i].name), metric_units(i),
                   metric_table[i].description, hit->output.metrics[i]);
    container_group(container, path_of(part, "%s/energy", group));
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        if (output_tells(&hit->output, i))
            put_number(container, path_of(path, "%s/%s", part, energy_table[i].name), "J",
                       energy_table[i].description, hit->output.energy[i]);
    }
    container_group(container, path_of(part, "%s/layers", group));
    fields_put_columns(container, part, layer_fields, COUNT(layer_fields), hit->output.layers,
                       sizeof *hit->output.layers, hit->output.layer_count);
    container_group(container, path_of(part, "%s/judgements", group));
    fields_put_columns(container, part, judgement_fields, COUNT(judgement_fields), hit->judgements,
                       sizeof *hit->judgements, hit->judgement_count);
}

/* One column whose values stand at `offset` within each hit. */
static void put_summary_column(struct container *container, const char *name, const char *units,
                               const char *description, const struct case_result *result, size_t offset)
{
    struct field field = {name, units, description, FIELD_DOUBLE, offset, sizeof(double), NULL, 0};
    fields_put_columns(container, "/summary", &field, 1, result->hits, sizeof *result->hits,
                       result->hit_count);
}

/* The worst judgement of a hit: the smallest margin, those without a limit left out; NULL for none. */
static const struct judgement *worst_judgement(const struct hit_result *hit)
{
    const struct judgement *worst = NULL;
    for (size_t i = 0; i < hit->judgement_count; i++) {
        const struct judgement *one = &hit->judgements[i];
        if (!isnan(one->margin) && (!worst || one->margin < worst->margin))
            worst = one;
    }
    return worst;
}

/* What a row says of its limits: name of the metric nearest to its limit, and how near. */
static void put_summary_margins(struct container *container, const struct case_result *result)
{
    static const struct field columns[] = {
        FIELD_OF(struct judgement, metric, metric_name, "margin_metric", "metric with the smallest margin"),
        JUDGEMENT(margin, FIELD_DOUBLE, "margin", "smallest margin, (limit - value) / limit; NaN for none"),
        FIELD_OF(struct judgement, state, verdict_name, "margin_state", "verdict on that metric"),
    };
    struct judgement *rows = memory_zeroed(result->hit_count, sizeof *rows);
    if (!rows) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < result->hit_count; i++) {
        const struct judgement *worst = worst_judgement(&result->hits[i]);
        rows[i] = worst
                      ? *worst
                      : (struct judgement){.metric = METRIC_COUNT, .margin = NAN, .state = VERDICT_NO_LIMIT};
    }
    fields_put_columns(container, "/summary", columns, COUNT(columns), rows, sizeof *rows, result->hit_count);
    memory_free(rows);
}

static int result_tells(const struct case_result *result, size_t part)
{
    int tells = !energy_optional(part);
    for (size_t i = 0; i < result->hit_count; i++)
        tells |= output_tells(&result->hits[i].output, part);
    return tells;
}

static void put_summary(struct container *container, const struct case_result *result)
{
    container_group(container, "/summary");
    fields_put_columns(container, "/summary", summary_fields, COUNT(summary_fields), result->hits,
                       sizeof *result->hits, result->hit_count);
    put_summary_margins(container, result);
    for (size_t i = 0; i < METRIC_COUNT; i++)
        put_summary_column(container, metric_table[i].name, metric_units(i), metric_table[i].description,
                           result, offsetof(struct hit_result, output.metrics) + i * sizeof(double));
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        char name[64];
        snprintf(name, sizeof name, "%s_J", energy_table[i].name);
        if (!result_tells(result, i))
            continue;
        put_summary_column(container, name, "J", energy_table[i].description, result,
                           offsetof(struct hit_result, output.energy) + i * sizeof(double));
    }
}

static void put_run(struct container *container, const struct case_result *result)
{
    struct utsname host;
    static const struct field wall =
        HIT(wall, FIELD_DOUBLE, "impacts_wall", "s", "time spent solving each hit");
    container_group(container, "/run");
    fields_put(container, "/run", run_fields, COUNT(run_fields), result);
    container_attribute_text(container, "/run", "host", uname(&host) >= 0 ? host.nodename : "");
    texts_put(container, "/run/file", "case file, as it was typed", result->file);
    texts_put(container, "/run/result_file", "result file, as it was named when written",
              result->result_file);
    fields_put_columns(container, "/run", &wall, 1, result->hits, sizeof *result->hits, result->hit_count);
}

static enum status owner_check(const char *path, int force, struct errors *errors)
{
    enum probe_owner owner = probe_owner(path, STORE_RUN);
    if (owner == PROBE_SPECIAL)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder or device and is not replaced");
    if (owner == PROBE_UNREADABLE && !force)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(errno));
    if (owner == PROBE_FOREIGN && !force)
        return errors_add(
            errors, STATUS_FILE, path, 0, 0,
            "is there already and is no result of `foampulse run`: give another name with -o, or "
            "-f to replace it");
    return STATUS_OK;
}

enum status store_check(const char *path, const struct store_options *options, struct errors *errors)
{
    struct save save;
    enum status status = owner_check(path, options && options->force, errors);
    if (status != STATUS_OK)
        return status;
    status = save_begin(path, &save, errors);
    save_abandon(&save);
    return status;
}

/* Puts the file's name on messages of the container. */
static enum status named(enum status status, const struct errors *inner, const char *path,
                         struct errors *errors)
{
    if (status == STATUS_OK)
        return status;
    return errors_add(errors, status, path, 0, 0, "%s",
                      inner->count ? inner->kept[0].text : status_text(status));
}

enum status store_write(const char *path, const struct case_result *result,
                        const struct store_options *options, struct errors *errors)
{
    enum status status = owner_check(path, options && options->force, errors);
    if (status != STATUS_OK)
        return status;
    struct container *container = container_new();
    if (container) {
        put_root(container);
        put_case(container, result);
        container_group(container, "/impacts");
        for (size_t i = 0; i < result->hit_count && container_status(container) == STATUS_OK; i++)
            put_hit(container, &result->hits[i]);
        put_summary(container, result);
        put_run(container, result);
    }
    unsigned char *bytes;
    size_t length;
    struct errors inner = {0};
    status = named(container_end(container, STORE_RUN, &bytes, &length, &inner), &inner, path, errors);
    if (status == STATUS_OK)
        status = save_file(path, bytes, length, errors);
    memory_free(bytes);
    return status;
}

/* --- reading --- */

static double get_number(struct container *container, const char *path)
{
    struct values values;
    double *block = container_get_array(container, path, VALUE_DOUBLE, 0, &values);
    double value = block ? *block : NAN;
    memory_free(block);
    return value;
}

/* A dataset of `count` doubles. */
static double *get_doubles(struct container *container, const char *path, size_t count)
{
    struct values values;
    double *block = container_get_array(container, path, VALUE_DOUBLE, 1, &values);
    if (block && values.extent[0] == count)
        return block;
    if (block)
        container_bad(container, path, "is not as long as it should be");
    memory_free(block);
    return NULL;
}

static void regions_get(struct container *container, struct helmet_map *map, const struct bound *bounds,
                        size_t bound_count)
{
    size_t at = 0;
    for (size_t i = 0; i < map->region_count; i++) {
        struct region_shape *region = &map->regions[i];
        size_t count = region->bound_count;
        region->bound_count = 0;
        if (count > bound_count - at) {
            container_bad(container, "/case/map/bounds", "holds fewer bounds than the regions need");
            continue;
        }
        region->bounds = memory_zeroed(count, sizeof *bounds);
        if (!region->bounds) {
            container_out_of_memory(container);
            continue;
        }
        if (count > 0)
            memcpy(region->bounds, bounds + at, count * sizeof *bounds);
        region->bound_count = count;
        at += count;
    }
}

/* What a picture of the helmet walks through, and how often. */
static void map_check(struct container *container, const struct helmet_map *map)
{
    if (map->region_count > MOST_REGIONS || map->edge_count > MOST_POINTS)
        container_bad(container, "/case/map", "has more regions or points than a case can");
    for (size_t i = 0; i < map->region_count; i++) {
        const struct region_shape *shape = &map->regions[i];
        if (shape->open != !!shape->open || shape->mirror != !!shape->mirror)
            container_bad(container, "/case/map/regions", "`open` and `mirror` are 0 or 1");
        if (shape->bound_count > MOST_BOUNDS)
            container_bad(container, "/case/map/regions", "has more bounds than a case can");
    }
}

static void get_map(struct container *container, struct helmet_map *map)
{
    container_get(container, "/case/map", "inner_radius_m", VALUE_DOUBLE, &map->inner_radius);
    map->regions = fields_get_columns(container, "/case/map/regions", region_fields, COUNT(region_fields),
                                      sizeof *map->regions, &map->region_count);
    size_t bound_count;
    struct bound *bounds = fields_get_columns(container, "/case/map/bounds", bound_fields,
                                              COUNT(bound_fields), sizeof *bounds, &bound_count);
    for (size_t i = 0; i < bound_count; i++) {
        if (bounds[i].around < -1 || bounds[i].around >= (int)map->region_count)
            container_bad(container, "/case/map/bounds/around", "names a region that is not there");
    }
    regions_get(container, map, bounds, bound_count);
    memory_free(bounds);
    struct values values;
    map->edge_azimuth = container_get_array(container, "/case/map/edge_azimuth", VALUE_DOUBLE, 1, &values);
    map->edge_count = map->edge_azimuth ? values.extent[0] : 0;
    map->edge_elevation = get_doubles(container, "/case/map/edge_elevation", map->edge_count);
    map_check(container, map);
}

static int metric_of(const char *name)
{
    for (int i = 0; i < METRIC_COUNT; i++) {
        if (strcmp(metric_table[i].name, name) == 0)
            return i;
    }
    return -1;
}

static void get_case(struct container *container, struct case_result *result)
{
    char worst_metric[64];
    fields_get(container, "/case", case_fields, COUNT(case_fields), result);
    container_get(container, "/case", "worst_row", VALUE_INT, &result->worst_hit);
    if (result->worst_hit < 0 || (size_t)result->worst_hit > result->hit_count)
        container_bad(container, "/case", "worst_row is no row of the summary");
    result->worst_hit--;
    container_get_text(container, "/case", "worst_metric", worst_metric, sizeof worst_metric);
    result->worst_metric = metric_of(worst_metric);
    result->title = texts_get(container, "/case/title");
    result->case_text = texts_get(container, "/case/text");
    result->assumptions = texts_get_list(container, "/case/assumptions", &result->assumption_count);
    result->warnings = texts_get_list(container, "/case/warnings", &result->warning_count);
    result->not_covered = texts_get_list(container, "/case/not_covered", &result->not_covered_count);
    if (container_has(container, "/case/sizes"))
        result->sizes = fields_get_columns(container, "/case/sizes", size_fields, COUNT(size_fields),
                                           sizeof *result->sizes, &result->size_count);
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        char path[PATH];
        path_of(path, "/case/limits/%s", metric_table[i].name);
        result->limit[i] = container_has(container, path) ? get_number(container, path) : NAN;
    }
    get_map(container, &result->map);
}

/* Length of a time axis, 0 where there is none. */
static size_t get_time_count(struct container *container, const char *group)
{
    char path[PATH];
    if (!container_has(container, group))
        return 0;
    struct values values;
    void *time = container_get_array(container, path_of(path, "%s/time", group), VALUE_DOUBLE, 1, &values);
    memory_free(time);
    return time ? values.extent[0] : 0;
}

static void get_channels(struct container *container, const char *group, const struct channel_info *table,
                         size_t table_count, double **channels, size_t count)
{
    for (size_t i = 0; count > 0 && i < table_count; i++) {
        char path[PATH];
        path_of(path, "%s/%s", group, table[i].name);
        if (container_has(container, path))
            channels[i] = get_doubles(container, path, count);
    }
}

static void get_layer_crush(struct container *container, const char *group, struct impact_output *output)
{
    char path[PATH];
    struct values values;
    path_of(path, "%s/layer_crush", group);
    double *crush = container_get_array(container, path, VALUE_DOUBLE, 2, &values);
    if (crush && (values.extent[0] != output->layer_count || values.extent[1] != output->count))
        container_bad(container, path, "is not layers x samples");
    for (size_t i = 0; i < output->layer_count && container_status(container) == STATUS_OK; i++) {
        const double *row = crush + i * output->count;
        if (isnan(row[0]))
            continue;
        output->layers[i].crush = memory_doubles(output->count);
        if (output->layers[i].crush)
            memcpy(output->layers[i].crush, row, output->count * sizeof *row);
        else
            container_out_of_memory(container);
    }
    memory_free(crush);
}

static void get_output(struct container *container, const char *hit, struct impact_output *output)
{
    char group[PATH], path[PATH];
    output->layers = fields_get_columns(container, path_of(group, "%s/layers", hit), layer_fields,
                                        COUNT(layer_fields), sizeof *output->layers, &output->layer_count);
    output->count = get_time_count(container, path_of(group, "%s/pulse", hit));
    get_channels(container, group, pulse_table, PULSE_COUNT, output->channel, output->count);
    if (output->count > 0 && output->layer_count > 0)
        get_layer_crush(container, group, output);
    output->ledger_count = get_time_count(container, path_of(group, "%s/ledger", hit));
    get_channels(container, group, energy_table, ENERGY_COUNT, output->ledger, output->ledger_count);
    for (size_t i = 0; i < METRIC_COUNT; i++)
        output->metrics[i] = get_number(container, path_of(path, "%s/metrics/%s", hit, metric_table[i].name));
    for (size_t i = 0; i < ENERGY_COUNT; i++) {
        path_of(path, "%s/energy/%s", hit, energy_table[i].name);
        if (!energy_optional(i) || container_has(container, path))
            output->energy[i] = get_number(container, path);
    }
}

static void get_hit(struct container *container, struct hit_result *hit)
{
    char group[PATH], part[PATH];
    path_of(group, "/impacts/%04d/hit%d", hit->impact, hit->hit);
    fields_get(container, group, hit_fields, COUNT(hit_fields), hit);
    get_output(container, group, &hit->output);
    store_get_rings(container, group, &hit->rings);
    store_get_snapshots(container, group, &hit->output.snapshots);
    hit->judgements = fields_get_columns(container, path_of(part, "%s/judgements", group), judgement_fields,
                                         JUDGEMENT_READ, sizeof *hit->judgements, &hit->judgement_count);
}

static void get_run(struct container *container, struct case_result *result)
{
    fields_get(container, "/run", run_fields, COUNT(run_fields), result);
    result->file = texts_get(container, "/run/file");
    result->result_file = texts_get(container, "/run/result_file");
    double *wall = get_doubles(container, "/run/impacts_wall", result->hit_count);
    for (size_t i = 0; wall && i < result->hit_count; i++)
        result->hits[i].wall = wall[i];
    memory_free(wall);
}

struct bytes {
    const unsigned char *data;
    size_t length;
};

/* The program that wrote a file. */
struct writer {
    char version[64], revision[96];
};

static void get_writer(struct container *container, struct writer *writer)
{
    container_get_text(container, "/", "program_version", writer->version, sizeof writer->version);
    if (container_has_attribute(container, "/", "git_revision"))
        container_get_text(container, "/", "git_revision", writer->revision, sizeof writer->revision);
}

/* Closes a container and passes on what was wrong. A whole file that lacks something is more likely of a
 * program that did not write it yet, or called it something else, than damaged. */
static enum status close_of(struct container *container, const struct writer *writer, struct errors *errors)
{
    struct errors inner = {0};
    enum status status = container_close(container, &inner);
    const char *what = inner.count ? inner.kept[0].text : "";
    if (status == STATUS_OK)
        return status;
    int same =
        strcmp(writer->version, FOAMPULSE_VERSION) == 0 && strcmp(writer->revision, version_revision) == 0;
    if (status != STATUS_INPUT || same || !writer->version[0])
        return errors_add(errors, status, NULL, 0, 0, "%s", what);
    return errors_add(errors, status, NULL, 0, 0,
                      "was written by another foampulse (%s%s%s; this is %s%s%s) and cannot be read by this "
                      "one: run its case again. What differs: %.200s",
                      writer->version, writer->revision[0] ? ", " : "", writer->revision, FOAMPULSE_VERSION,
                      version_revision[0] ? ", " : "", version_revision, what);
}

static enum status result_read(const struct bytes *bytes, struct case_result *result, struct errors *errors)
{
    struct container *container = container_open(bytes->data, bytes->length);
    struct writer writer = {"", ""};
    *result = (struct case_result){0};
    if (container) {
        char schema[64];
        get_writer(container, &writer);
        container_get_text(container, "/", "schema", schema, sizeof schema);
        /* The first two columns say which hits there are, in their order. */
        result->hits = fields_get_columns(container, "/summary", summary_fields, 2, sizeof *result->hits,
                                          &result->hit_count);
        get_case(container, result);
        for (size_t i = 0; i < result->hit_count && container_status(container) == STATUS_OK; i++)
            get_hit(container, &result->hits[i]);
        get_run(container, result);
    }
    enum status status = close_of(container, &writer, errors);
    if (status != STATUS_OK)
        case_result_free(result);
    return status;
}

static enum status attempt(void *context, struct errors *errors)
{
    struct case_result result;
    enum status status = result_read(context, &result, errors);
    case_result_free(&result);
    return status;
}

enum status store_read(const char *path, struct case_result *result, struct errors *errors)
{
    *result = (struct case_result){0};
    unsigned char *data;
    size_t length;
    enum status status = probe_load(path, STORE_RUN, &data, &length, errors);
    if (status != STATUS_OK)
        return status;
    struct bytes bytes = {data, length};
    struct errors inner = {0};
    status = probe_try(path, attempt, &bytes, errors);
    if (status == STATUS_OK)
        status = named(result_read(&bytes, result, &inner), &inner, path, errors);
    memory_free(data);
    return status;
}

enum status store_hash(const char *path, char hash[65], struct errors *errors)
{
    struct errors inner = {0};
    unsigned char *data;
    size_t length;
    hash[0] = '\0';
    enum status status = probe_load(path, STORE_RUN, &data, &length, errors);
    if (status != STATUS_OK)
        return status;
    struct bytes bytes = {data, length};
    status = probe_try(path, attempt, &bytes, errors);
    if (status == STATUS_OK) {
        struct container *container = container_open(data, length);
        if (container)
            container_get_text(container, "/", "content_hash", hash, 65);
        status = named(container_close(container, &inner), &inner, path, errors);
    }
    memory_free(data);
    return status;
}
