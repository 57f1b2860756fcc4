#include "solver/base/isa.h"
#include "solver/base/numeric.h"
#include "solver/impact/comfort.h"

/*
 * Every ring takes the same path, gaps and contact alone included: closures are clamped, not tested. Slip
 * within a step starts where the elastic slope meets the limit, which is taken as linear over the step; the
 * loss is the trapezoid from there, of second order in the step.
 */

/* The arrays of the rings do not overlap: the loop may become vector code. */
void ISA_NAME(comfort_update)(const struct comfort_law *law, const struct comfort_rings *rings)
{
    const double *restrict thickness = rings->thickness, *restrict closure = rings->closure;
    double *restrict before = rings->before, *restrict friction = rings->friction;
    double *restrict limit = rings->limit, *restrict dissipated = rings->dissipated;
    double *restrict stored = rings->stored, *restrict pressure = rings->pressure;
    const double p40 = law->pressure, contact = law->contact, part = law->loss;
    const double rest = 1 - COMFORT_SHUT / COMFORT_POLE, cube = COMFORT_SHUT * COMFORT_SHUT * COMFORT_SHUT;
    const double end_slope = numeric_exp(-COMFORT_SHUT / COMFORT_KNEE) / COMFORT_KNEE + 4 * cube / rest +
                             COMFORT_SHUT * cube / (COMFORT_POLE * rest * rest);
    const size_t count = rings->count;
    INDEPENDENT
    for (size_t i = 0; i < count; i++) {
        double h = thickness[i], c = closure[i] > 0 ? closure[i] : 0;
        double inverse = h > 0 ? 1 / h : 0, loss = h > 0 ? part : 0;
        double shut = COMFORT_SHUT * h, inner = c < shut ? c : shut, x = inner * inverse;
        double tangent = p40 * end_slope * inverse, stiff = tangent > contact ? tangent : contact;
        double p = p40 * (1 - numeric_exp(-x / COMFORT_KNEE) + x * x * x * x / (1 - x / COMFORT_POLE));

        double k = loss * tangent, soft = k > 0 ? 1 / k : 0, most = loss * p;
        double move = c - before[i], tau = friction[i], trial = tau + k * move;
        double next = trial > most ? most : trial < 0 ? 0 : trial;
        double slip = (trial - next) * soft;
        double rise = k * move - (most - limit[i]);
        double onset = rise > 0 ? tau + k * move * ((limit[i] - tau) / rise) : next;
        onset = onset > next ? next : onset;
        dissipated[i] += slip > 0 ? 0.5 * (onset + next) * slip : 0;
        before[i] = c;
        friction[i] = next;
        limit[i] = most;
        stored[i] = 0.5 * next * next * soft;
        pressure[i] = (1 - loss) * p + stiff * (c - inner) + next;
    }
}
