#ifndef FOAMPULSE_PLOTS_SLICE_H
#define FOAMPULSE_PLOTS_SLICE_H

#include "cases/factor.h"
#include "cases/sweep.h"
#include "plots/script.h"

/*
 * What of a sweep a picture shows: the layout that counts as best, the lines and planes of layouts through
 * it, and the impacts that govern there.
 *
 * Values are those that are shown: margins in % of the limit, peak g in g.
 */

enum slice_quantity { SLICE_MARGIN, SLICE_PEAK, SLICE_HIC };

/* What compares layouts: margins, or where nothing has a limit peak g. */
enum slice_quantity slice_quantity(const struct sweep *sweep);

/* Of one hit of a layout; NaN where it was not computed or has no limit. */
double slice_value(const struct sweep *sweep, size_t point, size_t hit, enum slice_quantity quantity);

/* The hit of a layout with the least margin or the largest value; -1 for none, and where an impact failed: it
 * would be the worst, as it used up the liner. */
long slice_worst(const struct sweep *sweep, size_t point, enum slice_quantity quantity);

/* The value of that hit; NaN for none. */
double slice_worst_value(const struct sweep *sweep, size_t point, enum slice_quantity quantity);

/* Whether every hit of a layout was computed and none is undecided. */
int slice_is_decided(const struct sweep *sweep, size_t point);

/* Row of the best layout: the first of sweep_order, or where nothing has a limit that with the lowest largest
 * peak. STATUS_INPUT when no layout was computed, STATUS_MEMORY. */
enum status slice_best(const struct sweep *sweep, size_t *best, struct errors *errors);

/* The factors that a picture shows, in this order; none: the first ones. */
enum { SLICE_CHOSEN = 8 };
struct slice_choice {
    size_t count, factor[SLICE_CHOSEN];
};

/* Fills at most `most` columns from a choice, or from the first factors where it is empty; their count. */
size_t slice_choose(const struct sweep *sweep, const struct slice_choice *choice, size_t most,
                    size_t *factors);

/* Layouts in the order of their value of a factor. */
struct slice_row {
    double value;
    size_t point;
};

/* Rows (fresh, memory_free) that differ from the layout `at` at most in the factors `a` and `b` (b may be a),
 * by their value of `a`; of those with the same values the first alone. NULL when memory is out. */
struct slice_row *slice_through(const struct sweep *sweep, size_t at, size_t a, size_t b, size_t *count);

/* All layouts by their value of `a`; NULL when memory is out. */
struct slice_row *slice_all(const struct sweep *sweep, size_t a, size_t *count);

/* How many values of a factor stand in rows ordered by it. */
size_t slice_distinct(const struct slice_row *rows, size_t count);

/* Hits in the order in which they govern: the worst of most layouts of `rows` first, then by their worst
 * value there. `rank` (hit_count) takes columns. STATUS_MEMORY. */
enum status slice_governing(const struct sweep *sweep, const struct slice_row *rows, size_t count,
                            enum slice_quantity quantity, size_t *rank);

/* Where a line through the points x (rising), y is not negative: at most `most` stretches from[i] to to[i],
 * ends interpolated; their count. A NaN of y ends a stretch. */
size_t slice_stretches(const double *x, const double *y, size_t count, size_t most, double *from, double *to);

/* "crown 1 density (kg/m3)". */
enum { SLICE_AXIS = FACTOR_LABEL + UNITS_NAME + 4 };
void slice_axis(const struct factor *factor, char text[SLICE_AXIS]);

/* Tics of "xtics" or "ytics": at the levels, of texts or where there are no more than `levels`; else round
 * numbers. A text is cut to `most` characters. */
void slice_tics(struct script *script, const char *axis, const struct factor *factor, size_t levels,
                size_t most);

/* A value in four figures, "47.33 kg/m3"; a text as it is. */
void slice_number(const struct factor *factor, double value, char text[FACTOR_TEXT]);

/* "no. 17: crown 1 density 45 kg/m3, ...", all factors but those of two columns (-1 for none), cut to fit. */
void slice_layout(const struct sweep *sweep, size_t point, long but, long nor, char *text, size_t size);

#endif
