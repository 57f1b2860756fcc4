#include "solver/study/measured.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cases/case.h"
#include "solver/base/csv.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/impact/filter.h"
#include "solver/study/judge.h"

static const double impact_level = 5;        /* [g] */
static const double even = 0.01;             /* steps may differ by this share */
static const double slowest_sampling = 1e-4; /* [s], for CFC 1000 */
static const double fastest_sampling = 1e-7; /* [s] */
static const double largest_value = 1e7;     /* [m/s2], [s]: beyond, a unit or a cell is wrong */

/* Names of units in column headers; times first. U+00B5 and U+03BC are both written for micro. */
static const struct {
    const char *text;
    int is_time;
    double scale;
} units[] = {
    {"s", 1, 1},
    {"ms", 1, 1e-3},
    {"us", 1, 1e-6},
    {"\xc2\xb5s", 1, 1e-6},
    {"\xce\xbcs", 1, 1e-6},
    {"g", 0, METRICS_GRAVITY},
    {"m/s2", 0, 1},
    {"m/s^2", 0, 1},
    {"m/s\xc2\xb2", 0, 1},
    {"m s-2", 0, 1},
};
enum { UNIT_COUNT = sizeof units / sizeof *units };

/* Columns of a file that are used, and what they hold. */
struct signal {
    size_t time_column, axis_column[MEASURED_AXES], axis_count;
    double time_scale, axis_scale[MEASURED_AXES];
    size_t count, room;
    double *time;                /* (count) [s] */
    double *axis[MEASURED_AXES]; /* (count) [m/s2] */
    size_t missing;              /* rows left out for a missing value */
};

static void signal_free(struct signal *signal)
{
    memory_free(signal->time);
    for (size_t i = 0; i < MEASURED_AXES; i++)
        memory_free(signal->axis[i]);
    *signal = (struct signal){0};
}

__attribute__((format(printf, 2, 3))) static void note(struct measured_pulse *pulse, const char *format, ...)
{
    if (pulse->note_count == MEASURED_NOTES)
        return;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(pulse->note[pulse->note_count++], NOTE, format, arguments);
    va_end(arguments);
}

static enum status out_of_memory(const struct measured_pulse *pulse, struct errors *errors)
{
    return errors_add(errors, STATUS_MEMORY, pulse->file, 0, 0, "out of memory");
}

/* --- columns ---------------------------------------------------------------------------------------------
 */

static int contains_word(const char *name, const char *word)
{
    size_t length = strlen(word);
    for (; *name; name++) {
        size_t i = 0;
        while (i < length && tolower((unsigned char)name[i]) == word[i])
            i++;
        if (i == length)
            return 1;
    }
    return 0;
}

/* A column that repeats others: made from them, or the same signal before the filter. */
static int is_secondary(const char *header)
{
    return contains_word(header, "resultant") || contains_word(header, "magnitude") ||
           contains_word(header, "unfiltered");
}

/* Index into `units` of each column, negative without one; counts axes that are primary. */
static size_t read_units(const struct csv_reader *reader, int *unit)
{
    const char *texts[UNIT_COUNT];
    char name[ERROR_TEXT], unknown[ERROR_TEXT];
    size_t primary = 0;
    for (size_t i = 0; i < UNIT_COUNT; i++)
        texts[i] = units[i].text;
    for (size_t i = 0; i < reader->column_count; i++) {
        unit[i] = csv_column_unit(reader->header[i], texts, UNIT_COUNT, name, unknown, sizeof name);
        primary += unit[i] >= 0 && !units[unit[i]].is_time && !is_secondary(reader->header[i]);
    }
    return primary;
}

static enum status header_error(const struct csv_reader *reader, struct errors *errors, const char *text)
{
    return errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, 0, "%s", text);
}

