/*
 * What comes before the first step, and memory: medians over fresh processes.
 *   first step: from main() until cases/smallest.yaml is read, checked and set up, in this program (processor
 *   time, so that other programs do not count);
 *   loader: `foampulse --version` from start to end, which is loading and binding its shared libraries (wall
 * time); run: the program on the case, to its end (wall time), with the largest resident memory.
 */
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "solver/impact/run.h"
#include "solver/study/resolve.h"
#include "tests/support/stopwatch.h"

#define PROGRAM ".build/release/foampulse"

enum { RUNS = 15 };

extern char **environ;

static double median(double *values)
{
    qsort(values, RUNS, sizeof *values, stopwatch_order);
    return values[RUNS / 2];
}

/* In a fresh process: prints the time from main() until the first step can begin. */
static int child(void)
{
    double began = stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
    struct errors errors = {0};
    struct case_file file;
    struct resolver resolver = {0};
    struct resolved resolved = {0};
    struct columns_model model = {0};
    char sentence[RESOLVE_SENTENCE];
    int failed = case_load("cases/smallest.yaml", NULL, 0, &file, &errors) != STATUS_OK ||
                 resolver_make(&file, &resolver, &errors) != STATUS_OK ||
                 resolve_impact(&resolver, &file.impacts[0], &resolved, sentence, &errors) != STATUS_OK ||
                 columns_model_make(&resolved.columns, &model) != STATUS_OK;
    printf("%.9f\n", stopwatch_read(CLOCK_PROCESS_CPUTIME_ID) - began);
    columns_model_free(&model);
    resolved_free(&resolved);
    resolver_free(&resolver);
    case_free(&file);
    return failed;
}

/* Runs a program to its end with standard output into `output` (a descriptor, or -1 for none): wall time [s],
 * NaN when it fails. */
static double run(const char *const arguments[], int output)
{
    posix_spawn_file_actions_t actions;
    pid_t process;
    int status = 1;
    posix_spawn_file_actions_init(&actions);
    if (output >= 0)
        posix_spawn_file_actions_adddup2(&actions, output, STDOUT_FILENO);
    else
        posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    double start = stopwatch_read(CLOCK_MONOTONIC);
    if (posix_spawn(&process, arguments[0], &actions, NULL, (char *const *)arguments, environ) == 0)
        waitpid(process, &status, 0);
    double wall = stopwatch_read(CLOCK_MONOTONIC) - start;
    posix_spawn_file_actions_destroy(&actions);
    return status == 0 ? wall : NAN;
}

/* Time to the first step of one fresh process [s]; NaN when it fails. */
static double first_step(const char *self)
{
    char text[40] = "";
    int ends[2];
    double time = NAN;
    if (pipe(ends) != 0)
        return NAN;
    run((const char *const[]){self, "child", NULL}, ends[1]);
    close(ends[1]);
    if (read(ends[0], text, sizeof text - 1) > 0 && sscanf(text, "%lf", &time) != 1)
        time = NAN;
    close(ends[0]);
    return time;
}

static double memory_of_children(void)
{
    struct rusage usage;
    getrusage(RUSAGE_CHILDREN, &usage);
    return (double)usage.ru_maxrss / 1024;
}

int main(int count, char **arguments)
{
    static const char *const version[] = {PROGRAM, "--version", NULL};
    static const char *const smallest[] = {
        PROGRAM, "run", "cases/smallest.yaml", "-q", "-f", "-o", ".build/release/bench-smallest.h5", NULL};
    double loader[RUNS], first[RUNS], wall[RUNS];
    if (count > 1)
        return child();
    for (int i = 0; i < RUNS; i++) {
        first[i] = first_step(arguments[0]);
        loader[i] = run(version, -1);
        wall[i] = run(smallest, -1);
    }
    printf("medians of %d fresh processes\n", RUNS);
    printf("main() to the first step  %6.2f ms of processor time\n", median(first) * 1e3);
    printf("foampulse --version       %6.2f ms (loader)\n", median(loader) * 1e3);
    printf("run cases/smallest.yaml   %6.1f ms on %ld processors, %.1f MiB resident at most\n",
           median(wall) * 1e3, sysconf(_SC_NPROCESSORS_ONLN), memory_of_children());
    return 0;
}
