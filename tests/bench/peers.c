/*
 * Zones beside general integrators: the equations of tests/verify/zones_ode.h for the cone of zones_cone.h,
 * from first touch until the striker turns back. Each method at the loosest tolerance that finds the peak as
 * exactly as the solver's zones at their default step do, or within 1e-4, of the peak that Runge, Kutta and
 * Fehlberg find at a tolerance of 1e-7. All read the yield stress from the same table. Processor time without
 * start-up, medians of several runs. GSL and SUNDIALS call a scalar right-hand side in C; NumPy one on
 * arrays, in tests/bench/peers.py; the zones are vector code of the instruction set named.
 */
#include <arkode/arkode_arkstep.h>
#include <cvode/cvode.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <sunlinsol/sunlinsol_spgmr.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include "materials/foam_curve.h"
#include "solver/base/isa.h"
#include "tests/support/stopwatch.h"
#include "tests/verify/zones_cone.h"

enum { RUNS = 9, RUNS_SLOW = 3, MOST = 4 * ZONES_ODE_NODES + ZONES_ODE_STATES * ZONES_ODE_NODES };

static const double loosest = 1e-2, tightest = 1e-7, allowed = 1e-4;
static const char *const handed_over = ".build/release/tests/bench/peers.json";

static struct foam_parameters parameters;
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

/* --- what integrates --- */

struct problem {
    struct zones_ode ode;
    double t, y[MOST], tolerance[MOST]; /* absolute */
};

/* One method at one tolerance: `open` readies it for the problem, `reach` brings t and y to the time `to`. */
struct method {
    const char *name;
    int (*open)(const struct method *method, struct problem *problem, double relative);
    int (*reach)(struct problem *problem, double to);
    void (*close)(void);
    const gsl_odeiv2_step_type *const *stepper; /* of GSL */
    int order;                                  /* of SUNDIALS; at most, where it varies */
    const char *pair;                           /* of tests/bench/peers.py */
};

struct outcome {
    struct cone_pulse pulse; /* steps: calls of the right-hand side */
    double time;             /* [s] */
};

static gsl_odeiv2_driver *driver;
static gsl_odeiv2_system gsl_problem;

static int gsl_open(const struct method *method, struct problem *problem, double relative)
{
    static double scale[MOST];
    for (size_t i = 0; i < MOST; i++)
        scale[i] = problem->tolerance[i] / relative;
    gsl_problem = (gsl_odeiv2_system){zones_ode_slopes, NULL, zones_ode_size(&problem->ode), &problem->ode};
    driver = gsl_odeiv2_driver_alloc_scaled_new(&gsl_problem, *method->stepper, 1e-7, relative, relative, 1,
                                                0, scale);
    return driver != NULL;
}

static int gsl_reach(struct problem *problem, double to)
{
    return gsl_odeiv2_driver_apply(driver, &problem->t, to, problem->y) == GSL_SUCCESS;
}

static void gsl_close(void)
{
    gsl_odeiv2_driver_free(driver);
}

static SUNContext sundials;
static N_Vector unknowns, allowance;
static void *memory;
static SUNLinearSolver krylov;
static SUNNonlinearSolver iteration;

static int sundials_slopes(realtype t, N_Vector y, N_Vector slope, void *context)
{
    return zones_ode_slopes(t, N_VGetArrayPointer(y), N_VGetArrayPointer(slope), context);
}

static void sundials_vectors(struct problem *problem)
{
    sunindextype size = (sunindextype)zones_ode_size(&problem->ode);
    unknowns = N_VMake_Serial(size, problem->y, sundials);
    allowance = N_VMake_Serial(size, problem->tolerance, sundials);
}

static int explicit_open(const struct method *method, struct problem *problem, double relative)
{
    sundials_vectors(problem);
    memory = ARKStepCreate(sundials_slopes, NULL, 0, unknowns, sundials);
    return memory && ARKStepSetOrder(memory, method->order) == ARK_SUCCESS &&
           ARKStepSVtolerances(memory, relative, allowance) == ARK_SUCCESS &&
           ARKStepSetUserData(memory, &problem->ode) == ARK_SUCCESS &&
           ARKStepSetMaxNumSteps(memory, 1000000) == ARK_SUCCESS &&
           ARKStepSetInterpolantType(memory, ARK_INTERP_LAGRANGE) == ARK_SUCCESS;
}

