#include "cases/store_sweep.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "cases/container.h"
#include "cases/fields.h"
#include "cases/probe.h"
#include "cases/texts.h"
#include "solver/base/memory.h"
#include "solver/base/save.h"
#include "solver/base/version.h"

enum { PATH = 256, MOST_HITS = 100000, MOST_ROWS = 10000000, LONGEST = 4096 };

#define COUNT(array) (sizeof(array) / sizeof *(array))

/* --- what stands where --- */

static const char *verdict_name(int value)
{
    return value >= 0 && value <= VERDICT_INCOMPLETE ? verdict_text((enum verdict)value) : NULL;
}

#define HIT(member, kind, name, units, text) FIELD(struct hit_result, member, kind, name, units, text)

static const struct field hit_fields[] = {
    HIT(impact, FIELD_INT, "impact", "1", "number of the impact, from 1"),
    HIT(hit, FIELD_INT, "hit", "1", "number of the hit of that impact, from 1"),
    HIT(size, FIELD_TEXT, "size", "1", "size of the helmet"),
    HIT(headform_set, FIELD_TEXT, "headform_set", "1", "set of the headform"),
    HIT(headform_size, FIELD_TEXT, "headform_size", "1", "size of the headform"),
    HIT(headform_own, FIELD_TEXT, "headform_own", "1", "what the case gives in place of the size's"),
    HIT(headform_mass, FIELD_DOUBLE, "headform_mass_kg", "kg", "mass of the headform"),
    HIT(site, FIELD_TEXT, "site", "1", "site of the impact"),
    HIT(elevation, FIELD_DOUBLE, "elevation_rad", "rad", "direction of the site, up"),
    HIT(azimuth, FIELD_DOUBLE, "azimuth_rad", "rad", "direction of the site, to the right"),
    HIT(region, FIELD_TEXT, "region", "1", "region under the site"),
    HIT(anvil, FIELD_TEXT, "anvil", "1", "anvil"),
    HIT(angle, FIELD_DOUBLE, "angle_rad", "rad", "between the fall and the normal of the face"),
    HIT(towards[0], FIELD_DOUBLE, "towards_elevation_rad", "rad", "where an oblique impact pushes to"),
    HIT(towards[1], FIELD_DOUBLE, "towards_azimuth_rad", "rad", "the same"),
    HIT(face_friction, FIELD_DOUBLE, "face_friction", "1", "of the shell on the anvil"),
    HIT(head_friction, FIELD_DOUBLE, "head_friction", "1", "of the liner on the head"),
    HIT(head_inertia, FIELD_DOUBLE, "head_inertia_kg_m2", "kg m2", "about the axis of rotation"),
    HIT(inertia_assumed, FIELD_INT, "inertia_assumed", "1", "1: of a uniform ellipsoid"),
    HIT(speed, FIELD_DOUBLE, "speed_m_s", "m/s", "speed at first touch"),
    HIT(temperature, FIELD_DOUBLE, "temperature_C", "degC", "temperature of the helmet"),
    HIT(model, FIELD_TEXT, "model", "1", "model"),
};

static const struct field sweep_fields[] = {
    FIELD(struct sweep, frame, FIELD_TEXT, "frame", "", ""),
    FIELD(struct sweep, case_hash, FIELD_TEXT, "case_hash", "", ""),
    FIELD(struct sweep, model, FIELD_TEXT, "model", "", ""),
    FIELD(struct sweep, sample, FIELD_TEXT, "sample", "", ""),
    FIELD(struct sweep, seed, FIELD_LONG, "seed", "", ""),
    FIELD(struct sweep, asked, FIELD_LONG, "points_asked", "", ""),
    FIELD(struct sweep, target, FIELD_DOUBLE, "target", "", ""),
    FIELD(struct sweep, helmet_mass_limit, FIELD_DOUBLE, "helmet_mass_limit_kg", "", ""),
};

#define POINT(member, kind, name, units, text) FIELD(struct sweep_point, member, kind, name, units, text)

