/*
 * Cost of the shell: nanoseconds a node and step, medians of several runs, for each instruction set. A cap of
 * 48 nodes to 80 deg (ABS 3.5 mm, R 130 mm) is dented by a fixed sequence of shapes: elastic; able to yield
 * but below yield; yielding in every half segment.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "solver/base/isa.h"
#include "solver/impact/shell.h"
#include "tests/support/stopwatch.h"

enum { NODES = 48, STEPS = 20000, RUNS = 9 };

/* Median time [ns] of a node and step; `amplitude` [m] of the dents. */
static double time_shell(double yield_stress, double amplitude)
{
    double first_r[NODES], first_z[NODES], r[2][NODES], z[2][NODES], force_r[NODES] = {0},
                                                                     force_z[NODES] = {0};
    for (int i = 0; i < NODES; i++) {
        double angle = 80 * acos(-1.0) / 180 * i / (NODES - 1);
        first_r[i] = 0.13 * sin(angle);
        first_z[i] = 0.13 * cos(angle);
        for (int k = 0; k < 2; k++) {
            r[k][i] = first_r[i];
            z[k][i] = first_z[i] + (k ? 1 : -1) * amplitude * sin(1.3 * i);
        }
    }
    struct shell_setup setup = {
        .node_count = NODES,
        .r = first_r,
        .z = first_z,
        .thickness = 3.5e-3,
        .sheet = {.density = 1040, .youngs_modulus = 2.39e9, .poisson = 0.37, .yield_stress = yield_stress},
        .end = SHELL_FREE};
    struct shell_model model;
    struct shell_state state;
    double times[RUNS];
    if (shell_model_make(&setup, &model) != STATUS_OK || shell_state_make(&model, &state) != STATUS_OK)
        return NAN;
    for (int run = 0; run < RUNS; run++) {
        double start = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
        for (int n = 0; n < STEPS; n++)
            shell_forces(&model, &state, r[n % 2], z[n % 2], force_r, force_z);
        times[run] = 1e9 * (stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - start) / ((double)STEPS * NODES);
    }
    shell_state_free(&state);
    shell_model_free(&model);
    qsort(times, RUNS, sizeof *times, stopwatch_order);
    return times[RUNS / 2];
}

int main(void)
{
    printf("shell, ns of processor time a node and step (median of %d runs of %d steps, %d nodes)\n", RUNS,
           STEPS, NODES);
    printf("%-6s %10s %14s %12s\n", "set", "elastic", "below yield", "yielding");
    for (int isa = 0; isa < ISA_COUNT; isa++) {
        if (isa_force((enum isa)isa) == (enum isa)isa)
            printf("%-6s %10.1f %14.1f %12.1f\n", isa_name((enum isa)isa), time_shell(INFINITY, 1e-5),
                   time_shell(40e6, 1e-5), time_shell(1e5, 1e-4));
    }
    return 0;
}