static enum status find_columns(const struct csv_reader *reader, struct signal *signal,
                                struct measured_pulse *pulse, struct errors *errors)
{
    int unit[CSV_COLUMNS];
    size_t times = 0, primary = read_units(reader, unit);
    for (size_t i = 0; i < reader->column_count; i++) {
        if (unit[i] >= 0 && units[unit[i]].is_time) {
            signal->time_column = i;
            signal->time_scale = units[unit[i]].scale;
            times++;
        } else if (unit[i] < 0 || (primary && is_secondary(reader->header[i]))) {
            note(pulse, "column \"%.60s\" is not used", reader->header[i]);
        } else {
            if (signal->axis_count == MEASURED_AXES)
                return header_error(
                    reader, errors,
                    "more than three columns of acceleration; a resultant has at most three axes");
            signal->axis_column[signal->axis_count] = i;
            signal->axis_scale[signal->axis_count++] = units[unit[i]].scale;
        }
    }
    if (times != 1)
        return header_error(
            reader, errors,
            times ? "more than one column of time"
                  : "no column of time; name it with its unit: s, ms or us, as in \"time (ms)\"");
    if (signal->axis_count == 0)
        return header_error(reader, errors,
                            "no column of acceleration; name it with its unit: g or m/s2, as in \"a_x (g)\"");
    return STATUS_OK;
}

/* --- rows ------------------------------------------------------------------------------------------------
 */

static int grow(double **values, size_t old, size_t room)
{
    double *more = memory_resized(*values, old, room, sizeof **values);
    if (more)
        *values = more;
    return more != NULL;
}

static int make_room(struct signal *signal)
{
    if (signal->count < signal->room)
        return 1;
    size_t room = signal->room ? 2 * signal->room : 4096;
    int done = grow(&signal->time, signal->count, room);
    for (size_t i = 0; done && i < signal->axis_count; i++)
        done = grow(&signal->axis[i], signal->count, room);
    if (done)
        signal->room = room;
    return done;
}

/* Reads a cell of a used column in SI. */
static enum status read_value(const struct csv_reader *reader, size_t column, double scale, double *value,
                              struct errors *errors)
{
    enum status status = csv_number(reader, column, value, errors);
    *value *= scale;
    if (!(fabs(*value) > largest_value))
        return status;
    return errors_add(errors, STATUS_INPUT, reader->name, reader->line_number, reader->cells[column].column,
                      "%.40s in column \"%.80s\" is too large to be meant", reader->cells[column].text,
                      reader->header[column]);
}

/* Reads the values of a row; leaves it out when one is missing. */
static enum status add_row(const struct csv_reader *reader, struct signal *signal, struct errors *errors)
{
    double time, value[MEASURED_AXES];
    enum status status = read_value(reader, signal->time_column, signal->time_scale, &time, errors);
    int missing = isnan(time);
    for (size_t i = 0; i < signal->axis_count; i++) {
        status = status_worse(
            status, read_value(reader, signal->axis_column[i], signal->axis_scale[i], &value[i], errors));
        missing = missing || isnan(value[i]);
    }
    if (status != STATUS_OK)
        return status;
    signal->missing += (size_t)missing;
    if (missing)
        return STATUS_OK;
    if (signal->count && !(time > signal->time[signal->count - 1]))
        return errors_add(errors, STATUS_INPUT, reader->name, reader->line_number,
                          reader->cells[signal->time_column].column,
                          "time does not increase from the row before (column \"%.80s\")",
                          reader->header[signal->time_column]);
    signal->time[signal->count] = time;
    for (size_t i = 0; i < signal->axis_count; i++)
        signal->axis[i][signal->count] = value[i];
    signal->count++;
    return STATUS_OK;
}