static const struct field point_fields[] = {
    POINT(number, FIELD_LONG, "number", "1", "of the point in the sample, from 1; 0: of an earlier sample"),
    FIELD_OF(struct sweep_point, status, sweep_status_text, "status", "computed, failed or refused"),
    POINT(mass.helmet, FIELD_DOUBLE, "helmet_mass_kg", "kg", "mass of the helmet, of a family the heaviest"),
    POINT(mass.shell, FIELD_DOUBLE, "shell_mass_kg", "kg", "mass of its shell"),
    POINT(mass.liner, FIELD_DOUBLE, "liner_mass_kg", "kg", "mass of its liner"),
    POINT(mass.comfort, FIELD_DOUBLE, "comfort_mass_kg", "kg", "mass of its padding"),
    POINT(mass.other, FIELD_DOUBLE, "other_mass_kg", "kg", "mass of the rest"),
    FIELD_OF(struct sweep_point, verdict, verdict_name, "verdict", "verdict on the layout"),
    POINT(worst_margin, FIELD_DOUBLE, "worst_margin", "1", "least (limit - value) / limit of its hits"),
    POINT(worst_hit, FIELD_INT, "worst_hit", "1", "row of that hit, from 0; -1 for none"),
    POINT(worst_metric, FIELD_INT, "worst_metric", "1", "metric of it in the order of /hits/limits; -1"),
    POINT(stroke_left, FIELD_DOUBLE, "stroke_left", "1", "least part of a liner that was not crushed"),
};

static const char *path_of(char path[PATH], const char *format, ...) __attribute__((format(printf, 2, 3)));

static const char *path_of(char path[PATH], const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(path, PATH, format, arguments);
    va_end(arguments);
    return path;
}

static const char *metric_units(int metric)
{
    const char *unit = metric_table[metric].unit;
    return strcmp(unit, "g") == 0 ? "9.80665 m s-2" : unit;
}

/* --- writing --- */

static void put_table(struct container *container, const char *path, const char *units,
                      const char *description, size_t rows, size_t columns, const double *data)
{
    container_array(
        container, path, units, description,
        &(struct values){.kind = VALUE_DOUBLE, .rank = 2, .extent = {rows, columns}, .data = data});
}

static void put_root(struct container *container, const char *schema, const struct sweep *sweep)
{
    container_attribute_text(container, "/", "schema", schema);
    container_attribute_text(container, "/", "program_version", FOAMPULSE_VERSION);
    if (version_revision[0] != '\0')
        container_attribute_text(container, "/", "git_revision", version_revision);
    container_attribute_text(container, "/", "compiler", __VERSION__);
    container_attribute_text(container, "/", "caution", CAUTION_TEXT);
    container_group(container, "/case");
    fields_put(container, "/case", sweep_fields, COUNT(sweep_fields), sweep);
    texts_put(container, "/case/title", "title of the case", sweep->title);
    texts_put(container, "/case/text", "the case as written, with all includes, as YAML", sweep->case_text);
    texts_put_list(container, "/case/assumptions", "what the case leaves open", sweep->notes,
                   sweep->note_count);
    texts_put_list(container, "/case/warnings", "what deserves a second look", sweep->warnings,
                   sweep->warning_count);
    texts_put_list(container, "/case/not_covered", "tests of the programmes that are not computed",
                   sweep->not_covered, sweep->not_covered_count);
}

/* A factor and a level as rows of their tables. */
struct factor_row {
    char path[FACTOR_PATH], unit[UNITS_NAME];
    double low, high;
    long levels;
    int texts;
};

struct level_row {
    int factor;
    double value;
    char text[FACTOR_TEXT];
};

static const struct field factor_fields[] = {
    FIELD(struct factor_row, path, FIELD_TEXT, "path", "1", "path of the case that varies"),
    FIELD(struct factor_row, unit, FIELD_TEXT, "unit", "1", "unit of its values; empty for none"),
    FIELD(struct factor_row, low, FIELD_DOUBLE, "low", "1", "smallest value, in that unit"),
    FIELD(struct factor_row, high, FIELD_DOUBLE, "high", "1", "largest value, in that unit"),
    FIELD(struct factor_row, levels, FIELD_LONG, "level_count", "1",
          "count of its values; 0: any in the range"),
    FIELD(struct factor_row, texts, FIELD_INT, "texts", "1", "1: its values are texts, told by their level"),
};

static const struct field level_fields[] = {
    FIELD(struct level_row, factor, FIELD_INT, "factor", "1", "row of the factor, from 1"),
    FIELD(struct level_row, value, FIELD_DOUBLE, "value", "1", "value, in the unit of the factor"),
    FIELD(struct level_row, text, FIELD_TEXT, "text", "1", "the same as a case says it"),
};

