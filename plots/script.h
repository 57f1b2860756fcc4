#ifndef FOAMPULSE_PLOTS_SCRIPT_H
#define FOAMPULSE_PLOTS_SCRIPT_H

#include <stddef.h>

/*
 * The commands of a picture, as gnuplot reads them, put together in memory.
 *
 * Text from outside (titles, names, units) enters through script_text and script_tic only. They make it valid
 * UTF-8 of one line without control or direction characters and put it in single quotes, within which gnuplot
 * substitutes nothing; every terminal is set `noenhanced`. So such text can be nothing but text.
 */

enum { SCRIPT_TEXT = 200, SCRIPT_PAIRS = 2000 };

/* {0} is empty. Once memory is out, `failed` is 1 and nothing more is added. */
struct script {
    char *text;
    size_t length, room;
    int failed;
};

/* Adds commands; only for text of our own and numbers. */
void script_add(struct script *script, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Adds a quoted text from outside, cut to `most` characters (at most SCRIPT_TEXT) with an ellipsis. */
void script_text(struct script *script, const char *text, size_t most);

/* The same for a tic label, where gnuplot reads % as a format. */
void script_tic(struct script *script, const char *text, size_t most);

/* What script_text puts between the quotes, NUL-ended, in at most `size` bytes. */
void script_clean(const char *text, size_t most, char *out, size_t size);

/* Adds a data block $name of x and y. More than 2 x SCRIPT_PAIRS points are thinned to the least and the
 * largest y of each of SCRIPT_PAIRS pieces, in their order, so that no peak is lost. */
void script_block(struct script *script, const char *name, const double *x, const double *y, size_t count);

void script_free(struct script *script);

#endif