static enum status read_rows(struct csv_reader *reader, struct signal *signal, struct measured_pulse *pulse,
                             struct errors *errors)
{
    enum status status = STATUS_OK;
    size_t before = errors->count;
    while (errors->count < before + ERRORS_KEPT) {
        enum status row = csv_next(reader, errors);
        if (row == STATUS_OK && reader->at_end)
            break;
        if (row == STATUS_FILE)
            return row;
        if (signal->count == MEASURED_SAMPLES)
            return header_error(reader, errors, "more than 4,000,000 rows");
        if (row == STATUS_OK && !make_room(signal))
            return out_of_memory(pulse, errors);
        status = status_worse(status, row == STATUS_OK ? add_row(reader, signal, errors) : row);
    }
    if (status != STATUS_OK)
        return status;
    if (signal->missing)
        note(pulse, "%zu rows with a missing value were left out", signal->missing);
    if (signal->count < MEASURED_LEAST)
        return errors_add(errors, STATUS_INPUT, reader->name, 0, 0,
                          "%zu rows of values; a pulse needs at least %d", signal->count, MEASURED_LEAST);
    return STATUS_OK;
}

/* --- even sampling ---------------------------------------------------------------------------------------
 */

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Median, smallest and largest step of time. */
static int steps_of(const struct signal *signal, double *median, double *smallest, double *largest)
{
    size_t count = signal->count - 1;
    double *steps = memory_doubles(count);
    if (!steps)
        return 0;
    for (size_t i = 0; i < count; i++)
        steps[i] = signal->time[i + 1] - signal->time[i];
    qsort(steps, count, sizeof *steps, compare);
    *median = steps[count / 2];
    *smallest = steps[0];
    *largest = steps[count - 1];
    memory_free(steps);
    return 1;
}

static void interpolate(const struct signal *signal, const double *from, double interval, size_t count,
                        double *to)
{
    size_t at = 0;
    for (size_t i = 0; i < count; i++) {
        double time = signal->time[0] + (double)i * interval;
        while (at + 2 < signal->count && signal->time[at + 1] < time)
            at++;
        double share = (time - signal->time[at]) / (signal->time[at + 1] - signal->time[at]);
        to[i] = from[at] + share * (from[at + 1] - from[at]);
    }
}

static enum status resample(struct signal *signal, struct measured_pulse *pulse, struct errors *errors)
{
    double samples = (signal->time[signal->count - 1] - signal->time[0]) / pulse->interval;
    if (samples >= MEASURED_SAMPLES)
        return errors_add(errors, STATUS_INPUT, pulse->file, 0, 0,
                          "too uneven in time: even sampling would need more than 4,000,000 samples");
    size_t count = (size_t)(samples + 1e-6) + 1;
    for (size_t i = 0; i < signal->axis_count; i++) {
        double *fresh = memory_doubles(count);
        if (!fresh)
            return out_of_memory(pulse, errors);
        interpolate(signal, signal->axis[i], pulse->interval, count, fresh);
        memory_free(signal->axis[i]);
        signal->axis[i] = fresh;
    }
    signal->count = count;
    pulse->resampled = 1;
    return STATUS_OK;
}

/* Sets the interval and makes the samples even. After this `time` counts no more, its first value apart. */
static enum status make_even(struct signal *signal, struct measured_pulse *pulse, struct errors *errors)
{
    double median, smallest, largest;
    if (!steps_of(signal, &median, &smallest, &largest))
        return out_of_memory(pulse, errors);
    pulse->interval = (signal->time[signal->count - 1] - signal->time[0]) / (double)(signal->count - 1);
    if (median < fastest_sampling)
        return errors_add(errors, STATUS_INPUT, pulse->file, 0, 0,
                          "sampled at more than 10 MHz: is the unit of time right?");
    if (smallest >= (1 - even) * pulse->interval && largest <= (1 + even) * pulse->interval)
        return STATUS_OK;
    pulse->interval = median;
    note(pulse, "sampled unevenly, steps of %.4g to %.4g us: resampled at %.4g us, linear between samples",
         1e6 * smallest, 1e6 * largest, 1e6 * median);
    return resample(signal, pulse, errors);
}

