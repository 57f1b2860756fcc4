#ifndef FOAMPULSE_CLI_COMMAND_H
#define FOAMPULSE_CLI_COMMAND_H

#include <stddef.h>
#include <stdio.h>

#include "solver/base/status.h"
#include "solver/cli/options.h"

/*
 * The subcommands. Each is one file solver/cli/NAME.c with a function command_NAME. A new one is a line among
 * the declarations below and a row of the table in command.c:
 * {"check", GROUP_LOOK, "CASE...", 1, ANY, "what it does", "more of it", BIT(SET) | BIT(JSON),
 * command_check},
 *
 * A command prints its result with terminal_print or terminal_json, its errors with terminal_errors, and
 * returns the worst status of them.
 */

enum command_group { GROUP_SEE, GROUP_EXPLORE, GROUP_TRUST, GROUP_LOOK, GROUP_COUNT };

struct command {
    const char *name;
    enum command_group group;
    const char *operands;  /* as --help shows them: "CASE..." */
    size_t least, most;    /* how many operands it takes */
    const char *summary;   /* one line of the list of commands */
    const char *detail;    /* below it in the command's own help */
    unsigned long options; /* bits of the options it takes beside OPTIONS_EVERYWHERE */
    enum status (*run)(const struct options *options);
};

enum status command_run(const struct options *options);
enum status command_measure(const struct options *options);
enum status command_check(const struct options *options);
enum status command_converge(const struct options *options);
enum status command_plan(const struct options *options);
enum status command_list(const struct options *options);
enum status command_example(const struct options *options);
enum status command_plot(const struct options *options);
enum status command_show(const struct options *options);
enum status command_sweep(const struct options *options);
enum status command_tune(const struct options *options);
enum status command_rank(const struct options *options);
enum status command_merge(const struct options *options);
enum status command_tolerance(const struct options *options);

/* The command of this name; NULL with a message that names the nearest one. */
const struct command *command_find(const char *name, struct errors *errors);

/* Refuses options that mean nothing for the command, and too few or too many operands. */
enum status command_accept(const struct command *command, const struct options *options,
                           struct errors *errors);

/* Prints the help of one command, or of the program when NULL. */
void command_help(FILE *stream, const struct command *command);

#endif
