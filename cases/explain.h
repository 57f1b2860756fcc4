#ifndef FOAMPULSE_CASES_EXPLAIN_H
#define FOAMPULSE_CASES_EXPLAIN_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * What libyaml found wrong with a text, said in terms of what the user typed.
 *
 * libyaml names the rule of its grammar that failed, often one line after the slip. The text around the place
 * is looked at for the slips that people make: a space missing after a colon or dash, a tab, an open bracket,
 * text that needs quotes, an indentation that fits no block.
 */

/* libyaml's report; lines and columns from 1, 0 where it gave none. */
struct trouble {
    const char *problem, *context;
    int line, column;
    int context_line, context_column;
    int open_line, open_column; /* innermost bracket that is open */
};

struct explanation {
    int line, column;
    char text[ERROR_TEXT];
};

/* Explains why `content` cannot be read. Never quotes libyaml. */
void explain_trouble(const char *content, size_t length, const struct trouble *trouble,
                     struct explanation *explanation);

/* Column (from 1, in bytes from `text`) of a colon that lacks the space after it, as in `size:J`; 0 when the
 * text is not of that kind. Web addresses and paths are not. */
size_t explain_glued_colon(const char *text, size_t length);

#endif