/* --- measuring -------------------------------------------------------------------------------------------
 */

/* One channel as it is, with the sign that makes the impact positive; of several the resultant. Replaces the
 * first channel. */
static void take_resultant(struct signal *signal, int reversed)
{
    double *first = signal->axis[0];
    for (size_t i = 0; i < signal->count; i++) {
        double sum = 0;
        for (size_t k = 0; k < signal->axis_count; k++)
            sum += signal->axis[k][i] * signal->axis[k][i];
        first[i] = signal->axis_count > 1 ? sqrt(sum) : reversed ? -first[i] : first[i];
    }
}

static int is_negative_impact(const struct signal *signal)
{
    double low = 0, high = 0;
    for (size_t i = 0; signal->axis_count == 1 && i < signal->count; i++) {
        low = signal->axis[0][i] < low ? signal->axis[0][i] : low;
        high = signal->axis[0][i] > high ? signal->axis[0][i] : high;
    }
    return -low > high;
}

/* Filters each channel, then makes the resultant in the first; `unfiltered` (count) receives that of the
 * channels as they were. */
static enum status filter_channels(struct signal *signal, struct measured_pulse *pulse, double *unfiltered)
{
    struct signal raw = *signal;
    raw.axis[0] = unfiltered;
    memcpy(unfiltered, signal->axis[0], signal->count * sizeof *unfiltered);
    pulse->reversed = is_negative_impact(signal);
    take_resultant(&raw, pulse->reversed);
    pulse->filtered = pulse->interval <= slowest_sampling * (1 + even);
    enum status status = STATUS_OK;
    for (size_t i = 0; pulse->filtered && i < signal->axis_count && status == STATUS_OK; i++)
        status =
            filter_apply(FILTER_HEAD_CLASS, pulse->interval, signal->count, signal->axis[i], signal->axis[i]);
    take_resultant(signal, pulse->reversed);
    return status;
}

/* Notes on what the signal is, for the reader of the figures. */
static void add_notes(const struct signal *signal, struct measured_pulse *pulse)
{
    const double *a = signal->axis[0];
    double level = impact_level * METRICS_GRAVITY;
    if (!pulse->filtered)
        note(pulse, "sampled at %.3g kHz: not filtered; class CFC 1000 asks for 10 kHz or more",
             1e-3 / pulse->interval);
    if (pulse->reversed)
        note(pulse, "the impact is negative: sign changed");
    if (a[0] > level || a[signal->count - 1] > level)
        note(pulse, "the record %s above 5 g: the figures are those of a pulse that is cut off",
             a[0] > level ? "starts" : "ends");
}

static enum status measure(struct signal *signal, struct measured_pulse *pulse, double *unfiltered,
                           struct errors *errors)
{
    double start, end;
    enum status status = filter_channels(signal, pulse, unfiltered);
    if (status != STATUS_OK)
        return out_of_memory(pulse, errors);
    if (!metrics_part_above(signal->count, pulse->interval, signal->axis[0], impact_level * METRICS_GRAVITY,
                            &start, &end))
        return errors_add(errors, STATUS_INPUT, pulse->file, 0, 0,
                          "no impact: the acceleration never exceeds 5 g (is the unit right?)");
    struct pulse_input input = {.count = signal->count,
                                .interval = pulse->interval,
                                .acceleration = signal->axis[0],
                                .acceleration_unfiltered = unfiltered,
                                .touch = start,
                                .gravity = METRICS_GRAVITY,
                                .windowed = 1,
                                .speed_before = NAN,
                                .speed_after = NAN};
    if (metrics_from_pulse(&input, pulse->metrics) != STATUS_OK)
        return out_of_memory(pulse, errors);
    /* a sample stands in the middle of the interval whose mean it is taken for */
    pulse->touch = signal->time[0] + start - 0.5 * pulse->interval;
    pulse->samples = signal->count;
    pulse->channels = signal->axis_count;
    add_notes(signal, pulse);
    return STATUS_OK;
}

