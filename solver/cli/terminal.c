#include "solver/cli/terminal.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "solver/base/memory.h"
#include "solver/base/text.h"

static int colored[3]; /* by file descriptor */
static int reported, object_written;
static int output_error; /* errno of the first write to standard output that failed */
static atomic_int interrupted;

static const char *const escapes[] = {
    [STYLE_PLAIN] = "",        [STYLE_STRONG] = "\033[1m",   [STYLE_FAINT] = "\033[2m",
    [STYLE_GOOD] = "\033[32m", [STYLE_WARNING] = "\033[33m", [STYLE_ERROR] = "\033[1;31m",
};

static void on_signal(int number)
{
    interrupted = number;
}

static void catch_signals(void)
{
    /* one chance to stop in order: the second signal finds the default action */
    struct sigaction once = {.sa_handler = on_signal, .sa_flags = (int)SA_RESETHAND};
    sigemptyset(&once.sa_mask);
    sigaction(SIGINT, &once, NULL);
    sigaction(SIGTERM, &once, NULL);
    struct sigaction ignore = {.sa_handler = SIG_IGN};
    sigaction(SIGPIPE, &ignore, NULL);
    /* a limit on the size of files is then an error like a full disk */
    sigaction(SIGXFSZ, &ignore, NULL);
}

void terminal_start(void)
{
    /* else the first file opened would become standard output; each is opened the way that makes its use fail
     */
    for (int i = 0; i < 3; i++) {
        if (fcntl(i, F_GETFD) < 0)
            (void)!open("/dev/null", i == 0 ? O_WRONLY : O_RDONLY);
    }
    /* a remark goes out as a line, whoever else writes to the same file */
    setvbuf(stderr, NULL, _IOLBF, 0);
    catch_signals();
    const char *term = getenv("TERM"), *none = getenv("NO_COLOR");
    int wanted = term && strcmp(term, "dumb") != 0 && !(none && *none);
    for (int i = 1; i < 3; i++)
        colored[i] = wanted && isatty(i);
}

void terminal_no_color(void)
{
    colored[1] = colored[2] = 0;
}

int terminal_is(FILE *stream)
{
    const char *term = getenv("TERM");
    return isatty(fileno(stream)) && term && strcmp(term, "dumb") != 0;
}

/* Copies the next character of `*text`, filtered; advances. Returns the bytes written (1-4). `lines`: newline
 * is kept. */
static size_t filter(const char **text, int lines, char out[4])
{
    unsigned point = 0;
    size_t length = text_decode(*text, strnlen(*text, 4), &point);
    const char *from = *text;
    *text += length ? length : 1;
    if (length && !text_is_control(point) && !text_is_hidden(point)) {
        memcpy(out, from, length);
        return length;
    }
    int space = length == 1 && (point == '\n' || point == '\t');
    out[0] = space ? (char)(lines && point == '\n' ? '\n' : ' ') : '?';
    return 1;
}

char *terminal_clean(const char *text, char *out, size_t size)
{
    size_t used = 0;
    while (*text) {
        char piece[4];
        size_t length = filter(&text, 0, piece);
        if (used + length >= size)
            break;
        memcpy(out + used, piece, length);
        used += length;
    }
    if (size)
        out[used] = '\0';
    return out;
}

size_t terminal_columns(const char *text)
{
    size_t columns = 0;
    for (; *text; text++)
        columns += ((unsigned char)*text >> 6) != 2;
    return columns;
}

static void put(FILE *stream, const char *text)
{
    while (*text) {
        char piece[4];
        size_t length = filter(&text, 1, piece);
        fwrite(piece, 1, length, stream);
    }
}

static void note_failure(FILE *stream)
{
    if (stream == stdout && !output_error && ferror(stream))
        output_error = errno;
}

void terminal_print(FILE *stream, enum style style, const char *format, ...)
{
    char small[1024], *text = small;
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(small, sizeof small, format, arguments);
    va_end(arguments);
    if (length >= (int)sizeof small && (text = memory_zeroed((size_t)length + 1, 1))) {
        va_start(arguments, format);
        vsnprintf(text, (size_t)length + 1, format, arguments);
        va_end(arguments);
    }
    int descriptor = fileno(stream);
    int styled = style != STYLE_PLAIN && (descriptor == 1 || descriptor == 2) && colored[descriptor];
    if (styled)
        fputs(escapes[style], stream);
    put(stream, text ? text : small);
    if (styled)
        fputs("\033[0m", stream);
    note_failure(stream);
    if (text != small)
        memory_free(text);
}

