#ifndef FOAMPULSE_BASE_STATUS_H
#define FOAMPULSE_BASE_STATUS_H

#include <stddef.h>

/*
 * Status codes and error lists.
 *
 * User errors are returned and collected in `struct errors`; programmer errors assert. Library code never
 * prints and never exits: solver/cli does both.
 */

/* name, exit status of the program, text. Several names may share one exit status. */
#define STATUS_LIST(X)                                                                                       \
    X(OK, 0, "done")                                                                                         \
    X(INTERNAL, 1, "internal error")                                                                         \
    X(USAGE, 2, "bad command line")                                                                          \
    X(INPUT, 3, "bad input file")                                                                            \
    X(FILE, 4, "file could not be read or written")                                                          \
    X(COMPUTATION, 5, "the computation failed")                                                              \
    X(MEMORY, 6, "out of memory")                                                                            \
    X(GATE, 7, "a limit is exceeded or cannot be judged")                                                    \
    X(INTERRUPTED, 130, "interrupted")                                                                       \
    X(TERMINATED, 143, "terminated")

enum status {
#define STATUS_ENUM(name, exit, text) STATUS_##name,
    STATUS_LIST(STATUS_ENUM)
#undef STATUS_ENUM
};

/* Exit status of the program for a status. */
int status_exit(enum status status);

/* Short text of a status; static. */
const char *status_text(enum status status);

/* The one of two that decides the exit status: 130, 143, 2, 6, 4, 5, 3, 7, 1, 0. */
enum status status_worse(enum status a, enum status b);

enum { ERROR_FILE = 256, ERROR_TEXT = 512, ERROR_LINE = 256, ERRORS_KEPT = 10 };

/* One message. `line` and `column` count from 1, in characters; 0 where there is no place. */
struct error {
    enum status status;
    int line, column;
    char file[ERROR_FILE];     /* as the user wrote it; "--set" for the command line; "" for none */
    char text[ERROR_TEXT];     /* what is wrong, what is allowed, nearest known name */
    char source[ERROR_LINE];   /* the offending line of the file, "" when not known */
    char included[ERROR_TEXT]; /* chain of includes, "" when none */
};

/* Up to ten errors and the count of all. Zero-initialised is empty. */
struct errors {
    size_t count; /* all that were added; only the first ERRORS_KEPT are kept */
    struct error kept[ERRORS_KEPT];
};

/* Adds a message at a place (file may be NULL). Returns `status`, so that callers can write
 * `return errors_add(...)`. `errors` may be NULL: then nothing is kept. All texts of a message are valid
 * UTF-8 without control characters, whatever was given. */
enum status errors_add(struct errors *errors, enum status status, const char *file, int line, int column,
                       const char *format, ...) __attribute__((format(printf, 6, 7)));

/* Sets the source line shown under the newest message; does nothing when that message was not kept. */
void errors_source(struct errors *errors, const char *source);

/* Sets the chain of includes of the newest message; does nothing when that message was not kept. */
void errors_included(struct errors *errors, const char *chain);

/* Adds the kept messages of another list, with their places. */
void errors_append(struct errors *errors, const struct errors *more);

/* Worst status of all kept messages, STATUS_OK when empty. */
enum status errors_status(const struct errors *errors);

#endif
