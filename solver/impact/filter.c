#include "solver/impact/filter.h"

#include <math.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/numeric.h"

static const double pi = 3.14159265358979323846;
static const double design_ratio = 2.0775; /* fd / CFC */

int filter_cfc(double cfc, double interval, struct filter *filter)
{
    double angle = pi * cfc * design_ratio * interval;
    *filter = (struct filter){0};
    if (!(angle > 0 && angle < pi / 2))
        return 0;
    double wa = numeric_sin(angle) / numeric_cos(angle), root = sqrt(2.0) * wa;
    double scale = 1 + root + wa * wa;
    filter->a0 = wa * wa / scale;
    filter->a1 = 2 * filter->a0;
    filter->a2 = filter->a0;
    filter->b1 = -2 * (wa * wa - 1) / scale;
    filter->b2 = (-1 + root - wa * wa) / scale;
    return 1;
}

/* State of one pass: the last two inputs and outputs. At rest when zero. */
struct pass {
    double x1, x2, y1, y2;
};

static double pass_next(struct pass *pass, const struct filter *filter, double x)
{
    double y = filter->a0 * x + filter->a1 * pass->x1 + filter->a2 * pass->x2 + filter->b1 * pass->y1 +
               filter->b2 * pass->y2;
    *pass = (struct pass){.x1 = x, .x2 = pass->x1, .y1 = y, .y2 = pass->y1};
    return y;
}

/* Only the zeros behind the signal are stored. Those before it change nothing: the forward pass is at rest
 * until the signal starts, and what the backward pass gives there is cut off. */
static void run_both_passes(const struct filter *filter, size_t count, const double *input, double *output,
                            size_t padding, double *tail)
{
    struct pass forward = {0}, backward = {0};
    for (size_t i = 0; i < count; i++)
        output[i] = pass_next(&forward, filter, input[i]);
    for (size_t i = 0; i < padding; i++)
        tail[i] = pass_next(&forward, filter, 0);
    for (size_t i = padding; i-- > 0;)
        pass_next(&backward, filter, tail[i]);
    for (size_t i = count; i-- > 0;)
        output[i] = pass_next(&backward, filter, output[i]);
}

enum status filter_apply(double cfc, double interval, size_t count, const double *input, double *output)
{
    struct filter filter;
    enum status status = STATUS_OK;
    double *tail = NULL;
    if (!filter_cfc(cfc, interval, &filter)) {
        status = STATUS_INPUT;
        goto done;
    }
    double rest = 5 / (design_ratio * cfc);
    size_t padding = (size_t)ceil((rest > 0.010 ? rest : 0.010) / interval);
    tail = memory_doubles(padding);
    if (!tail) {
        status = STATUS_MEMORY;
        goto done;
    }
    run_both_passes(&filter, count, input, output, padding, tail);
done:
    if (status != STATUS_OK)
        memset(output, 0, count * sizeof *output);
    memory_free(tail);
    return status;
}
