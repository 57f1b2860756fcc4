/*
 * The pad beside a general integrator: the same law and equations through the explicit methods of the GNU
 * Scientific Library, each at the loosest tolerance that finds the peak as exactly as the pad does, or within
 * 1e-4. Both read the yield stress from the same table. From first touch until the striker turns back; EPS 50
 * kg/m3, 40 cells of 1 mm, 60 cm2, 5 kg at 5 m/s. Processor time, medians. The library's code is scalar; the
 * pad's is vector code of the instruction set named, and its base set has vectors of 2.
 */
#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "materials/foam_curve.h"
#include "solver/base/isa.h"
#include "solver/impact/pad.h"
#include "tests/verify/pad_ode.h"
#include "tests/support/stopwatch.h"

enum { CELLS = 40, RUNS = 9, RUNS_SLOW = 3 };

static const double speed = 5.0, mass = 5.0, area = 60e-4, g0 = 9.80665, interval = 1e-5;

static struct foam_parameters parameters = {.name = "eps",
                                            .density = 50,
                                            .solid_density = 1050,
                                            .temperature = 23,
                                            .gas_pressure = 101325,
                                            .unloading_softening = 3,
                                            .tensile_strength = 4e5,
                                            .rate_gain = 0.06,
                                            .rate_reference = 1.67e-3,
                                            .rate_time = 50e-6};
static struct foam foam;

/* Y_f = f P(kappa/f) from the foam's table, straight in u. */
static struct twin_slopes from_table(const struct foam_parameters *p, double factor, double u)
{
    double root = sqrt(factor), at = u > 0 ? u : 0;
    struct foam_line line = foam_yield_line(foam_values(&foam), 0, root, 1 / root, at);
    double yield = line.intercept + line.slope * at;
    (void)p;
    return (struct twin_slopes){yield, line.slope, (yield - 0.5 * at * line.slope) / factor};
}

struct outcome {
    double peak; /* [g] */
    double end;  /* when the striker turns back, to an interval [s] */
    double time; /* of the processor, median [s] */
};

static struct outcome integrate(const gsl_odeiv2_step_type *method, double tolerance, double until)
{
    struct pad_ode pad = {.cells = CELLS,
                          .length = 1e-3,
                          .area = area,
                          .striker = mass,
                          .gravity = g0,
                          .linear = 0.06,
                          .quadratic = 1.2,
                          .return_time = 2e-6,
                          .curve = from_table};
    double y[6 * CELLS + 1], scale[6 * CELLS + 1], t = 0, impulse = 0;
    struct outcome outcome = {.time = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID)};
    for (size_t i = 0; i < CELLS; i++)
        pad.foam[i] = &parameters;
    pad_ode_fill(&pad);
    pad_ode_start(&pad, speed, y, scale);
    gsl_odeiv2_system system = {pad_ode_slopes, NULL, pad_ode_size(&pad), &pad};
    gsl_odeiv2_driver *driver =
        gsl_odeiv2_driver_alloc_scaled_new(&system, method, 1e-7, tolerance, tolerance, 1, 0, scale);
    for (int i = 1; until > 0 ? outcome.end < until - 0.5 * interval : y[2 * CELLS - 1] > 0; i++) {
        if (gsl_odeiv2_driver_apply(driver, &t, i * interval, y) != GSL_SUCCESS) {
            outcome.peak = NAN;
            break;
        }
        outcome.peak = fmax(outcome.peak, (y[pad_ode_impulse(&pad)] - impulse) / interval / mass / g0);
        impulse = y[pad_ode_impulse(&pad)];
        outcome.end = i * interval;
    }
    gsl_odeiv2_driver_free(driver);
    outcome.time = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - outcome.time;
    return outcome;
}