static void put_levels(struct container *container, const struct sweep *sweep)
{
    size_t count = 0, at = 0;
    for (size_t i = 0; i < sweep->factor_count; i++)
        count += sweep->factors[i].level_count;
    struct level_row *rows = memory_zeroed(count + 1, sizeof *rows);
    if (!rows) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        for (size_t k = 0; k < factor->level_count; k++, at++) {
            rows[at] = (struct level_row){.factor = (int)i + 1, .value = factor->levels[k]};
            factor_write(factor, factor->levels[k], rows[at].text);
        }
    }
    container_group(container, "/factors/levels");
    fields_put_columns(container, "/factors/levels", level_fields, COUNT(level_fields), rows, sizeof *rows,
                       count);
    memory_free(rows);
}

static void put_factors(struct container *container, const struct sweep *sweep)
{
    struct factor_row *rows = memory_zeroed(sweep->factor_count + 1, sizeof *rows);
    if (!rows) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < sweep->factor_count; i++) {
        const struct factor *factor = &sweep->factors[i];
        rows[i] = (struct factor_row){.low = factor->low,
                                      .high = factor->high,
                                      .levels = (long)factor->level_count,
                                      .texts = factor->texts != NULL};
        memcpy(rows[i].path, factor->path, sizeof rows[i].path);
        memcpy(rows[i].unit, factor->unit, sizeof rows[i].unit);
    }
    container_group(container, "/factors");
    fields_put_columns(container, "/factors", factor_fields, COUNT(factor_fields), rows, sizeof *rows,
                       sweep->factor_count);
    put_levels(container, sweep);
    memory_free(rows);
}

/* Column `metric` of an array (rows x METRIC_COUNT) as a dataset (extent). */
static void put_metric(struct container *container, const char *path, int metric, const double *data,
                       const struct values *shape)
{
    size_t count = values_count(shape);
    double *column = memory_doubles(count + 1);
    if (!column) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < count; i++)
        column[i] = data[i * METRIC_COUNT + (size_t)metric];
    struct values values = *shape;
    values.data = column;
    container_array(container, path, metric_units(metric), metric_table[metric].description, &values);
    memory_free(column);
}

static void put_hits(struct container *container, const struct sweep *sweep)
{
    char path[PATH];
    container_group(container, "/hits");
    fields_put_columns(container, "/hits", hit_fields, COUNT(hit_fields), sweep->hits, sizeof *sweep->hits,
                       sweep->hit_count);
    container_group(container, "/hits/limits");
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        put_metric(container, path_of(path, "/hits/limits/%s", metric_table[metric].name), metric,
                   sweep->limits,
                   &(struct values){.kind = VALUE_DOUBLE, .rank = 1, .extent = {sweep->hit_count}});
}

static void put_identities(struct container *container, const struct sweep *sweep)
{
    enum { HEX = 2 * DIGEST_BYTES };
    char *block = memory_zeroed(sweep->point_count * HEX + 1, 1);
    if (!block) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < sweep->point_count; i++) {
        for (size_t k = 0; k < DIGEST_BYTES; k++) {
            static const char digits[] = "0123456789abcdef";
            block[i * HEX + 2 * k] = digits[sweep->points[i].identity[k] >> 4];
            block[i * HEX + 2 * k + 1] = digits[sweep->points[i].identity[k] & 15];
        }
    }
    container_array(
        container, "/sweep/identity", "1", "hash of all that the row depends on",
        &(struct values){
            .kind = VALUE_TEXT, .text_size = HEX, .rank = 1, .extent = {sweep->point_count}, .data = block});
    memory_free(block);
}

static void put_states(struct container *container, const struct sweep *sweep)
{
    size_t count = sweep->point_count * sweep->hit_count;
    int *states = memory_zeroed(count + 1, sizeof *states);
    if (!states) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < count; i++)
        states[i] = sweep->states[i];
    container_array(
        container, "/sweep/hit_status", "1", "0 computed, 1 not computed, 2 failed",
        &(struct values){
            .kind = VALUE_INT, .rank = 2, .extent = {sweep->point_count, sweep->hit_count}, .data = states});
    memory_free(states);
}

