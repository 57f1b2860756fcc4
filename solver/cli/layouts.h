#ifndef FOAMPULSE_CLI_LAYOUTS_H
#define FOAMPULSE_CLI_LAYOUTS_H

#include "cases/journal.h"
#include "cases/store_sweep.h"
#include "solver/cli/options.h"
#include "solver/cli/progress.h"
#include "solver/study/explore.h"

/*
 * The result file of a command that solves many layouts: taken before the first is solved, added to, written
 * at the end, with a journal beside it until then.
 */

struct layouts {
    const struct options *options; /* set by the command, as are the next three */
    const char *schema;            /* STORE_SWEEP, ... */
    const char *name;              /* "sweep" of CASE.sweep.h5 */
    const char *what;              /* how an error begins: "is a sweep of another case, ..." */
    char *path;                    /* of the result, "" for none */
    struct sweep earlier;          /* what stood there; {0} */
    struct journal journal;        /* {0} without a result file */
    struct errors failed;          /* what the journal could not keep */
    size_t taken;                  /* rows that were there and were not solved again */
    struct progress progress;
};

/* Loads the case of a command that takes one model. `lack` follows the path where the case has no `sweep`,
 * NULL when it needs none. STATUS_USAGE, otherwise as case_load. */
enum status layouts_load(const struct options *options, const char *command, const char *lack,
                         struct case_file *file, struct errors *errors);

/* Names the result. STATUS_USAGE, STATUS_FILE, STATUS_MEMORY. */
enum status layouts_name(struct layouts *layouts, struct errors *errors);

/* Reads what stands there, if it is of the same `frame` (sweep.h), and opens the journal. Does nothing
 * without a result file. STATUS_FILE, STATUS_INPUT, STATUS_MEMORY. */
enum status layouts_open(struct layouts *layouts, const char *frame, struct errors *errors);

/* Progress of `all` units, "layouts", and the options that explore_solve needs. */
void layouts_start(struct layouts *layouts, const char *unit, size_t all, struct explore_options *explore);

/* After the work, whose status is given: its own, or that of the signal. When it is not STATUS_OK the
 * journal is kept, and what went wrong with it told. */
enum status layouts_end(struct layouts *layouts, enum status status, struct errors *errors);

/* Adds the earlier rows to `sweep`, writes the result, and only then lets the journal go. STATUS_FILE,
 * STATUS_MEMORY. */
enum status layouts_store(struct layouts *layouts, struct sweep *sweep, struct errors *errors);

/* "3 of 25 layouts were there ..." and the file written, on stderr. */
void layouts_say(const struct layouts *layouts, const char *unit, size_t all);

void layouts_free(struct layouts *layouts);

#endif
