#include "solver/base/status.h"
#include "solver/cli/command.h"
#include "solver/cli/options.h"
#include "solver/cli/terminal.h"

/* The locale stays "C", so that numbers are read and written with a point. */

static enum status run_command(const struct options *options, struct errors *errors)
{
    const struct command *command = options->command ? command_find(options->command, errors) : NULL;
    if (options->command && !command)
        return STATUS_USAGE;
    if (options->version) {
        terminal_print(stdout, STYLE_PLAIN, "foampulse %s\n", FOAMPULSE_VERSION);
        return STATUS_OK;
    }
    if (options->help) {
        command_help(stdout, command);
        return STATUS_OK;
    }
    if (!command) {
        command_help(stderr, NULL);
        return STATUS_USAGE;
    }
    enum status status = command_accept(command, options, errors);
    return status == STATUS_OK ? command->run(options) : status;
}

/* A failure that nobody has explained yet gets the text of its status. */
static void explain(enum status status, int json)
{
    struct errors errors = {0};
    if (status == STATUS_OK || status == STATUS_GATE || terminal_reported())
        return;
    errors_add(&errors, status, NULL, 0, 0, "%s", status_text(status));
    terminal_errors(&errors, json);
}

int main(int argc, char **argv)
{
    struct options options;
    struct errors errors = {0};
    terminal_start();
    enum status status = options_read(argc, argv, &options, &errors);
    if (options.no_color)
        terminal_no_color();
    int help_only = argc < 2;
    if (status == STATUS_OK)
        status = run_command(&options, &errors);
    terminal_errors(&errors, options.json);
    status = status_worse(status, terminal_signal());
    if (!help_only)
        explain(status, options.json);
    options_free(&options);
    return status_exit(status_worse(status, terminal_finish()));
}