static void put_points(struct container *container, const struct sweep *sweep)
{
    char path[PATH];
    size_t points = sweep->point_count, hits = sweep->hit_count;
    container_group(container, "/sweep");
    fields_put_columns(container, "/sweep", point_fields, COUNT(point_fields), sweep->points,
                       sizeof *sweep->points, points);
    texts_put_members(container, "/sweep/message", "why it failed or was refused", &sweep->points->message,
                      sizeof *sweep->points, points);
    texts_put_members(container, "/sweep/why", "what the foam does in the worst hit, and where",
                      &sweep->points->why, sizeof *sweep->points, points);
    put_identities(container, sweep);
    put_table(container, "/sweep/factors", "1", "values of the factors, each in its own unit", points,
              sweep->factor_count, sweep->values);
    put_states(container, sweep);
    put_table(container, "/sweep/margins", "1", "least (limit - value) / limit of each hit", points, hits,
              sweep->margins);
    container_group(container, "/sweep/metrics");
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        put_metric(container, path_of(path, "/sweep/metrics/%s", metric_table[metric].name), metric,
                   sweep->metrics,
                   &(struct values){.kind = VALUE_DOUBLE, .rank = 2, .extent = {points, hits}});
}

static enum status named(enum status status, const struct errors *inner, const char *path,
                         struct errors *errors)
{
    if (status == STATUS_OK)
        return status;
    return errors_add(errors, status, path, 0, 0, "%s",
                      inner->count ? inner->kept[0].text : status_text(status));
}

enum status store_sweep_write(const char *path, const char *schema, const struct sweep *sweep,
                              struct errors *errors)
{
    struct container *container = container_new();
    if (container) {
        put_root(container, schema, sweep);
        put_factors(container, sweep);
        put_hits(container, sweep);
        put_points(container, sweep);
    }
    unsigned char *bytes;
    size_t length;
    struct errors inner = {0};
    enum status status = container_end(container, schema, &bytes, &length, &inner);
    if (status == STATUS_OK)
        status = save_file(path, bytes, length, errors);
    else
        named(status, &inner, path, errors);
    memory_free(bytes);
    return status;
}

int store_sweep_there(const char *path, const char *schema)
{
    return probe_owner(path, schema) == PROBE_OURS;
}

const char *store_sweep_kind(const char *path)
{
    static const char *const schemas[] = {STORE_SWEEP, STORE_TUNE, STORE_TOLERANCE};
    for (size_t i = 0; i < COUNT(schemas); i++) {
        if (store_sweep_there(path, schemas[i]))
            return schemas[i];
    }
    return NULL;
}

enum status store_sweep_check(const char *path, const char *schema, int force, struct errors *errors)
{
    struct save save;
    enum probe_owner owner = probe_owner(path, schema);
    if (owner == PROBE_SPECIAL)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "is a folder or device and is not replaced");
    if (owner == PROBE_UNREADABLE && !force)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "cannot be read: %s", strerror(errno));
    if (owner == PROBE_FOREIGN && !force)
        return errors_add(errors, STATUS_FILE, path, 0, 0,
                          "is no result of this kind, or a link to elsewhere: -f replaces it");
    enum status status = save_begin(path, &save, errors);
    save_abandon(&save);
    return status;
}

/* --- reading --- */

/* A table (rows x columns) of doubles. */
static double *get_table(struct container *container, const char *path, size_t rows, size_t columns)
{
    struct values values;
    double *block = container_get_array(container, path, VALUE_DOUBLE, 2, &values);
    if (block && values.extent[0] == rows && values.extent[1] == columns)
        return block;
    if (block)
        container_bad(container, path, "is not as large as it should be");
    memory_free(block);
    return NULL;
}

static void get_metric(struct container *container, const char *path, int metric, int rank, size_t count,
                       double *data)
{
    struct values values;
    double *column = container_get_array(container, path, VALUE_DOUBLE, rank, &values);
    if (column && values_count(&values) != count)
        container_bad(container, path, "is not as large as it should be");
    for (size_t i = 0; column && container_status(container) == STATUS_OK && i < count; i++)
        data[i * METRIC_COUNT + (size_t)metric] = column[i];
    memory_free(column);
}

static void check_asked(struct container *container, const struct sweep *sweep)
{
    if (sweep->asked < 0 || sweep->asked > MOST_ROWS)
        container_bad(container, "/case", "points_asked is no count of points");
}

static void get_case(struct container *container, struct sweep *sweep)
{
    fields_get(container, "/case", sweep_fields, COUNT(sweep_fields), sweep);
    check_asked(container, sweep);
    sweep->title = texts_get(container, "/case/title");
    sweep->case_text = texts_get(container, "/case/text");
    sweep->notes = texts_get_list(container, "/case/assumptions", &sweep->note_count);
    sweep->warnings = texts_get_list(container, "/case/warnings", &sweep->warning_count);
    sweep->not_covered = texts_get_list(container, "/case/not_covered", &sweep->not_covered_count);
}