enum status measured_read(const char *path, struct measured_pulse *pulse, struct errors *errors)
{
    struct csv_reader reader = {0};
    struct signal signal = {0};
    double *unfiltered = NULL;
    *pulse = (struct measured_pulse){0};
    enum status status = csv_open(&reader, path, errors);
    if (status != STATUS_OK)
        goto done;
    snprintf(pulse->file, sizeof pulse->file, "%s", reader.name);
    status = find_columns(&reader, &signal, pulse, errors);
    if (status == STATUS_OK)
        status = read_rows(&reader, &signal, pulse, errors);
    if (status == STATUS_OK)
        status = make_even(&signal, pulse, errors);
    if (status != STATUS_OK)
        goto done;
    unfiltered = memory_doubles(signal.count);
    status = unfiltered ? measure(&signal, pulse, unfiltered, errors) : out_of_memory(pulse, errors);
done:
    memory_free(unfiltered);
    signal_free(&signal);
    csv_close(&reader);
    if (status != STATUS_OK)
        *pulse = (struct measured_pulse){0};
    return status;
}

/* --- several pulses --------------------------------------------------------------------------------------
 */

static void summarise_metric(size_t count, const struct measured_pulse *pulses, size_t metric,
                             struct measured_summary *summary)
{
    double sum = 0, squares = 0, largest = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        sum += pulses[i].metrics[metric];
        largest = pulses[i].metrics[metric] > largest ? pulses[i].metrics[metric] : largest;
    }
    double mean = sum / (double)count;
    for (size_t i = 0; i < count; i++)
        squares += (pulses[i].metrics[metric] - mean) * (pulses[i].metrics[metric] - mean);
    summary->mean[metric] = mean;
    summary->largest[metric] = isnan(mean) ? NAN : largest;
    summary->deviation[metric] = count > 1 ? sqrt(squares / (double)(count - 1)) : NAN;
    summary->bound[metric] = count > 1 ? mean + summary->factor * summary->deviation[metric] : mean;
}

void measured_summarise(size_t count, const struct measured_pulse *pulses, double factor,
                        struct measured_summary *summary)
{
    *summary = (struct measured_summary){.count = count, .factor = factor};
    for (size_t metric = 0; metric < METRIC_COUNT; metric++)
        summarise_metric(count, pulses, metric, summary);
}

/* --- limits ----------------------------------------------------------------------------------------------
 */

static enum status limit_error(struct errors *errors, const char *name, size_t length)
{
    const char *keys[METRIC_COUNT];
    char word[64];
    size_t count = 0;
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        if (metric_table[i].limit_key)
            keys[count++] = metric_table[i].limit_key;
    }
    snprintf(word, sizeof word, "%.*s", (int)length, name);
    const char *nearest = units_nearest(word, keys, count);
    return errors_add(errors, STATUS_USAGE, "--limits", 0, 0, "no limit can be set for '%s'%s%s%s", word,
                      nearest ? "; did you mean '" : ", as in peak_g=275,hic=2400", nearest ? nearest : "",
                      nearest ? "'?" : "");
}

static int find_limit(const char *name, size_t length)
{
    for (int i = 0; i < METRIC_COUNT; i++) {
        const char *key = metric_table[i].limit_key;
        if (key && strlen(key) == length && memcmp(key, name, length) == 0)
            return i;
    }
    return -1;
}

/* Reads "275" or "275 g", where g is the unit of the metric. */
static int read_limit(const char *text, const char *unit, double *value)
{
    char number[64];
    size_t length = strlen(text), unit_length = strlen(unit);
    if (length > unit_length && strcmp(text + length - unit_length, unit) == 0 && strcmp(unit, "1") != 0)
        length -= unit_length;
    while (length && text[length - 1] == ' ')
        length--;
    snprintf(number, sizeof number, "%.*s", (int)length, text);
    return length < sizeof number && csv_parse_number(number, 0, value) && *value > 0;
}