void terminal_rewrite(const char *text)
{
    fputs("\r\033[K", stderr);
    put(stderr, text);
    fflush(stderr);
}

static enum status write_json(FILE *stream, const json_t *object)
{
    if (!object)
        return STATUS_MEMORY;
    int failed = json_dumpf(object, stream, JSON_INDENT(1) | JSON_REAL_PRECISION(12) | JSON_ENSURE_ASCII);
    fputc('\n', stream);
    note_failure(stream);
    return failed && !ferror(stream) ? STATUS_MEMORY : STATUS_OK;
}

enum status terminal_json(const json_t *object)
{
    object_written = 1;
    return write_json(stdout, object);
}

static json_t *error_object(const struct errors *errors)
{
    json_t *list = json_array();
    for (size_t i = 0; i < errors->count && i < ERRORS_KEPT; i++) {
        const struct error *error = &errors->kept[i];
        char file[ERROR_FILE], text[ERROR_TEXT];
        json_array_append_new(list, json_pack("{s:s, s:i, s:i, s:s}", "file",
                                              terminal_clean(error->file, file, sizeof file), "line",
                                              error->line, "column", error->column, "text",
                                              terminal_clean(error->text, text, sizeof text)));
    }
    return json_pack("{s:s, s:I, s:o}", "schema", "foampulse/error/1", "count", (json_int_t)errors->count,
                     "errors", list);
}

static void print_source(const struct error *error)
{
    char source[ERROR_LINE];
    terminal_clean(error->source, source, sizeof source);
    if (source[0] == '\0')
        return;
    terminal_print(stderr, STYLE_PLAIN, "  %s\n", source);
    if (error->column > 0 && (size_t)error->column <= terminal_columns(source) + 1) {
        terminal_print(stderr, STYLE_PLAIN, "  %*s", error->column - 1, "");
        terminal_print(stderr, STYLE_GOOD, "^\n");
    }
}

static void print_error(const struct error *error)
{
    char text[ERROR_TEXT];
    terminal_clean(error->file[0] ? error->file : "foampulse", text, sizeof text);
    terminal_print(stderr, STYLE_STRONG, "%s:", text);
    if (error->line > 0)
        terminal_print(stderr, STYLE_STRONG, "%d:", error->line);
    if (error->line > 0 && error->column > 0)
        terminal_print(stderr, STYLE_STRONG, "%d:", error->column);
    terminal_print(stderr, STYLE_ERROR, " error:");
    terminal_print(stderr, STYLE_PLAIN, " %s\n", terminal_clean(error->text, text, sizeof text));
    print_source(error);
    if (error->included[0])
        terminal_print(stderr, STYLE_PLAIN, "  %s\n", terminal_clean(error->included, text, sizeof text));
}

enum status terminal_errors(const struct errors *errors, int json)
{
    if (errors->count == 0)
        return STATUS_OK;
    reported = 1;
    if (json) {
        json_t *object = error_object(errors);
        enum status status = write_json(object_written ? stderr : stdout, object);
        object_written = 1;
        json_decref(object);
        return status_worse(status, errors_status(errors));
    }
    for (size_t i = 0; i < errors->count && i < ERRORS_KEPT; i++)
        print_error(&errors->kept[i]);
    if (errors->count > ERRORS_KEPT)
        terminal_print(stderr, STYLE_PLAIN, "%zu errors; the first %d are shown\n", errors->count,
                       ERRORS_KEPT);
    else if (errors->count > 1)
        terminal_print(stderr, STYLE_PLAIN, "%zu errors\n", errors->count);
    return errors_status(errors);
}

int terminal_reported(void)
{
    return reported;
}

atomic_int *terminal_interrupted(void)
{
    return &interrupted;
}

enum status terminal_signal(void)
{
    return interrupted == SIGINT    ? STATUS_INTERRUPTED
           : interrupted == SIGTERM ? STATUS_TERMINATED
                                    : STATUS_OK;
}

void terminal_flush(void)
{
    if (fflush(stdout) != 0)
        note_failure(stdout);
}

enum status terminal_finish(void)
{
    terminal_flush();
    if (output_error && output_error != EPIPE)
        terminal_print(stderr, STYLE_ERROR, "foampulse: error: standard output could not be written: %s\n",
                       strerror(output_error));
    return output_error ? STATUS_FILE : STATUS_OK;
}