/* Levels of one factor from their table, of which those before `*at` are taken. */
static void get_factor(struct container *container, const struct factor_row *row, size_t number,
                       const struct level_row *levels, size_t level_count, size_t *at, struct factor *factor)
{
    *factor = (struct factor){.low = row->low, .high = row->high};
    memcpy(factor->path, row->path, sizeof factor->path);
    memcpy(factor->unit, row->unit, sizeof factor->unit);
    if (row->levels < 0 || (size_t)row->levels > level_count - *at || (row->texts && row->levels == 0)) {
        container_bad(container, "/factors/levels", "holds fewer rows than the factors need");
        return;
    }
    size_t count = (size_t)row->levels;
    factor->levels = memory_doubles(count + 1);
    factor->texts = row->texts ? memory_zeroed(count + 1, sizeof *factor->texts) : NULL;
    if (!factor->levels || (row->texts && !factor->texts)) {
        container_out_of_memory(container);
        return;
    }
    factor->level_count = count;
    for (size_t i = 0; i < count; i++, (*at)++) {
        factor->levels[i] = levels[*at].value;
        if (factor->texts)
            memcpy(factor->texts[i], levels[*at].text, FACTOR_TEXT);
        if (levels[*at].factor != (int)number)
            container_bad(container, "/factors/levels/factor", "is not in the order of the factors");
    }
}

static void get_factors(struct container *container, struct sweep *sweep)
{
    size_t count, level_count, at = 0;
    struct factor_row *rows =
        fields_get_columns(container, "/factors", factor_fields, COUNT(factor_fields), sizeof *rows, &count);
    struct level_row *levels = fields_get_columns(container, "/factors/levels", level_fields,
                                                  COUNT(level_fields), sizeof *levels, &level_count);
    if (count > FACTORS_MOST)
        container_bad(container, "/factors", "has more factors than a study can");
    if (container_status(container) == STATUS_OK) {
        sweep->factors = memory_zeroed(count + 1, sizeof *sweep->factors);
        if (!sweep->factors)
            container_out_of_memory(container);
    }
    for (size_t i = 0; sweep->factors && i < count && container_status(container) == STATUS_OK; i++) {
        get_factor(container, &rows[i], i + 1, levels, level_count, &at, &sweep->factors[i]);
        sweep->factor_count = i + 1;
    }
    memory_free(rows);
    memory_free(levels);
}

static void get_hits(struct container *container, struct sweep *sweep)
{
    char path[PATH];
    sweep->hits = fields_get_columns(container, "/hits", hit_fields, COUNT(hit_fields), sizeof *sweep->hits,
                                     &sweep->hit_count);
    if (sweep->hit_count > MOST_HITS)
        container_bad(container, "/hits", "has more hits than a case can");
    if (container_status(container) != STATUS_OK)
        return;
    sweep->limits = memory_doubles(sweep->hit_count * METRIC_COUNT + 1);
    if (!sweep->limits) {
        container_out_of_memory(container);
        return;
    }
    for (size_t i = 0; i < sweep->hit_count; i++)
        sweep->hits[i].hoop = hoop_bounds_none;
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        get_metric(container, path_of(path, "/hits/limits/%s", metric_table[metric].name), metric, 1,
                   sweep->hit_count, sweep->limits);
}

