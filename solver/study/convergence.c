#include "solver/study/convergence.h"

#include <math.h>

static const double least_order = 0.5, most_order = 2.5, safety = 1.25, fallback = 3.0;

const char *convergence_text(enum convergence_kind kind)
{
    static const char *const texts[] = {
        [CONVERGENCE_CREDIBLE] = "credible",         [CONVERGENCE_ORDER] = "order out of range",
        [CONVERGENCE_SWING] = "no order, it swings", [CONVERGENCE_EQUAL] = "equal on the last meshes",
        [CONVERGENCE_UNKNOWN] = "unknown",
    };
    return texts[kind];
}

/* Extrapolation by an order that is to be believed. */
static void extrapolate(struct convergence *result, double finest, double fine, double coarse, double growth)
{
    result->kind = CONVERGENCE_CREDIBLE;
    result->limit = finest + (finest - fine) / (growth - 1.0);
    result->uncertainty = safety * fabs(finest - fine) / (growth - 1.0);
    result->coarser = safety * fabs(fine - coarse) / (growth - 1.0);
}

struct convergence convergence_judge(const double *values, size_t count, double ratio)
{
    struct convergence result = {CONVERGENCE_UNKNOWN, NAN, NAN, NAN, NAN};
    if (count < 3 || !(ratio > 1.0))
        return result;
    double finest = values[count - 1], fine = values[count - 2], coarse = values[count - 3];
    if (!isfinite(finest) || !isfinite(fine) || !isfinite(coarse))
        return result;
    double near = fine - finest, far = coarse - fine;
    double largest = fmax(fmax(fabs(near), fabs(far)), fabs(coarse - finest));
    result.uncertainty = fallback * largest;
    result.kind = largest > 0.0 ? CONVERGENCE_SWING : CONVERGENCE_EQUAL;
    if (!(near * far > 0.0))
        return result;
    result.kind = CONVERGENCE_ORDER;
    result.order = log(far / near) / log(ratio);
    if (result.order >= least_order && result.order <= most_order)
        extrapolate(&result, finest, fine, coarse, pow(ratio, result.order));
    return result;
}
