#include "plots/gnuplot.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "solver/base/memory.h"
#include "solver/base/save.h"

extern char **environ;

const char *const picture_format_names[PICTURE_FORMATS] = {"png", "svg", "pdf", "gif", "text"};

enum { PROGRAM = 4096, MESSAGE = 300 };

/* Behind a text picture, which has no last bytes of its own. */
#define TEXT_END "end of picture"

static double deadline = 60; /* [s] */
static const atomic_int *interrupted;

void gnuplot_deadline(double seconds)
{
    deadline = seconds;
}

void gnuplot_watch(const atomic_int *flag)
{
    interrupted = flag;
}

void gnuplot_terminal(struct script *script, enum picture_format format, int width, int height)
{
    script_add(script, "set encoding utf8\n");
    switch (format) {
    case PICTURE_PNG:
        script_add(
            script,
            "if (strstrt(GPVAL_TERMINALS, ' pngcairo ') > 0) {\n"
            "set terminal pngcairo noenhanced truecolor size %d,%d font 'sans,20' linewidth 2\n} else {\n"
            "set terminal png noenhanced truecolor size %d,%d font 'sans,16' linewidth 2\n}\n",
            2 * width, 2 * height, 2 * width, 2 * height);
        break;
    case PICTURE_SVG:
        script_add(
            script,
            "set terminal svg noenhanced size %d,%d font 'sans-serif,14' linewidth 1.4 background 'white'\n",
            width * 14 / 10, height * 14 / 10);
        break;
    case PICTURE_PDF:
        script_add(script,
                   "set terminal pdfcairo noenhanced size %g,%g font 'sans,12' fontscale 0.9 linewidth 1.4\n",
                   width / 60.0, height / 60.0);
        break;
    case PICTURE_GIF:
        script_add(script, "set terminal gif noenhanced animate delay 20 loop 0 size %d,%d font 'sans,11'\n",
                   width * 14 / 10, height * 14 / 10);
        break;
    default:
        script_add(script, "set terminal dumb noenhanced size 100,32\n");
        break;
    }
}

int gnuplot_font(enum picture_format format, int size)
{
    static const int common[PICTURE_FORMATS] = {20, 14, 12, 11, 20};
    return (size * common[format] + 10) / 20;
}

/* Finds the program in PATH. Empty and relative entries are passed over: what lies in the present folder is
 * not to be run by drawing a picture there. */
static int find_program(char program[PROGRAM])
{
    const char *path = getenv("PATH");
    for (const char *from = path ? path : "/usr/local/bin:/usr/bin:/bin"; *from;) {
        size_t length = strcspn(from, ":");
        int size = snprintf(program, PROGRAM, "%.*s/gnuplot", (int)length, from);
        struct stat about;
        if (from[0] == '/' && size > 0 && size < PROGRAM && stat(program, &about) == 0 &&
            S_ISREG(about.st_mode) && access(program, X_OK) == 0)
            return 1;
        from += length + (from[length] == ':');
    }
    return 0;
}

/* The files that the child reads and writes. */
struct streams {
    FILE *commands, *messages, *text; /* unnamed; `text` only when there is no file to be made */
    int out;
};

static void close_if(FILE *file)
{
    if (file)
        fclose(file);
}

static void streams_close(struct streams *streams)
{
    close_if(streams->commands);
    close_if(streams->messages);
    close_if(streams->text);
}

static FILE *unnamed(void)
{
    FILE *file = tmpfile();
    if (file)
        fcntl(fileno(file), F_SETFD, FD_CLOEXEC);
    return file;
}

