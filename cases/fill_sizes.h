#ifndef FOAMPULSE_CASES_FILL_SIZES_H
#define FOAMPULSE_CASES_FILL_SIZES_H

#include "cases/fill.h"

/*
 * `sizes`: a helmet family. Each size is the case with its values set, by any path; the shell stays that of
 * the case as written: its inner radius there, unless `shell.inner_radius` says otherwise. With D the change
 * of the space between head and shell from the case to the size (positive for a smaller head), `take_up`
 * names what gets D in every stack:
 *
 *   comfort      the comfort padding, the case's or the region's own; a region without any leaves a positive
 *                D to the gap
 *   inner layer  the foam layer at the head
 *   gap          the gap between padding (or foam) and head
 *
 * Without `take_up` stacks stay as they are: what a smaller head leaves goes to `fill`, and a larger head is
 * refused where a stack is too thick for it.
 */

/* Checks names and form of `fill->sizes`; 1 when sound. */
int fill_sizes_check(struct fill *fill);

/* Sets the values of size `at` in `tree`, a copy of the family's, and takes `sizes` out of it. Errors stand
 * at the size's lines. STATUS_OK, STATUS_INPUT or STATUS_USAGE with messages, STATUS_MEMORY. */
enum status fill_size_values(const struct fill *family, size_t at, struct tree *tree, struct errors *errors);

/* Gives `fill->file`, a size, the shell of its family, and lets take_up absorb what its head changes. After
 * fill_regions. */
void fill_take_up(struct fill *fill);

#endif
