#ifndef FOAMPULSE_CLI_PROGRESS_H
#define FOAMPULSE_CLI_PROGRESS_H

#include <stddef.h>

/*
 * How far a long computation is, on stderr. On a terminal: a line at once, a bar after half a second, nothing
 * left at the end. Elsewhere: a plain line a minute.
 */

struct progress {
    int quiet;
    const char *what;     /* "impacts" */
    size_t before, all;   /* done by earlier calls; of all calls together */
    size_t taken;         /* of them without work */
    double start, spoken; /* [s] of the clock */
    int shown;            /* a line stands on the terminal */
};

void progress_start(struct progress *progress, const char *what, size_t all, int quiet);

/* `done` of the present call; of the form of batch_options.progress. */
void progress_step(void *progress, size_t done, size_t all);

/* `taken` of the present call were there already and took no time. Removes the line, for a message. */
void progress_resumed(struct progress *progress, size_t taken);

/* The same without a message. */
void progress_taken(struct progress *progress, size_t taken);

/* Removes the line. */
void progress_end(struct progress *progress);

#endif
