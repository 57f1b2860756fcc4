#include "solver/cli/progress.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#include "solver/cli/terminal.h"

static const double bar_after = 0.5, bar_every = 0.05, line_every = 60; /* [s] */
enum { BAR = 30 };

static double now(void)
{
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

void progress_start(struct progress *progress, const char *what, size_t all, int quiet)
{
    *progress = (struct progress){.quiet = quiet, .what = what, .all = all, .start = now()};
    progress->spoken = progress->start;
    if (quiet || !terminal_is(stderr))
        return;
    char text[128];
    snprintf(text, sizeof text, "%zu %s", all, what);
    terminal_rewrite(text);
    progress->shown = 1;
}

/* "[#####.....] 12 of 40 impacts, 3.5/s, 8 s left" */
static void draw_bar(struct progress *progress, size_t done, double spent)
{
    char bar[BAR + 1], text[128];
    size_t full = progress->all ? BAR * done / progress->all : BAR;
    memset(bar, '.', BAR);
    memset(bar, '#', full);
    bar[BAR] = '\0';
    int length = snprintf(text, sizeof text, "[%s] %zu of %zu %s", bar, done, progress->all, progress->what);
    if (done > progress->taken && length > 0)
        snprintf(text + length, sizeof text - (size_t)length, ", %.3g/s, %.0f s left",
                 (double)(done - progress->taken) / spent,
                 spent * (double)(progress->all - done) / (double)(done - progress->taken));
    terminal_rewrite(text);
    progress->shown = 1;
}

void progress_step(void *context, size_t done, size_t all)
{
    struct progress *progress = context;
    double time = now(), spent = time - progress->start;
    (void)all;
    done += progress->before;
    if (progress->quiet)
        return;
    if (terminal_is(stderr)) {
        if (spent < bar_after || time - progress->spoken < bar_every)
            return;
        draw_bar(progress, done, spent);
    } else {
        if (time - progress->spoken < line_every)
            return;
        terminal_print(stderr, STYLE_PLAIN, "%zu of %zu %s, %.0f s\n", done, progress->all, progress->what,
                       spent);
    }
    progress->spoken = time;
}

void progress_resumed(struct progress *progress, size_t taken)
{
    progress->taken += taken;
    progress_end(progress);
}

void progress_taken(struct progress *progress, size_t taken)
{
    progress->taken = taken;
}

void progress_end(struct progress *progress)
{
    if (progress->shown)
        terminal_rewrite("");
    progress->shown = 0;
}