/* 0 when a temporary file cannot be made or filled. */
static int streams_open(struct streams *streams, const struct script *script, int out)
{
    static const char text_end[] = "\nset print '-'\nprint '" TEXT_END "'\n";
    const char *more = out < 0 ? text_end : "";
    *streams = (struct streams){.out = out, .commands = unnamed(), .messages = unnamed()};
    if (out < 0) {
        streams->text = unnamed();
        streams->out = streams->text ? fileno(streams->text) : -1;
    }
    return streams->commands && streams->messages && streams->out >= 0 &&
           fwrite(script->text, 1, script->length, streams->commands) == script->length &&
           fputs(more, streams->commands) >= 0 && fflush(streams->commands) == 0 &&
           lseek(fileno(streams->commands), 0, SEEK_SET) == 0;
}

static int start(const char *program, const struct streams *streams, pid_t *child)
{
    char name[] = "gnuplot", plain[] = "--default-settings";
    char *const arguments[] = {name, plain, NULL};
    posix_spawn_file_actions_t actions;
    int failed = posix_spawn_file_actions_init(&actions);
    if (failed)
        return failed;
    failed = posix_spawn_file_actions_adddup2(&actions, fileno(streams->commands), STDIN_FILENO);
    if (!failed)
        failed = posix_spawn_file_actions_adddup2(&actions, streams->out, STDOUT_FILENO);
    if (!failed)
        failed = posix_spawn_file_actions_adddup2(&actions, fileno(streams->messages), STDERR_FILENO);
    if (!failed)
        failed = posix_spawn(child, program, &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    return failed;
}

static double clock_now(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static int is_interrupted(void)
{
    return interrupted && *interrupted;
}

/* Waits for the child, kills it when its time is over or the program is told to end. 1 when it ended by
 * itself. */
static int wait_for(pid_t child, int *end)
{
    double limit = clock_now() + deadline;
    struct timespec pause = {.tv_nsec = 2000000};
    for (;;) {
        pid_t got = waitpid(child, end, WNOHANG);
        if (got == child)
            return 1;
        if (got < 0 && errno != EINTR)
            return 0;
        if (clock_now() > limit || is_interrupted()) {
            kill(child, SIGKILL);
            while (waitpid(child, end, 0) < 0 && errno == EINTR)
                continue;
            return 0;
        }
        nanosleep(&pause, NULL);
    }
}

/* The last line that gnuplot wrote on its stderr which says something, cleaned; "" when none. */
static void last_message(FILE *file, char message[MESSAGE])
{
    char line[MESSAGE];
    message[0] = '\0';
    rewind(file);
    while (fgets(line, sizeof line, file)) {
        if (line[strspn(line, " \t\r\n^")] != '\0')
            script_clean(line, MESSAGE / 4, message, MESSAGE);
    }
}

static enum status judge(int end, FILE *messages, const char *path, struct errors *errors)
{
    char message[MESSAGE];
    last_message(messages, message);
    if (WIFSIGNALED(end))
        return errors_add(errors, STATUS_FILE, path, 0, 0, "gnuplot was ended by signal %d: no picture",
                          WTERMSIG(end));
    if (!WIFEXITED(end) || WEXITSTATUS(end) != 0)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "gnuplot gave up: %s",
                          message[0] ? message : "it gave no reason");
    return STATUS_OK;
}

static enum status run(const char *program, struct streams *streams, const char *path, struct errors *errors)
{
    pid_t child;
    int end = 0, failed = start(program, streams, &child);
    if (failed)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "%s cannot be started: %s", program,
                          strerror(failed));
    int ended = wait_for(child, &end);
    if (is_interrupted())
        return errors_add(errors, STATUS_INTERRUPTED, path, 0, 0, "interrupted: no picture");
    if (!ended)
        return errors_add(errors, STATUS_FILE, path, 0, 0, "gnuplot did not end within %g s: no picture",
                          deadline);
    return judge(end, streams->messages, path, errors);
}

static int ends_in(const char *tail, size_t length, const char *end, size_t size)
{
    return length >= size && memcmp(tail + length - size, end, size) == 0;
}