static int explicit_reach(struct problem *problem, double to)
{
    return ARKStepSetStopTime(memory, to) == ARK_SUCCESS &&
           ARKStepEvolve(memory, to, unknowns, &problem->t, ARK_NORMAL) >= 0;
}

static void sundials_close(void)
{
    N_VDestroy(unknowns);
    N_VDestroy(allowance);
}

static void explicit_close(void)
{
    ARKStepFree(&memory);
    sundials_close();
}

static int implicit_start(struct problem *problem, double relative, int family)
{
    sundials_vectors(problem);
    memory = CVodeCreate(family, sundials);
    return memory && CVodeInit(memory, sundials_slopes, 0, unknowns) == CV_SUCCESS &&
           CVodeSVtolerances(memory, relative, allowance) == CV_SUCCESS &&
           CVodeSetUserData(memory, &problem->ode) == CV_SUCCESS &&
           CVodeSetMaxNumSteps(memory, 1000000) == CV_SUCCESS;
}

static int krylov_open(const struct method *method, struct problem *problem, double relative)
{
    (void)method;
    iteration = NULL;
    if (!implicit_start(problem, relative, CV_BDF))
        return 0;
    krylov = SUNLinSol_SPGMR(unknowns, SUN_PREC_NONE, 20, sundials);
    return krylov && CVodeSetLinearSolver(memory, krylov, NULL) == CV_SUCCESS;
}

static int adams_open(const struct method *method, struct problem *problem, double relative)
{
    (void)method;
    krylov = NULL;
    if (!implicit_start(problem, relative, CV_ADAMS))
        return 0;
    iteration = SUNNonlinSol_FixedPoint(unknowns, 0, sundials);
    return iteration && CVodeSetNonlinearSolver(memory, iteration) == CV_SUCCESS;
}

static int implicit_reach(struct problem *problem, double to)
{
    return CVodeSetStopTime(memory, to) == CV_SUCCESS &&
           CVode(memory, to, unknowns, &problem->t, CV_NORMAL) >= 0;
}

static void implicit_close(void)
{
    CVodeFree(&memory);
    if (krylov)
        SUNLinSolFree(krylov);
    if (iteration)
        SUNNonlinSolFree(iteration);
    sundials_close();
}

/* --- a run --- */

/* Until `end`, or until the striker turns back where that is 0; peak NaN on failure. */
static struct outcome integrate(const struct method *method, double relative, double end)
{
    static struct problem problem;
    struct outcome outcome = {.time = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID)};
    problem.ode = cone_equations(&parameters, from_table);
    problem.t = 0;
    zones_ode_start(&problem.ode, cone_speed, problem.y, problem.tolerance);
    for (size_t i = 0; i < zones_ode_size(&problem.ode); i++)
        problem.tolerance[i] *= relative;
    const double *speed = &problem.y[zones_ode_striker(&problem.ode)];
    int done = method->open(method, &problem, relative);
    for (int i = 1; done && (end > 0 ? outcome.pulse.end < end - 0.5 * cone_interval : *speed < 0); i++) {
        double mark = *speed;
        done = method->reach(&problem, i * cone_interval);
        cone_take(&outcome.pulse, *speed - mark);
    }
    method->close();
    if (!done)
        outcome.pulse.peak = NAN;
    outcome.pulse.steps = problem.ode.calls;
    outcome.time = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - outcome.time;
    return outcome;
}

/* Numbers of an array as JSON. */
static void put(FILE *file, const char *name, const double *x, size_t count)
{
    fprintf(file, "\"%s\": [", name);
    for (size_t i = 0; i < count; i++)
        fprintf(file, "%s%.17g", i ? ", " : "", x[i]);
    fprintf(file, "],\n");
}

struct named {
    const char *name;
    double value;
};

