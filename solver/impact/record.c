#include "solver/impact/record.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"

static const double rounding = 1e-9; /* of an interval: a step that ends this near its end ends there */

enum status record_create(struct record *record, double interval, double duration, size_t mean_count,
                          size_t sample_count, const double *start)
{
    /* A duration of whole intervals must not gain one by rounding. */
    size_t room = (size_t)ceil(duration / interval - 1e-6);
    *record = (struct record){
        .interval = interval, .room = room, .mean_count = mean_count, .sample_count = sample_count};
    record->integral = memory_zeroed(mean_count * room, sizeof *record->integral);
    record->sample = memory_zeroed(sample_count * room, sizeof *record->sample);
    record->last = memory_zeroed(sample_count, sizeof *record->last);
    if (!record->integral || !record->sample || !record->last) {
        record_free(record);
        return STATUS_MEMORY;
    }
    if (sample_count)
        memcpy(record->last, start, sample_count * sizeof *start);
    return STATUS_OK;
}

static void add_means(struct record *record, double span, const double *mean)
{
    for (size_t i = 0; i < record->mean_count; i++)
        record->integral[i * record->room + record->count] += mean[i] * span;
}

/* Closes the present interval, which ends `share` of the way from the last samples to `sample`. */
static void close_interval(struct record *record, double share, const double *sample)
{
    for (size_t i = 0; i < record->sample_count; i++)
        record->sample[i * record->room + record->count] =
            record->last[i] + share * (sample[i] - record->last[i]);
    record->count++;
}

int record_due(const struct record *record, double to)
{
    double end = (double)(record->count + 1) * record->interval;
    return record->count < record->room && to >= end - rounding * record->interval;
}

void record_step(struct record *record, double to, const double *mean, const double *sample)
{
    double from = record->time, at = from;
    while (record->count < record->room) {
        double end = (double)(record->count + 1) * record->interval;
        if (!record_due(record, to)) {
            add_means(record, to - at, mean);
            break;
        }
        add_means(record, end - at, mean);
        close_interval(record, to > from ? (end - from) / (to - from) : 1, sample);
        at = end;
    }
    record->time = to;
    if (record->sample_count)
        memcpy(record->last, sample, record->sample_count * sizeof *sample);
}

void record_means(const struct record *record, size_t channel, double scale, double *values)
{
    const double *integral = record->integral + channel * record->room;
    for (size_t i = 0; i < record->count; i++)
        values[i] = integral[i] / record->interval * scale;
}

const double *record_samples(const struct record *record, size_t channel)
{
    return record->sample + channel * record->room;
}

void record_free(struct record *record)
{
    memory_free(record->integral);
    memory_free(record->sample);
    memory_free(record->last);
    *record = (struct record){0};
}
