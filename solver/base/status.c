#include "solver/base/status.h"

#include <stdarg.h>
#include <stdio.h>

static const struct {
    int exit;
    const char *text;
} table[] = {
#define STATUS_ROW(name, exit, text) {exit, text},
    STATUS_LIST(STATUS_ROW)
#undef STATUS_ROW
};

/* Most decisive first. */
static const enum status precedence[] = {STATUS_INTERRUPTED, STATUS_TERMINATED,  STATUS_USAGE, STATUS_MEMORY,
                                         STATUS_FILE,        STATUS_COMPUTATION, STATUS_INPUT, STATUS_GATE,
                                         STATUS_INTERNAL,    STATUS_OK};

int status_exit(enum status status)
{
    return table[status].exit;
}

const char *status_text(enum status status)
{
    return table[status].text;
}

enum status status_worse(enum status a, enum status b)
{
    for (size_t i = 0; i < sizeof precedence / sizeof *precedence; i++) {
        if (precedence[i] == a || precedence[i] == b)
            return precedence[i];
    }
    return STATUS_INTERNAL;
}

enum status errors_add(struct errors *errors, enum status status, const char *file, int line, int column,
                       const char *format, ...)
{
    if (!errors)
        return status;
    size_t at = errors->count++;
    if (at >= ERRORS_KEPT)
        return status;
    struct error *error = &errors->kept[at];
    *error = (struct error){.status = status, .line = line, .column = column};
    snprintf(error->file, sizeof error->file, "%s", file ? file : "");
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(error->text, sizeof error->text, format, arguments);
    va_end(arguments);
    return status;
}

void errors_source(struct errors *errors, const char *source)
{
    if (!errors || errors->count == 0 || errors->count > ERRORS_KEPT)
        return;
    struct error *error = &errors->kept[errors->count - 1];
    snprintf(error->source, sizeof error->source, "%s", source);
}

enum status errors_status(const struct errors *errors)
{
    enum status worst = STATUS_OK;
    for (size_t i = 0; i < errors->count && i < ERRORS_KEPT; i++)
        worst = status_worse(worst, errors->kept[i].status);
    return worst;
}
