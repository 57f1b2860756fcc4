#include <stdio.h>
#include <string.h>

#include "solver/base/data.h"
#include "solver/base/memory.h"
#include "solver/base/units.h"
#include "solver/cli/command.h"
#include "solver/cli/terminal.h"

/* Commented cases to start from; each is a data file that is a test case as well. */
static const struct {
    const char *name, *file;
} examples[] = {
    {"smallest", "cases/smallest.yaml"},
    {"pad", "cases/bench-pad.yaml"},
    {"touring", "cases/touring.yaml"},
};
enum { EXAMPLES = sizeof examples / sizeof *examples };

static enum status unknown_example(const char *name, struct errors *errors)
{
    const char *names[EXAMPLES];
    char all[128] = "";
    for (size_t i = 0; i < EXAMPLES; i++) {
        names[i] = examples[i].name;
        size_t used = strlen(all);
        snprintf(all + used, sizeof all - used, "%s%s", i ? ", " : "", examples[i].name);
    }
    const char *nearest = units_nearest(name, names, EXAMPLES);
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "there is no example '%.60s'%s%s%s; there are: %s",
                      name, nearest ? "; nearest: '" : "", nearest ? nearest : "", nearest ? "'" : "", all);
}

static enum status print_file(const char *name, struct errors *errors)
{
    char line[1024];
    char *path;
    enum status status = data_find(name, NULL, &path);
    FILE *file = path ? fopen(path, "r") : NULL;
    if (file) {
        while (fgets(line, sizeof line, file))
            terminal_print(stdout, STYLE_PLAIN, "%s", line);
        if (ferror(file))
            status = errors_add(errors, STATUS_FILE, path, 0, 0, "could not be read");
        fclose(file);
    } else if (status == STATUS_OK) {
        status = errors_add(errors, STATUS_FILE, name, 0, 0, DATA_MISSING);
    }
    memory_free(path);
    return status;
}

enum status command_example(const struct options *options)
{
    struct errors errors = {0};
    const char *name = options->operand_count ? options->operands[0] : examples[0].name;
    size_t at = 0;
    while (at < EXAMPLES && strcmp(examples[at].name, name) != 0)
        at++;
    enum status status =
        at < EXAMPLES ? print_file(examples[at].file, &errors) : unknown_example(name, &errors);
    return status_worse(status, terminal_errors(&errors, options->json));
}