/* Mesh, foam and striker for tests/bench/peers.py. */
static int hand_over(double end)
{
    struct zones_ode ode = cone_equations(&parameters, from_table);
    struct foam_values values = foam_values(&foam);
    const struct named numbers[] = {{"rings", (double)ode.rings},
                                    {"rows", (double)ode.rows},
                                    {"striker", ode.striker},
                                    {"speed", cone_speed},
                                    {"gravity", cone_gravity},
                                    {"interval", cone_interval},
                                    {"end", end},
                                    {"linear", ode.linear},
                                    {"quadratic", ode.quadratic},
                                    {"hourglass", ode.hourglass},
                                    {"return_time", ode.return_time},
                                    {"density", parameters.density},
                                    {"room", values.room},
                                    {"young", values.young},
                                    {"collapse", parameters.collapse_stress},
                                    {"softening", values.softening},
                                    {"gas", values.gas_pressure},
                                    {"rate_gain", values.rate_gain},
                                    {"rate_reference", values.rate_reference},
                                    {"rate_time", parameters.rate_time}};
    size_t nodes = zones_ode_nodes(&ode);
    FILE *file = fopen(handed_over, "w");
    if (!file)
        return 0;
    fprintf(file, "{\n");
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        fprintf(file, "\"%s\": %.17g,\n", numbers[i].name, numbers[i].value);
    put(file, "r", ode.r, nodes);
    put(file, "z", ode.z, nodes);
    put(file, "mass", ode.mass, nodes);
    put(file, "volume", ode.volume, nodes);
    put(file, "fold_from", ode.fold_from, nodes);
    put(file, "height", ode.height, nodes);
    put(file, "width", ode.width, nodes);
    put(file, "table", values.plateau, (size_t)values.last + 2);
    fprintf(file, "\"table_step\": %.17g\n}\n", values.step);
    return fclose(file) == 0;
}

/* A run of tests/bench/peers.py, which measures its own time; by $PYTHON, or the one that Debian's NumPy is
 * for. */
static struct outcome ask_python(const struct method *method, double relative)
{
    struct outcome outcome = {.pulse.peak = NAN};
    const char *python = getenv("PYTHON");
    char command[256];
    snprintf(command, sizeof command, "%s tests/bench/peers.py %s %s %.17g",
             python ? python : "/usr/bin/python3", handed_over, method->pair, relative);
    FILE *answer = popen(command, "r");
    if (!answer)
        return outcome;
    if (fscanf(answer, "%lf %lf %ld %lf", &outcome.pulse.peak, &outcome.pulse.end, &outcome.pulse.steps,
               &outcome.time) != 4)
        outcome.pulse.peak = NAN;
    pclose(answer);
    return outcome;
}

static struct outcome solve(const struct method *method, double relative, double end)
{
    return method->pair ? ask_python(method, relative) : integrate(method, relative, end);
}

/* --- the contest --- */

static struct outcome zones(double end)
{
    double times[RUNS];
    struct outcome outcome = {0};
    for (int run = 0; run < RUNS; run++) {
        double start = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
        outcome.pulse = cone_solve(&foam, cone_courant, end);
        times[run] = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - start;
    }
    qsort(times, RUNS, sizeof *times, stopwatch_order);
    outcome.time = times[RUNS / 2];
    return outcome;
}

static void print_row(const char *name, struct outcome outcome, double peak, const double *ours, int sets)
{
    printf("%-27s %9.4f %+9.4f %8ld %9.2f", name, outcome.pulse.peak, (outcome.pulse.peak / peak - 1) * 100,
           outcome.pulse.steps, outcome.time * 1e3);
    for (int set = 0; set < sets; set++)
        printf(" %7.1f", outcome.time / ours[set]);
}