/* Do the last bytes of a picture say that it is complete? */
static int is_complete(const char *tail, size_t length, enum picture_format format)
{
    static const char png[] = "IEND\xae\x42\x60\x82", svg[] = "</svg>", pdf[] = "%%EOF",
                      text[] = TEXT_END "\n";
    if (format == PICTURE_PNG)
        return ends_in(tail, length, png, sizeof png - 1);
    if (format == PICTURE_GIF)
        return ends_in(tail, length, "\0;", 2);
    if (format == PICTURE_TEXT)
        return ends_in(tail, length, text, sizeof text - 1);
    while (length > 0 && strchr(" \t\r\n\f", tail[length - 1]))
        length--;
    return format == PICTURE_SVG ? ends_in(tail, length, svg, sizeof svg - 1)
                                 : ends_in(tail, length, pdf, sizeof pdf - 1);
}

static enum status unreadable(const char *path, struct errors *errors)
{
    return errors_add(errors, STATUS_FILE, path, 0, 0, "the picture cannot be read back: %s",
                      strerror(errno));
}

/* gnuplot returns 0 on a full disk, so a picture counts only when its last bytes are there. */
static enum status check_complete(int file, enum picture_format format, const char *path,
                                  struct errors *errors)
{
    char tail[64];
    off_t size = lseek(file, 0, SEEK_END);
    size_t length = size < (off_t)sizeof tail ? (size_t)size : sizeof tail;
    if (size < 0 || pread(file, tail, length, size - (off_t)length) != (ssize_t)length)
        return unreadable(path, errors);
    if (is_complete(tail, length, format))
        return STATUS_OK;
    return errors_add(
        errors, STATUS_FILE, path, 0, 0,
        "gnuplot delivered no complete picture: is the disk full, or `gnuplot` another program?");
}

/* Takes the text that gnuplot wrote, without what stands behind it. */
static enum status text_take(FILE *file, char **text, struct errors *errors)
{
    off_t size = lseek(fileno(file), 0, SEEK_END) - (off_t)sizeof TEXT_END;
    char *taken = memory_zeroed((size_t)size + 1, 1);
    if (!taken)
        return errors_add(errors, STATUS_MEMORY, NULL, 0, 0, "out of memory");
    if (pread(fileno(file), taken, (size_t)size, 0) != (ssize_t)size) {
        enum status status = unreadable(NULL, errors);
        memory_free(taken);
        return status;
    }
    /* a text picture begins with a form feed, which nobody needs */
    for (char *at = taken; *at; at++)
        *at = *at == '\f' ? ' ' : *at;
    *text = taken;
    return STATUS_OK;
}

/* Draws into an open file, or into a text when `out` is negative. */
static enum status draw_into(const struct script *script, enum picture_format format, int out,
                             const char *path, char **text, struct errors *errors)
{
    char program[PROGRAM];
    struct streams streams;
    enum status status;
    if (!find_program(program))
        return errors_add(errors, STATUS_FILE, path, 0, 0,
                          "pictures are drawn by gnuplot, which is not in PATH (Debian: gnuplot-nox)");
    if (!streams_open(&streams, script, out))
        status =
            errors_add(errors, STATUS_FILE, path, 0, 0, "no temporary file for gnuplot: %s", strerror(errno));
    else
        status = run(program, &streams, path, errors);
    if (status == STATUS_OK)
        status = check_complete(streams.out, format, path, errors);
    if (status == STATUS_OK && streams.text)
        status = text_take(streams.text, text, errors);
    streams_close(&streams);
    return status;
}

enum status gnuplot_draw(const struct script *script, enum picture_format format, const char *path,
                         char **text, struct errors *errors)
{
    if (text)
        *text = NULL;
    if (script->failed)
        return errors_add(errors, STATUS_MEMORY, path, 0, 0, "out of memory");
    if (!path)
        return draw_into(script, format, -1, NULL, text, errors);
    struct save save;
    enum status status = save_begin(path, &save, errors);
    if (status == STATUS_OK)
        status = draw_into(script, format, save.descriptor, path, NULL, errors);
    if (status == STATUS_OK)
        return save_commit(&save, errors);
    save_abandon(&save);
    return status;
}
