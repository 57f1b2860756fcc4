/*
 * Cost of an impact: medians of several runs, in processor time of the one thread, for each instruction set.
 * Pad: EPS 50 kg/m3 of the registry, 40 cells of 1 mm, 60 cm2, 5 kg at 5 m/s, 12 ms. Columns:
 * cases/smallest.yaml (48 rings, one region, ABS shell), 20 cells through the thickness, until head and anvil
 * have parted for 1 ms. Both from set-up to metrics.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "solver/base/isa.h"
#include "solver/impact/run.h"
#include "solver/study/resolve.h"
#include "tests/support/stopwatch.h"

enum { RUNS = 15 };

/* What an impact cost, and how much it computed. */
struct cost {
    double time; /* median [s] */
    long steps, cells;
};

static int solve(const struct resolved *resolved, const struct pad_setup *pad, struct impact_output *output)
{
    static const double speed = 5.0;
    char message[HISTORY_MESSAGE] = "";
    enum status status = pad ? run_pad(pad, &speed, 1, output, NULL, message)
                             : run_columns(&resolved->columns, output, NULL, NULL, message);
    if (status != STATUS_OK)
        fprintf(stderr, "bench: %s\n", message);
    return status == STATUS_OK;
}

/* `pad` NULL: the helmet. Time is NaN when an impact fails. */
static struct cost measure(const struct resolved *resolved, const struct pad_setup *pad)
{
    double times[RUNS];
    struct cost cost = {.time = NAN};
    for (int run = 0; run < RUNS; run++) {
        struct impact_output output;
        double start = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
        if (!solve(resolved, pad, &output))
            return cost;
        times[run] = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - start;
        cost.steps = output.steps;
        cost.cells = output.cells;
        impact_output_free(&output);
    }
    qsort(times, RUNS, sizeof *times, stopwatch_order);
    cost.time = times[RUNS / 2];
    return cost;
}

static void print(const char *what, const char *set, struct cost cost)
{
    double updates = (double)cost.steps * (double)cost.cells;
    printf("%-8s %-5s %8.2f %7ld %7ld %9.2f %10.1f\n", what, set, cost.time * 1e3, cost.steps, cost.cells,
           cost.time / (double)cost.steps * 1e6, updates / cost.time * 1e-6);
}

/* The processor's name, where Linux tells it. */
static void print_processor(void)
{
    char line[256], name[128] = "unknown";
    FILE *file = fopen("/proc/cpuinfo", "r");
    while (file && fgets(line, sizeof line, file)) {
        if (sscanf(line, "model name : %127[^\n]", name) == 1)
            break;
    }
    if (file)
        fclose(file);
    printf("processor: %s; best instruction set: %s\n", name, isa_name(isa_chosen()));
}

static struct pad_setup pad_of(const struct foam *foam)
{
    struct pad_setup setup = pad_setup_default();
    setup.area = 60e-4;
    setup.striker_mass = 5.0;
    setup.duration = 12e-3;
    setup.layer_count = 1;
    setup.layers[0] = (struct liner_layer){0.040, 1, {{foam, 1.0}}};
    return setup;
}

static int run(const struct resolved *resolved, const char *only)
{
    struct pad_setup pad = pad_of(&resolved->foams[0]);
    print_processor();
    printf("processor time of an impact, medians of %d\n", RUNS);
    printf("%-8s %-5s %8s %7s %7s %9s %10s\n", "model", "set", "ms", "steps", "cells", "us/step", "Mcell/s");
    for (int isa = 0; isa < ISA_COUNT; isa++) {
        if ((only && strcmp(only, isa_name((enum isa)isa)) != 0) || isa_force((enum isa)isa) != (enum isa)isa)
            continue;
        print("pad", isa_name((enum isa)isa), measure(resolved, &pad));
        print("columns", isa_name((enum isa)isa), measure(resolved, NULL));
    }
    return 0;
}

int main(int count, char **arguments)
{
    struct errors errors = {0};
    struct case_file file;
    struct resolver resolver = {0};
    struct resolved resolved = {0};
    const char *sets[] = {"solver.cell=1.75 mm"};
    char sentence[RESOLVE_SENTENCE];
    int failed = case_load("cases/smallest.yaml", sets, 1, &file, &errors) != STATUS_OK ||
                 resolver_make(&file, &resolver, &errors) != STATUS_OK ||
                 resolve_impact(&resolver, &file.impacts[0], &resolved, sentence, &errors) != STATUS_OK ||
                 run(&resolved, count > 1 ? arguments[1] : NULL);
    if (failed)
        fprintf(stderr, "bench: %s\n", errors.count ? errors.kept[0].text : "failed");
    resolved_free(&resolved);
    resolver_free(&resolver);
    case_free(&file);
    return failed;
}
