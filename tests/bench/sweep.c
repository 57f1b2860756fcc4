/*
 * Many layouts through the program itself, as it is typed, with its files.
 *   zones: the same sweep on one thread and on two, in turns: medians, and the share of twice the speed.
 *   columns: impacts a second on all processors, cases/smallest.yaml on its own mesh.
 *   100,000 points of a pad in one file (with the argument `all`; 10,000 without): the time they take,
 *   processor time of the first and of the last twentieth of the points with their records in the journal,
 *   what the program holds in memory at most, and the time until the finished file is opened and printed,
 *   drawn, and gone on from with nothing left to solve.
 */
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "solver/study/explore.h"
#include "solver/study/sampling.h"
#include "tests/support/stopwatch.h"

#define PROGRAM ".build/release/foampulse"
#define ZONES   ".build/release/bench-zones.sweep.h5"
#define COLUMNS ".build/release/bench-columns.sweep.h5"
#define PAD     ".build/release/bench-pad.sweep.h5"
#define JOURNAL ".build/release/bench-points.h5"
#define POINTS  "tests/bench/points.yaml"
#define FEWER   "sweep.vary.pad.layers.2.density.count=4"
#define DENSITY "sweep.vary.liner.density={from: 40 g/l, to: 80 g/l, count: "

enum { RUNS = 5, ZONE_LAYOUTS = 24, COLUMN_LAYOUTS = 60, ARGUMENTS = 16, TEXT = 160 };

extern char **environ;

/* Runs the program with these arguments, its output thrown away; ends this one when it fails. */
static double run(const char *const *arguments)
{
    const char *all[ARGUMENTS + 2] = {PROGRAM};
    posix_spawn_file_actions_t actions;
    pid_t process;
    int status = 1;
    for (size_t i = 0; arguments[i] && i < ARGUMENTS; i++)
        all[i + 1] = arguments[i];
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    double start = stopwatch_read(CLOCK_MONOTONIC);
    if (posix_spawn(&process, all[0], &actions, NULL, (char *const *)all, environ) == 0)
        waitpid(process, &status, 0);
    double wall = stopwatch_read(CLOCK_MONOTONIC) - start;
    posix_spawn_file_actions_destroy(&actions);
    if (status != 0) {
        fprintf(stderr, "%s %s: failed\n", PROGRAM, all[1]);
        exit(1);
    }
    return wall;
}

/* The largest resident memory of a command so far [MiB]. */
static double resident(void)
{
    struct rusage usage;
    getrusage(RUSAGE_CHILDREN, &usage);
    return (double)usage.ru_maxrss / 1024;
}

static double median(double *values, size_t count)
{
    qsort(values, count, sizeof *values, stopwatch_order);
    return values[count / 2];
}

/* A sweep of cases/smallest.yaml over its density. */
static double sweep_helmet(const char *model, int layouts, const char *jobs, const char *path)
{
    char density[TEXT];
    snprintf(density, sizeof density, DENSITY "%d}", layouts);
    return run((const char *const[]){"sweep", "cases/smallest.yaml", "-s", density, "--model", model, "-j",
                                     jobs, "-q", "-f", "-o", path, NULL});
}

static void bench_zones(void)
{
    double one[RUNS], two[RUNS], share[RUNS];
    for (int i = 0; i < RUNS; i++) {
        one[i] = sweep_helmet("axisymmetric", ZONE_LAYOUTS, "1", ZONES);
        two[i] = sweep_helmet("axisymmetric", ZONE_LAYOUTS, "2", ZONES);
        share[i] = 0.5 * one[i] / two[i];
    }
    printf(
        "zones, %d layouts: %.2f s on one thread, %.2f s on two: %.1f %% of twice the speed (median of %d)\n",
        ZONE_LAYOUTS, median(one, RUNS), median(two, RUNS), 100.0 * median(share, RUNS), RUNS);
}

