#ifndef FOAMPULSE_CASES_FAMILY_H
#define FOAMPULSE_CASES_FAMILY_H

#include <stddef.h>

#include "cases/case.h"
#include "solver/base/status.h"

/* What is said of the helmets of a case, each by itself, put together: every line once. */

struct family_notes {
    char **lines;
    size_t count;
};

/* Adds the lines of all helmets (case_helmet_count) to a list that grows as with result_note. A line that
 * does not hold for every helmet gets those it holds for behind it: " (size S, L)". STATUS_OK,
 * STATUS_MEMORY. */
enum status family_notes(const struct case_file *file, const struct family_notes *helmets, char ***list,
                         size_t *count);

void family_notes_free(struct family_notes *notes);

/* Gathers in a family what its sizes do not cover. A size that nothing strikes leaves it incomplete; when
 * nothing strikes any, an error stands at `place`. */
enum status family_cover(struct case_file *file, const struct node *place, struct errors *errors);

/* Adds what one helmet of a case leaves open: case_assumptions, and of a size how far its shell at a site
 * lies off that of the case as written. STATUS_OK, STATUS_MEMORY. */
enum status family_assume(const struct case_file *family, const struct case_file *helmet,
                          struct family_notes *notes);

#endif