static int digit_of(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

static void get_identities(struct container *container, struct sweep *sweep)
{
    struct values values;
    char *block = container_get_array(container, "/sweep/identity", VALUE_TEXT, 1, &values);
    if (block && (values.extent[0] != sweep->point_count || values.text_size != 2 * DIGEST_BYTES))
        container_bad(container, "/sweep/identity", "does not have 64 digits for each point");
    for (size_t i = 0; block && i < sweep->point_count && container_status(container) == STATUS_OK; i++) {
        for (size_t k = 0; k < DIGEST_BYTES; k++) {
            const char *at = block + (i * DIGEST_BYTES + k) * 2;
            int high = digit_of(at[0]), low = digit_of(at[1]);
            if (high < 0 || low < 0)
                container_bad(container, "/sweep/identity", "is not hexadecimal");
            sweep->points[i].identity[k] = (unsigned char)((high * 16 + low) & 255);
        }
    }
    memory_free(block);
}

static void get_states(struct container *container, struct sweep *sweep)
{
    struct values values;
    size_t count = sweep->point_count * sweep->hit_count;
    int *states = container_get_array(container, "/sweep/hit_status", VALUE_INT, 2, &values);
    if (states && (values.extent[0] != sweep->point_count || values.extent[1] != sweep->hit_count))
        container_bad(container, "/sweep/hit_status", "is not points x hits");
    for (size_t i = 0; states && container_status(container) == STATUS_OK && i < count; i++) {
        if (states[i] < 0 || states[i] > HIT_FAILED)
            container_bad(container, "/sweep/hit_status", "is 0, 1 or 2");
        sweep->states[i] = (unsigned char)states[i];
    }
    memory_free(states);
}

/* A value of a text factor is one of its levels. */
static void check_values(struct container *container, const struct sweep *sweep)
{
    for (size_t i = 0; i < sweep->point_count; i++) {
        for (size_t k = 0; k < sweep->factor_count; k++) {
            const struct factor *factor = &sweep->factors[k];
            double value = sweep_values(sweep, i)[k];
            if (factor->texts &&
                !(value >= 0 && value < (double)factor->level_count && value == floor(value)))
                container_bad(container, "/sweep/factors", "names a level that is not there");
        }
        if (sweep->points[i].worst_hit < -1 || sweep->points[i].worst_hit >= (int)sweep->hit_count ||
            sweep->points[i].worst_metric < -1 || sweep->points[i].worst_metric >= METRIC_COUNT)
            container_bad(container, "/sweep/worst_hit", "names a hit or metric that is not there");
    }
}

/* The columns whose size follows from the counts of points, factors and hits. */
static void get_columns(struct container *container, struct sweep *sweep)
{
    char path[PATH];
    size_t points = sweep->point_count, hits = sweep->hit_count;
    sweep->values = get_table(container, "/sweep/factors", points, sweep->factor_count);
    sweep->margins = get_table(container, "/sweep/margins", points, hits);
    sweep->metrics = memory_doubles(points * hits * METRIC_COUNT + 1);
    sweep->states = memory_zeroed(points * hits + 1, 1);
    if (!sweep->metrics || !sweep->states) {
        container_out_of_memory(container);
        return;
    }
    get_states(container, sweep);
    for (int metric = 0; metric < METRIC_COUNT; metric++)
        get_metric(container, path_of(path, "/sweep/metrics/%s", metric_table[metric].name), metric, 2,
                   points * hits, sweep->metrics);
}

static void get_points(struct container *container, struct sweep *sweep)
{
    sweep->points = fields_get_columns(container, "/sweep", point_fields, COUNT(point_fields),
                                       sizeof *sweep->points, &sweep->point_count);
    if (sweep->point_count > MOST_ROWS)
        container_bad(container, "/sweep", "has more points than a sweep can");
    if (container_status(container) != STATUS_OK)
        return;
    if (sweep->point_count > 0) {
        texts_get_members(container, "/sweep/message", LONGEST, &sweep->points->message,
                          sizeof *sweep->points, sweep->point_count);
        texts_get_members(container, "/sweep/why", LONGEST, &sweep->points->why, sizeof *sweep->points,
                          sweep->point_count);
    }
    get_identities(container, sweep);
    get_columns(container, sweep);
    if (container_status(container) == STATUS_OK)
        check_values(container, sweep);
}

struct bytes {
    const unsigned char *data;
    size_t length;
};

static enum status read_bytes(const struct bytes *bytes, struct sweep *sweep, struct errors *errors)
{
    struct container *container = container_open(bytes->data, bytes->length);
    *sweep = (struct sweep){0};
    if (container) {
        get_case(container, sweep);
        get_factors(container, sweep);
        get_hits(container, sweep);
        get_points(container, sweep);
    }
    enum status status = container_close(container, errors);
    if (status != STATUS_OK)
        sweep_free(sweep);
    return status;
}

static enum status attempt(void *context, struct errors *errors)
{
    struct sweep sweep;
    enum status status = read_bytes(context, &sweep, errors);
    sweep_free(&sweep);
    return status;
}

enum status store_sweep_read(const char *path, const char *schema, struct sweep *sweep, struct errors *errors)
{
    unsigned char *data;
    size_t length;
    *sweep = (struct sweep){0};
    enum status status = probe_load(path, schema, &data, &length, errors);
    if (status != STATUS_OK)
        return status;
    struct bytes bytes = {data, length};
    struct errors inner = {0};
    status = probe_try(path, attempt, &bytes, errors);
    if (status == STATUS_OK)
        status = named(read_bytes(&bytes, sweep, &inner), &inner, path, errors);
    memory_free(data);
    return status;
}
