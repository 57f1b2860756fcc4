#ifndef FOAMPULSE_CLI_TERMINAL_H
#define FOAMPULSE_CLI_TERMINAL_H

#include <jansson.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdio.h>

#include "solver/base/status.h"

/*
 * All that the program writes to the terminal, and the signals it gets from there.
 *
 * Every text passes one filter: control characters (newline apart), escape sequences, direction marks and
 * broken UTF-8 become `?`. So a name or a title can never be anything but text.
 */

enum style { STYLE_PLAIN, STYLE_STRONG, STYLE_FAINT, STYLE_GOOD, STYLE_WARNING, STYLE_ERROR };

/* First thing in main: makes sure that descriptors 0-2 are open, ignores SIGPIPE and SIGXFSZ, catches SIGINT
 * and SIGTERM (a second one ends the program at once), and decides for each stream whether it gets colours: a
 * terminal, TERM not dumb, NO_COLOR empty. */
void terminal_start(void);

/* --no-color: none from now on. */
void terminal_no_color(void);

/* Is this stream a terminal that a progress line may be rewritten on? */
int terminal_is(FILE *stream);

/* Writes formatted text, filtered, in a style. */
void terminal_print(FILE *stream, enum style style, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Puts a line in the place of the last one on stderr, which is a terminal; "" removes it. */
void terminal_rewrite(const char *text);

/* Copies a text as one filtered line: tab and newline become spaces; cut at a whole character. Returns `out`.
 */
char *terminal_clean(const char *text, char *out, size_t size);

/* Characters of a UTF-8 text, for aligning columns. */
size_t terminal_columns(const char *text);

/* Writes the one JSON object of a command on standard output. STATUS_MEMORY when it is NULL. The reference
 * stays the caller's. */
enum status terminal_json(const json_t *object);

/* Prints errors: `FILE:LINE:COLUMN: error: WHAT`, the source line and a caret on stderr, the count when there
 * is more than one; with `json` as one object of schema foampulse/error/1, on standard output unless the
 * command has already written its object there. Prints nothing when there are none. Returns their worst
 * status. */
enum status terminal_errors(const struct errors *errors, int json);

/* Did terminal_errors print anything yet? */
int terminal_reported(void);

/* Set to the signal's number when SIGINT or SIGTERM came; for struct batch_options. */
atomic_int *terminal_interrupted(void);

/* STATUS_INTERRUPTED, STATUS_TERMINATED or STATUS_OK. */
enum status terminal_signal(void);

/* Writes out what waits for standard output, so that what follows on stderr stands behind it. */
void terminal_flush(void);

/* Writes out standard output. STATUS_FILE when that failed, with a message on stderr unless its reader went
 * away. */
enum status terminal_finish(void);

#endif
