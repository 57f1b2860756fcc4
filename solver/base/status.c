#include "solver/base/status.h"

#include <stdarg.h>
#include <stdio.h>

#include "solver/base/text.h"

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

/* Puts text that may come from a file into a message: nothing in it can drive a terminal. */
static void field_set(char *field, size_t size, const char *text)
{
    snprintf(field, size, "%.*s", (int)text_cut(text, size - 1), text);
    text_clean(field);
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
    field_set(error->file, sizeof error->file, file ? file : "");
    char text[2 * ERROR_TEXT];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    field_set(error->text, sizeof error->text, text);
    return status;
}

void errors_source(struct errors *errors, const char *source)
{
    if (!errors || errors->count == 0 || errors->count > ERRORS_KEPT)
        return;
    struct error *error = &errors->kept[errors->count - 1];
    field_set(error->source, sizeof error->source, source);
}

void errors_included(struct errors *errors, const char *chain)
{
    if (!errors || errors->count == 0 || errors->count > ERRORS_KEPT)
        return;
    struct error *error = &errors->kept[errors->count - 1];
    field_set(error->included, sizeof error->included, chain);
}

void errors_append(struct errors *errors, const struct errors *more)
{
    for (size_t i = 0; i < more->count && i < ERRORS_KEPT; i++)
        errors_add(errors, more->kept[i].status, more->kept[i].file, more->kept[i].line, more->kept[i].column,
                   "%s", more->kept[i].text);
}

enum status errors_status(const struct errors *errors)
{
    enum status worst = STATUS_OK;
    for (size_t i = 0; i < errors->count && i < ERRORS_KEPT; i++)
        worst = status_worse(worst, errors->kept[i].status);
    return worst;
}