/* The pad itself until `end`; peak NaN on failure. */
static struct outcome hit(double end)
{
    struct outcome outcome = {.peak = NAN, .end = end, .time = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID)};
    struct pad_setup setup = pad_setup_default();
    setup.area = area;
    setup.striker_mass = mass;
    setup.duration = end;
    setup.layer_count = 1;
    setup.layers[0] = (struct liner_layer){0.040, 1, {{&foam, 1.0}}};
    struct pad_model model = {0};
    struct pad_state state = {0};
    struct history history = {0};
    char message[HISTORY_MESSAGE];
    if (pad_model_make(&setup, &model) == STATUS_OK && pad_state_make(&model, &state) == STATUS_OK &&
        history_make(&history, end, speed, 1) == STATUS_OK &&
        pad_hit(&model, &state, speed, &history, NULL, message) == STATUS_OK) {
        outcome.peak = 0;
        for (size_t i = 0; i < history.forces.count; i++)
            outcome.peak = fmax(outcome.peak, history.forces.integral[i] / interval / mass / g0);
    }
    history_free(&history);
    pad_state_free(&state);
    pad_model_free(&model);
    outcome.time = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - outcome.time;
    return outcome;
}

static struct outcome hit_often(double end)
{
    double times[RUNS];
    struct outcome outcome = {0};
    for (int run = 0; run < RUNS; run++) {
        outcome = hit(end);
        times[run] = outcome.time;
    }
    qsort(times, RUNS, sizeof *times, stopwatch_order);
    outcome.time = times[RUNS / 2];
    return outcome;
}

/* The loosest tolerance at which a method finds the peak within `error` of `peak`, and what it costs. */
static double contest(const char *name, const gsl_odeiv2_step_type *method, struct outcome truth,
                      double error)
{
    for (double tolerance = 1e-2; tolerance > 1e-8; tolerance /= sqrt(10)) {
        double times[RUNS_SLOW];
        struct outcome outcome = integrate(method, tolerance, truth.end);
        if (!(fabs(outcome.peak / truth.peak - 1) <= error))
            continue;
        for (int run = 0; run < RUNS_SLOW; run++)
            times[run] = integrate(method, tolerance, truth.end).time;
        qsort(times, RUNS_SLOW, sizeof *times, stopwatch_order);
        printf("%-16s %9.4f %+11.6f %8.2f   tolerance %.1e\n", name, outcome.peak,
               (outcome.peak / truth.peak - 1) * 100, times[RUNS_SLOW / 2] * 1e3, tolerance);
        return times[RUNS_SLOW / 2];
    }
    printf("%-16s does not get there\n", name);
    return INFINITY;
}

int main(void)
{
    struct errors errors = {0};
    parameters.youngs_modulus = 0.694 * 3e9 * pow(parameters.density / parameters.solid_density, 1.54);
    parameters.collapse_stress = 840 * pow(parameters.density, 1.6);
    if (foam_make(&parameters, &foam, &errors) != STATUS_OK)
        return 1;
    gsl_set_error_handler_off();
    struct outcome truth = integrate(gsl_odeiv2_step_rkf45, 1e-9, 0);
    struct outcome ours[ISA_COUNT];
    double error = 1e-4, best = INFINITY;
    int sets = 0;
    printf(
        "pad and general integrator, until the striker turns back at %.2f ms: peak %.4f g (tolerance 1e-9)\n",
        truth.end * 1e3, truth.peak);
    printf("%-16s %9s %11s %8s\n", "method", "peak g", "error %", "ms");
    for (; sets < ISA_COUNT && isa_force((enum isa)sets) == (enum isa)sets; sets++) {
        ours[sets] = hit_often(truth.end);
        error = fmax(error, fabs(ours[sets].peak / truth.peak - 1));
        printf("pad, %-11s %9.4f %+11.6f %8.2f\n", isa_name((enum isa)sets), ours[sets].peak,
               (ours[sets].peak / truth.peak - 1) * 100, ours[sets].time * 1e3);
    }
    best = fmin(best, contest("GSL rkf45", gsl_odeiv2_step_rkf45, truth, error));
    best = fmin(best, contest("GSL rkck", gsl_odeiv2_step_rkck, truth, error));
    best = fmin(best, contest("GSL rk8pd", gsl_odeiv2_step_rk8pd, truth, error));
    best = fmin(best, contest("GSL rk4", gsl_odeiv2_step_rk4, truth, error));
    best = fmin(best, contest("GSL rk2", gsl_odeiv2_step_rk2, truth, error));
    best = fmin(best, contest("GSL msadams", gsl_odeiv2_step_msadams, truth, error));
    for (int set = 0; set < sets; set++)
        printf("best of GSL (scalar) over the pad with the vector code of %s: %.1f\n",
               isa_name((enum isa)set), best / ours[set].time);
    foam_free(&foam);
    return 0;
}
