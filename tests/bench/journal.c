#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cases/journal.h"

/*
 * Points a second that a journal takes, and reads back when it is opened: 680 bytes each, as a sweep of 4
 * factors and 27 metrics of 3 hits has. Medians of five runs, on the disk of the working folder.
 */

enum { POINTS = 50000, PAYLOAD = 8 * (4 + 27 * 3), RUNS = 5 };

static double now(void)
{
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static int order(const void *a, const void *b)
{
    return (*(const double *)a > *(const double *)b) - (*(const double *)a < *(const double *)b);
}

static void good(enum status status, const struct errors *errors)
{
    if (status == STATUS_OK)
        return;
    fprintf(stderr, "%s: %s\n", errors->kept[0].file, errors->kept[0].text);
    exit(1);
}

static void run(const char *path, double *append, double *reopen, size_t *flushes)
{
    struct errors errors = {0};
    struct journal journal;
    unsigned char payload[PAYLOAD];
    good(journal_open(path, "foampulse/bench/1", &journal, &errors), &errors);
    double start = now();
    for (size_t i = 1; i <= POINTS; i++) {
        memset(payload, (int)i, sizeof payload);
        struct journal_point point = {.index = i, .length = sizeof payload, .payload = payload};
        memcpy(point.hash, &i, sizeof i);
        good(journal_append(&journal, &point, &errors), &errors);
    }
    *append = POINTS / (now() - start);
    *flushes = journal.flushes;
    good(journal_close(&journal, &errors), &errors);
    start = now();
    good(journal_open(path, "foampulse/bench/1", &journal, &errors), &errors);
    if (journal.count != POINTS)
        exit(1);
    *reopen = POINTS / (now() - start);
    good(journal_remove(&journal, &errors), &errors);
}

int main(void)
{
    double append[RUNS], reopen[RUNS];
    size_t flushes;
    char path[64];
    snprintf(path, sizeof path, "bench-%ld.h5", (long)getpid());
    for (int i = 0; i < RUNS; i++)
        run(path, &append[i], &reopen[i], &flushes);
    qsort(append, RUNS, sizeof *append, order);
    qsort(reopen, RUNS, sizeof *reopen, order);
    printf("journal: %d points of %d bytes, %.0f MB\n", POINTS, PAYLOAD, POINTS * (PAYLOAD + 60) / 1e6);
    printf("  appended      %8.0f points/s (least %.0f, most %.0f; %zu flushes in the last run)\n",
           append[RUNS / 2], append[0], append[RUNS - 1], flushes);
    printf("  found again   %8.0f points/s (least %.0f, most %.0f)\n", reopen[RUNS / 2], reopen[0],
           reopen[RUNS - 1]);
    return 0;
}
