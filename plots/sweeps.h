#ifndef FOAMPULSE_PLOTS_SWEEPS_H
#define FOAMPULSE_PLOTS_SWEEPS_H

#include "cases/sweep.h"
#include "plots/gnuplot.h"
#include "plots/slice.h"

/*
 * All pictures of many layouts, by name: of files that sweep, tune and tolerance write.
 */

/* Kinds of files, one bit each. */
enum sweeps_kind { SWEEPS_SWEEP = 1, SWEEPS_TUNE = 2, SWEEPS_TOLERANCE = 4, SWEEPS_ANY = 7 };

struct sweeps_info {
    const char *name, *help;
    unsigned kinds;    /* of which it can be drawn */
    unsigned defaults; /* of which it is drawn when no names are given */
    /* Whether there is something to show; one of the default set without is passed over in silence. NULL:
     * always. */
    int (*shows)(const struct sweep *sweep);
};

enum { SWEEPS_COUNT = 3 };
extern const struct sweeps_info sweeps_table[SWEEPS_COUNT];

/* Which kind of file stands under a name: "sweep", "tune", "tolerance" and its schema; 0 for none of them. */
enum sweeps_kind sweeps_kind_of(const char *path, const char **word, const char **schema);

/* Draws picture `at` of the table into the file `path`, or with PICTURE_TEXT and no path into a fresh text.
 * STATUS_INPUT when the sweep holds nothing to draw, and what gnuplot_draw returns. */
enum status sweeps_draw(size_t at, const struct sweep *sweep, const struct slice_choice *choice,
                        enum picture_format format, const char *path, char **text, struct errors *errors);

#endif
