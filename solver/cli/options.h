#ifndef FOAMPULSE_CLI_OPTIONS_H
#define FOAMPULSE_CLI_OPTIONS_H

#include <stddef.h>

#include "solver/base/status.h"

/*
 * The command line, read into plain data. Options may stand before or after operands; `--` ends them; `-`
 * alone is an operand. Every option is one row of a table that also makes --help.
 */

enum option {
    OPTION_OUTPUT,
    OPTION_SET,
    OPTION_JOBS,
    OPTION_MODEL,
    OPTION_JSON,
    OPTION_CSV,
    OPTION_ALL,
    OPTION_PICTURE,
    OPTION_FORMAT,
    OPTION_AT,
    OPTION_FIELD,
    OPTION_FACTORS,
    OPTION_LIMITS,
    OPTION_FACTOR,
    OPTION_SHARE,
    OPTION_MAX_POINTS,
    OPTION_POINT,
    OPTION_FORCE,
    OPTION_GATE,
    OPTION_QUIET,
    OPTION_VERBOSE,
    OPTION_NO_COLOR,
    OPTION_HELP,
    OPTION_VERSION,
    OPTION_COUNT
};

/* Set of options: one bit each. */
#define OPTION_BIT(option) (1UL << (option))

/* Options that every command takes. */
#define OPTIONS_EVERYWHERE                                                                                   \
    (OPTION_BIT(OPTION_NO_COLOR) | OPTION_BIT(OPTION_HELP) | OPTION_BIT(OPTION_VERSION))

/* Texts point into argv. */
struct options {
    const char *command; /* NULL when there is none */
    size_t operand_count;
    const char **operands;
    size_t set_count; /* --set PATH=VALUE, in the order given */
    const char **sets;
    size_t at_count; /* --at, in the order given */
    const char **ats;
    const char *output, *model, *picture, *format, *limits; /* NULL when not given */
    const char *field, *factors;
    const char *share;
    int jobs, max_points, point; /* 0 when not given */
    double factor;               /* NaN when not given */
    int json, csv, all, force, gate, quiet, verbose, no_color, help, version;
    unsigned long given; /* bits of the options that stood on the command line */
};

/* Reads argv[1 ..]. Reads on after a mistake, so that all are reported and --json is known. STATUS_USAGE with
 * the messages in `errors`, STATUS_MEMORY; what could be read is in `options` all the same. */
enum status options_read(int argc, char **argv, struct options *options, struct errors *errors);

/* Refuses given options outside `allowed`, naming the nearest that `command` takes. */
enum status options_check(const struct options *options, const char *command, unsigned long allowed,
                          struct errors *errors);

void options_free(struct options *options);

/* One line of --help for an option, no newline: "-j, --jobs N" and its meaning; static. */
void options_usage(enum option option, char *text, size_t size);
const char *options_meaning(enum option option);

#endif
