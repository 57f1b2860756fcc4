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

/* Says so of a size; takes that distance in mm. */
#define FAMILY_SHIFT_TEXT                                                                                    \
    "sizes share the shell over a round head; at a site it keeps its distance from the head's own curve, "   \
    "which "                                                                                                 \
    "moves its radius there by %.1f mm at most from that of the case as written"

/* Furthest that the shell's radius at a site of an impact lies off that of the case as written [m], as it
 * keeps its distance from the head's own curve; 0 for a case without sizes or a head without a shape. */
double family_shell_shift(const struct case_file *family, const struct case_file *helmet);

#endif
