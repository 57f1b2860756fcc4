#include "solver/study/sensitivity.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "solver/base/memory.h"

/* Points and values of one study. */
struct sample {
    const struct sensitivity_function *function;
    size_t count;
    const double *base;
    double *x;                      /* (count x factors), what is asked for; owns the others */
    double *first, *second, *mixed; /* (count): at the first points, the second, the first with one factor of
                                       the second */
};

static enum status make(const struct sensitivity_function *function, size_t count, const double *base,
                        struct sample *sample)
{
    size_t factors = function->factors;
    *sample = (struct sample){.function = function, .count = count, .base = base};
    if (count == 0 || factors == 0)
        return STATUS_COMPUTATION;
    sample->x = memory_doubles(count * (factors + 3));
    if (!sample->x)
        return STATUS_MEMORY;
    sample->first = sample->x + count * factors;
    sample->second = sample->first + count;
    sample->mixed = sample->second + count;
    return STATUS_OK;
}

/* The first (half 0) or second (half 1) point of every row. */
static void take(struct sample *sample, size_t half)
{
    size_t factors = sample->function->factors;
    for (size_t j = 0; j < sample->count; j++)
        memcpy(sample->x + j * factors, sample->base + (2 * j + half) * factors, factors * sizeof *sample->x);
}

static enum status evaluate(const struct sample *sample, double *values)
{
    const struct sensitivity_function *function = sample->function;
    enum status status = function->evaluate(function->context, sample->count, sample->x, values);
    for (size_t j = 0; j < sample->count && status == STATUS_OK; j++)
        status = isfinite(values[j]) ? STATUS_OK : STATUS_COMPUTATION;
    return status;
}

/* Mean and variance of both halves; values then count from the mean, which costs the estimates fewer digits.
 */
static void centre(struct sample *sample, struct sensitivity_indices *indices)
{
    double sum = 0.0, squares = 0.0, count = 2.0 * (double)sample->count;
    for (size_t j = 0; j < sample->count; j++)
        sum += sample->first[j] + sample->second[j];
    indices->mean = sum / count;
    for (size_t j = 0; j < sample->count; j++) {
        sample->first[j] -= indices->mean;
        sample->second[j] -= indices->mean;
        squares += sample->first[j] * sample->first[j] + sample->second[j] * sample->second[j];
    }
    indices->variance = squares / count;
}

static enum status find_factor(struct sample *sample, size_t factor, struct sensitivity_indices *indices)
{
    size_t factors = sample->function->factors;
    double first = 0.0, total = 0.0, count = (double)sample->count;
    double least = 1e-12 * indices->mean;
    take(sample, 0);
    for (size_t j = 0; j < sample->count; j++)
        sample->x[j * factors + factor] = sample->base[(2 * j + 1) * factors + factor];
    enum status status = evaluate(sample, sample->mixed);
    for (size_t j = 0; j < sample->count && status == STATUS_OK; j++) {
        double change = sample->mixed[j] - indices->mean - sample->first[j];
        first += sample->second[j] * change;
        total += change * change;
    }
    int varies = indices->variance > least * least;
    indices->first[factor] = varies ? first / (count * indices->variance) : 0.0;
    indices->total[factor] = varies ? total / (2.0 * count * indices->variance) : 0.0;
    return status;
}

enum status sensitivity_find(const struct sensitivity_function *function, size_t count, const double *base,
                             struct sensitivity_indices *indices)
{
    struct sample sample;
    enum status status = make(function, count, base, &sample);
    for (size_t half = 0; half < 2 && status == STATUS_OK; half++) {
        take(&sample, half);
        status = evaluate(&sample, half ? sample.second : sample.first);
    }
    if (status == STATUS_OK)
        centre(&sample, indices);
    for (size_t i = 0; i < function->factors && status == STATUS_OK; i++)
        status = find_factor(&sample, i, indices);
    if (status != STATUS_OK) {
        indices->mean = indices->variance = 0.0;
        memset(indices->first, 0, function->factors * sizeof *indices->first);
        memset(indices->total, 0, function->factors * sizeof *indices->total);
    }
    memory_free(sample.x);
    return status;
}

enum status sensitivity_main_effect(const struct sensitivity_function *function, size_t count,
                                    const double *base, size_t factor, size_t levels, const double *at,
                                    double *curve)
{
    struct sample sample;
    size_t factors = function->factors;
    assert(factor < factors);
    enum status status = make(function, count, base, &sample);
    if (status == STATUS_OK)
        take(&sample, 0);
    for (size_t level = 0; level < levels && status == STATUS_OK; level++) {
        double sum = 0.0;
        for (size_t j = 0; j < count; j++)
            sample.x[j * factors + factor] = at[level];
        status = evaluate(&sample, sample.mixed);
        for (size_t j = 0; j < count && status == STATUS_OK; j++)
            sum += sample.mixed[j];
        curve[level] = sum / (double)count;
    }
    if (status != STATUS_OK)
        memset(curve, 0, levels * sizeof *curve);
    memory_free(sample.x);
    return status;
}