static enum status read_assignment(const char *text, double limits[METRIC_COUNT], struct errors *errors)
{
    text += strspn(text, " ");
    size_t length = strcspn(text, "= ");
    const char *value = text + length + strspn(text + length, " ");
    if (*value != '=' || length == 0)
        return errors_add(errors, STATUS_USAGE, "--limits", 0, 0,
                          "'%.80s' is not NAME=VALUE, as in peak_g=275,hic=2400", text);
    int metric = find_limit(text, length);
    if (metric < 0)
        return limit_error(errors, text, length);
    if (!isnan(limits[metric]))
        return errors_add(errors, STATUS_USAGE, "--limits", 0, 0, "%s is given twice",
                          metric_table[metric].limit_key);
    value += 1 + strspn(value + 1, " ");
    if (read_limit(value, metric_table[metric].unit, &limits[metric]))
        return STATUS_OK;
    limits[metric] = NAN;
    int bare = strcmp(metric_table[metric].unit, "1") == 0;
    return errors_add(errors, STATUS_USAGE, "--limits", 0, 0, "%s=%.80s: a positive number%s%s is expected",
                      metric_table[metric].limit_key, value, bare ? "" : " in ",
                      bare ? "" : metric_table[metric].unit);
}

static enum status read_assignments(const char *text, double limits[METRIC_COUNT], struct errors *errors)
{
    enum status status = STATUS_OK;
    for (;;) {
        char part[128];
        size_t length = strcspn(text, ",");
        snprintf(part, sizeof part, "%.*s", (int)length, text);
        status = status_worse(status, read_assignment(part, limits, errors));
        if (text[length] == '\0')
            return status;
        text += length + 1;
    }
}

static enum status limits_of_case(const char *path, struct measured_limits *limits, struct errors *errors)
{
    struct case_file file;
    size_t count = 0;
    enum status status = case_load(path, NULL, 0, &file, errors);
    if (status != STATUS_OK)
        return status;
    for (size_t i = 0; i < METRIC_COUNT; i++) {
        limits->value[i] = file.limit[i];
        count += !isnan(file.limit[i]);
    }
    limits->target = file.target;
    case_free(&file);
    snprintf(limits->provenance, sizeof limits->provenance, "those of %.80s", path);
    if (count == 0)
        return errors_add(errors, STATUS_INPUT, path, 0, 0,
                          "the case sets no limits that a pulse can be held to");
    return STATUS_OK;
}

enum status measured_limits_read(const char *text, struct measured_limits *limits, struct errors *errors)
{
    *limits = (struct measured_limits){.target = NAN, .provenance = "given on the command line"};
    for (size_t i = 0; i < METRIC_COUNT; i++)
        limits->value[i] = NAN;
    int is_path = !strchr(text, '=') && strpbrk(text, "./");
    return is_path ? limits_of_case(text, limits, errors) : read_assignments(text, limits->value, errors);
}

size_t measured_judge(const struct measured_limits *limits, const struct measured_summary *summary,
                      struct judgement *judgements)
{
    size_t count = 0;
    for (int metric = 0; metric < METRIC_COUNT; metric++) {
        double limit = limits->value[metric], bound = summary->bound[metric],
               largest = summary->largest[metric];
        if (isnan(limit))
            continue;
        double value = largest > bound ? largest : bound;
        judgements[count] = (struct judgement){
            .metric = metric,
            .value = value,
            .limit = limit,
            .margin = (limit - value) / limit,
            .state = isnan(value) ? VERDICT_NOT_COMPUTED : judge_value(value, limit, limits->target)};
        snprintf(judgements[count].provenance, sizeof judgements->provenance, "%s", limits->provenance);
        count++;
    }
    return count;
}