/* The loosest tolerance at which a method is within `error` of the peak, and what it costs. */
static void contest(const struct method *method, struct cone_pulse truth, double error, const double *ours,
                    int sets)
{
    for (double tolerance = loosest; tolerance > tightest; tolerance /= sqrt(10)) {
        double times[RUNS_SLOW];
        struct outcome outcome = solve(method, tolerance, truth.end);
        if (!(fabs(outcome.pulse.peak / truth.peak - 1) <= error))
            continue;
        for (int run = 0; run < RUNS_SLOW; run++)
            times[run] = solve(method, tolerance, truth.end).time;
        qsort(times, RUNS_SLOW, sizeof *times, stopwatch_order);
        outcome.time = times[RUNS_SLOW / 2];
        print_row(method->name, outcome, truth.peak, ours, sets);
        printf("   tolerance %.1e\n", tolerance);
        fflush(stdout);
        return;
    }
    printf("%-27s does not get there\n", method->name);
}

static const struct method reference = {
    .open = gsl_open, .reach = gsl_reach, .close = gsl_close, .stepper = &gsl_odeiv2_step_rkf45};

static const struct method methods[] = {
    {"SUNDIALS explicit, order 2", explicit_open, explicit_reach, explicit_close, .order = 2},
    {"SUNDIALS explicit, order 3", explicit_open, explicit_reach, explicit_close, .order = 3},
    {"SUNDIALS explicit, order 4", explicit_open, explicit_reach, explicit_close, .order = 4},
    {"SUNDIALS explicit, order 5", explicit_open, explicit_reach, explicit_close, .order = 5},
    {"SUNDIALS Adams, fixed point", adams_open, implicit_reach, implicit_close, .order = 12},
    {"SUNDIALS BDF, Krylov", krylov_open, implicit_reach, implicit_close, .order = 5},
    {"GSL rk2", gsl_open, gsl_reach, gsl_close, .stepper = &gsl_odeiv2_step_rk2},
    {"GSL rk4", gsl_open, gsl_reach, gsl_close, .stepper = &gsl_odeiv2_step_rk4},
    {"GSL rkf45", gsl_open, gsl_reach, gsl_close, .stepper = &gsl_odeiv2_step_rkf45},
    {"GSL msadams", gsl_open, gsl_reach, gsl_close, .stepper = &gsl_odeiv2_step_msadams},
    {"NumPy, pair of order 2, 3", .pair = "bogacki"},
    {"NumPy, pair of order 4, 5", .pair = "dormand"},
};

/* The zones by every set that the machine has; their number. */
static int race(struct cone_pulse truth, double *times, double *error)
{
    struct outcome ours[ISA_COUNT];
    char name[32];
    int sets = 0;
    for (; sets < ISA_COUNT && isa_force((enum isa)sets) == (enum isa)sets; sets++) {
        ours[sets] = zones(truth.end);
        times[sets] = ours[sets].time;
        *error = fmax(*error, fabs(ours[sets].pulse.peak / truth.peak - 1));
    }
    printf("%-27s %9s %9s %8s %9s", "method", "peak g", "error %", "calls", "ms");
    for (int set = 0; set < sets; set++)
        printf(" %3s%-4s", "/", isa_name((enum isa)set));
    printf("\n");
    for (int set = 0; set < sets; set++) {
        snprintf(name, sizeof name, "zones, %s", isa_name((enum isa)set));
        print_row(name, ours[set], truth.peak, times, sets);
        printf("\n");
    }
    return sets;
}

int main(void)
{
    double error = allowed, times[ISA_COUNT];
    parameters = cone_foam();
    foam = foams_make(&parameters);
    gsl_set_error_handler_off();
    setenv("OPENBLAS_NUM_THREADS", "1", 1);
    if (SUNContext_Create(NULL, &sundials) != 0)
        return 1;
    struct cone_pulse truth = integrate(&reference, tightest, 0).pulse;
    printf("until the striker turns back at %.2f ms; peak at a tolerance of %.0e: %.4f g\n", truth.end * 1e3,
           tightest, truth.peak);
    int sets = race(truth, times, &error), done = hand_over(truth.end);
    for (size_t m = 0; done && m < sizeof methods / sizeof *methods; m++)
        contest(&methods[m], truth, error, times, sets);
    SUNContext_Free(&sundials);
    foam_free(&foam);
    return !done;
}