static void bench_columns(void)
{
    char jobs[TEXT];
    double wall[RUNS];
    snprintf(jobs, sizeof jobs, "%ld", sysconf(_SC_NPROCESSORS_ONLN));
    for (int i = 0; i < RUNS; i++)
        wall[i] = sweep_helmet("columns", COLUMN_LAYOUTS, jobs, COLUMNS);
    printf("columns, %d layouts: %.1f impacts a second on %s threads (median of %d)\n", COLUMN_LAYOUTS,
           COLUMN_LAYOUTS / median(wall, RUNS), jobs, RUNS);
}

/* --- many points --- */

struct pace {
    size_t part;  /* points of a twentieth */
    double at[4]; /* processor time at the ends of the first and of the last twentieth [s] */
};

static void on_progress(void *context, size_t done, size_t taken, size_t all)
{
    struct pace *pace = context;
    const size_t marks[] = {1, pace->part, all - pace->part, all};
    (void)taken;
    for (size_t i = 0; i < 4; i++) {
        if (done == marks[i])
            pace->at[i] = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
    }
}

static void good(enum status status, const struct errors *errors)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "%s: %s\n", errors->kept[0].file, errors->kept[0].text);
    exit(1);
}

/* Points drawn at random, so that the first cost as much as the last, through the journal. */
static void bench_pace(size_t count)
{
    struct errors errors = {0}, failed = {0};
    struct case_file file;
    struct sweep sweep;
    struct journal journal = {0};
    struct pace pace = {.part = count / 20};
    struct explore_options options = {
        .progress = on_progress, .context = &pace, .journal = &journal, .journal_errors = &failed};
    good(case_load(POINTS, NULL, 0, &file, &errors), &errors);
    good(explore_begin(&file, file.sweep.factors, file.sweep.factor_count, NULL, &sweep, &errors), &errors);
    good(sweep_extend(&sweep, count), &errors);
    sampling_latin(count, sweep.factor_count, 1, sweep_values(&sweep, 0));
    for (size_t k = 0; k < count * sweep.factor_count; k++) {
        double *value = sweep_values(&sweep, 0) + k;
        *value = factor_at(&sweep.factors[k % sweep.factor_count], *value);
    }
    good(journal_open(JOURNAL, "bench", &journal, &errors), &errors);
    good(explore_solve(&file, &options, 0, &sweep, &errors), &errors);
    good(failed.count ? STATUS_FILE : STATUS_OK, &failed);
    printf("a point with its record: %.3f ms of processor in the first twentieth, %.3f ms in the last\n",
           1e3 * (pace.at[1] - pace.at[0]) / (double)(pace.part - 1),
           1e3 * (pace.at[3] - pace.at[2]) / (double)pace.part);
    good(journal_remove(&journal, &errors), &errors);
    sweep_free(&sweep);
    case_free(&file);
}

static void time_command(const char *what, const char *const *arguments)
{
    double wall[RUNS];
    for (int i = 0; i < RUNS; i++)
        wall[i] = run(arguments);
    printf("%-24s %6.2f s (median of %d)\n", what, median(wall, RUNS), RUNS);
}

static void bench_points(int all)
{
    size_t count = all ? 100000 : 10000;
    const char *const sweep[] = {"sweep", POINTS, "-q", "-f", "-o", PAD, "-s", FEWER, NULL};
    const char *const again[] = {"sweep", POINTS, "-q", "-o", PAD, "-s", FEWER, NULL};
    const char *arguments[2][ARGUMENTS];
    for (int i = 0; i < ARGUMENTS; i++) {
        arguments[0][i] = i < 9 ? sweep[i] : NULL;
        arguments[1][i] = i < 8 ? again[i] : NULL;
    }
    if (all)
        arguments[0][6] = arguments[1][5] = NULL;
    double wall = run(arguments[0]);
    printf("%zu points of a pad: %.1f s, %.0f MiB at most\n", count, wall, resident());
    time_command("open and print", (const char *const[]){"show", PAD, NULL});
    time_command("draw", (const char *const[]){"plot", PAD, NULL});
    time_command("again, nothing to solve", arguments[1]);
    printf("no command held more than %.0f MiB\n", resident());
    bench_pace(count);
}

int main(int count, char **arguments)
{
    int all = count > 1 && strcmp(arguments[1], "all") == 0;
    bench_points(all); /* first: what commands hold in memory is known as the largest so far */
    bench_zones();
    bench_columns();
    return 0;
}
