#include "solver/cli/options.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/units.h"

enum kind { KIND_FLAG, KIND_TEXT, KIND_WORDS, KIND_COUNT, KIND_NUMBER, KIND_LIST };

/* `at` is the place of the value in struct options; `choices`, parted by |, are the only values allowed; a
 * KIND_WORDS takes several of them, parted by commas. */
static const struct row {
    enum kind kind;
    size_t at;
    char letter;
    const char *name, *argument, *choices, *meaning;
} table[OPTION_COUNT] = {
#define AT(field) offsetof(struct options, field)
    [OPTION_OUTPUT] = {KIND_TEXT, AT(output), 'o', "output", "PATH", NULL,
                       "file to write, or folder to write into (ends in /)"},
    [OPTION_SET] = {KIND_LIST, AT(sets), 's', "set", "PATH=VALUE", NULL,
                    "set a value of the case, e.g. liner.density='45 g/l'; may be repeated"},
    [OPTION_JOBS] = {KIND_COUNT, AT(jobs), 'j', "jobs", "N", NULL,
                     "number of threads; as many as processors when not given"},
    [OPTION_MODEL] = {KIND_WORDS, AT(model), 0, "model", "NAME,...", "columns|axisymmetric",
                      "model of a helmet: columns or axisymmetric; both, to compare them"},
    [OPTION_JSON] = {KIND_FLAG, AT(json), 0, "json", NULL, NULL, "one JSON object on standard output"},
    [OPTION_CSV] = {KIND_FLAG, AT(csv), 0, "csv", NULL, NULL, "comma-separated values"},
    [OPTION_ALL] = {KIND_FLAG, AT(all), 0, "all", NULL, NULL, "every row, not only the eight worst"},
    [OPTION_PICTURE] = {KIND_TEXT, AT(picture), 0, "picture", "NAME,...", NULL,
                        "pictures to draw, e.g. pulse,margins; of a sweep e.g. curves,map"},
    [OPTION_FORMAT] = {KIND_TEXT, AT(format), 0, "format", "NAME", "png|svg|pdf|gif|text",
                       "format of pictures: png, svg, pdf, gif (cross-sections move) or text"},
    [OPTION_AT] = {KIND_LIST, AT(ats), 0, "at", "TIME,...|PATH=VALUE", NULL,
                   "plot: times of the cross-section, e.g. '2 ms,peak,6 ms'; peak when not given\n"
                   "                               rank: a value of the layout to predict; may be repeated"},
    [OPTION_FIELD] = {KIND_TEXT, AT(field), 0, "field", "NAME", "strain|density|stress",
                      "what colours the cross-section: strain, density or stress"},
    [OPTION_FACTORS] = {KIND_TEXT, AT(factors), 0, "factors", "PATH,...", NULL,
                        "factors that pictures of a sweep show; the first ones when not given"},
    [OPTION_LIMITS] = {KIND_TEXT, AT(limits), 0, "limits", "LIMITS", NULL,
                       "limits to judge by: peak_g=275,hic=2400, or a case that sets some"},
    [OPTION_FACTOR] = {KIND_NUMBER, AT(factor), 0, "factor", "K", NULL,
                       "judge mean + K standard deviations of several pulses"},
    [OPTION_SHARE] = {KIND_TEXT, AT(share), 0, "share", "K/N", NULL,
                      "solve the K-th of N shares of the layouts; merge puts them together"},
    [OPTION_MAX_POINTS] = {KIND_COUNT, AT(max_points), 0, "max-points", "N", NULL,
                           "largest number of layouts; 100000 when not given"},
    [OPTION_POINT] = {KIND_COUNT, AT(point), 0, "point", "N", NULL, "one layout of a sweep in full"},
    [OPTION_FORCE] = {KIND_FLAG, AT(force), 'f', "force", NULL, NULL,
                      "replace a file that is there (run: its own without asking)"},
    [OPTION_GATE] = {KIND_FLAG, AT(gate), 0, "gate", NULL, NULL,
                     "exit with 7 when a limit is exceeded or cannot be judged"},
    [OPTION_QUIET] = {KIND_FLAG, AT(quiet), 'q', "quiet", NULL, NULL, "results and errors only"},
    [OPTION_VERBOSE] = {KIND_FLAG, AT(verbose), 'v', "verbose", NULL, NULL,
                        "also list what is assumed, and steps, time and energy balance"},
    [OPTION_NO_COLOR] = {KIND_FLAG, AT(no_color), 0, "no-color", NULL, NULL, "no colours"},
    [OPTION_HELP] = {KIND_FLAG, AT(help), 'h', "help", NULL, NULL, "this help"},
    [OPTION_VERSION] = {KIND_FLAG, AT(version), 0, "version", NULL, NULL, "version of the program"},
#undef AT
};

static enum status wrong(struct errors *errors, const char *format, const char *a, const char *b)
{
    char text[ERROR_TEXT];
    snprintf(text, sizeof text, format, a, b);
    return errors_add(errors, STATUS_USAGE, NULL, 0, 0, "%s", text);
}

enum { WORD = 64 };

/* Names of the options in a set into `names`; their count. */
static size_t names_of(unsigned long set, const char *names[OPTION_COUNT])
{
    size_t count = 0;
    for (int i = 0; i < OPTION_COUNT; i++) {
        if (set & OPTION_BIT(i))
            names[count++] = table[i].name;
    }
    return count;
}

static int allowed_choice(const char *choices, const char *value, size_t length)
{
    for (const char *at = choices; *at; at += *at == '|') {
        size_t part = strcspn(at, "|");
        if (part == length && strncmp(at, value, length) == 0)
            return 1;
        at += part;
    }
    return 0;
}

static enum status store_count(const struct row *row, const char *value, int *place, struct errors *errors)
{
    char *end = NULL;
    long number = strtol(value, &end, 10);
    if (strspn(value, "0123456789") != strlen(value) || number < 1 || number > INT_MAX)
        return wrong(errors, "--%s takes a whole number from 1, not '%s'", row->name, value);
    *place = (int)number;
    return STATUS_OK;
}

static enum status store_number(const struct row *row, const char *value, double *place,
                                struct errors *errors)
{
    char *end = NULL;
    double number = strtod(value, &end);
    if (strspn(value, "0123456789+-.eE") != strlen(value) || *end || !isfinite(number))
        return wrong(errors, "--%s takes a decimal number, not '%s'", row->name, value);
    *place = number;
    return STATUS_OK;
}

static enum status store_text(const struct row *row, const char *value, const char **place,
                              struct errors *errors)
{
    int allowed =
        !row->choices || row->kind == KIND_WORDS || allowed_choice(row->choices, value, strlen(value));
    for (const char *at = value; row->kind == KIND_WORDS && at;) {
        size_t length = strcspn(at, ",");
        allowed = allowed && allowed_choice(row->choices, at, length);
        at = at[length] ? at + length + 1 : NULL;
    }
    if (!allowed) {
        char place_of[WORD];
        snprintf(place_of, sizeof place_of, "%s takes %s", row->name, row->choices);
        return wrong(errors, "--%s, not '%s'", place_of, value);
    }
    *place = value;
    return STATUS_OK;
}

/* Stores the value of an option that takes one. */
static enum status store(struct options *options, enum option option, const char *value,
                         struct errors *errors)
{
    const struct row *row = &table[option];
    void *place = (char *)options + row->at;
    if (*value == '\0')
        return wrong(errors, "--%s needs a value: %s", row->name, row->argument);
    if (row->kind == KIND_LIST) {
        size_t *count = option == OPTION_AT ? &options->at_count : &options->set_count;
        (*(const char ***)place)[(*count)++] = value;
        return STATUS_OK;
    }
    if (options->given & OPTION_BIT(option))
        return wrong(errors, "--%s is given twice; the second is '%s'", row->name, value);
    if (row->kind == KIND_COUNT)
        return store_count(row, value, place, errors);
    if (row->kind == KIND_NUMBER)
        return store_number(row, value, place, errors);
    return store_text(row, value, place, errors);
}

/* The rest of the command line while it is read. */
struct reader {
    int argc, at;
    char **argv;
    struct options *options;
    struct errors *errors;
};

/* Takes one known option; `value` is what stood in the same word (NULL: nothing). */
static enum status take(struct reader *reader, enum option option, const char *value)
{
    const struct row *row = &table[option];
    enum status status = STATUS_OK;
    if (row->kind == KIND_FLAG) {
        if (value)
            return wrong(reader->errors, "--%s takes no value, but '%s' is given", row->name, value);
        *(int *)((char *)reader->options + row->at) = 1;
    } else {
        if (!value && reader->at < reader->argc)
            value = reader->argv[reader->at++];
        status = store(reader->options, option, value ? value : "", reader->errors);
    }
    reader->options->given |= OPTION_BIT(option);
    return status;
}

static enum status take_long(struct reader *reader, const char *word)
{
    size_t length = strcspn(word, "=");
    const char *value = word[length] == '=' ? word + length + 1 : NULL;
    for (int i = 0; i < OPTION_COUNT; i++) {
        if (strlen(table[i].name) == length && strncmp(table[i].name, word, length) == 0)
            return take(reader, i, value);
    }
    char name[WORD];
    const char *names[OPTION_COUNT];
    snprintf(name, sizeof name, "%.*s", (int)(length < WORD ? length : WORD - 1), word);
    const char *nearest = units_nearest(name, names, names_of(OPTION_BIT(OPTION_COUNT) - 1, names));
    if (nearest)
        return wrong(reader->errors, "unknown option '--%s'; did you mean --%s?", name, nearest);
    return wrong(reader->errors, "unknown option '--%s'; --help lists the options%s", name, "");
}

/* A word of letters: "-qv", "-j4", "-o FILE". */
static enum status take_letters(struct reader *reader, const char *word)
{
    for (const char *letter = word; *letter; letter++) {
        int option = 0;
        while (option < OPTION_COUNT && table[option].letter != *letter)
            option++;
        if (option == OPTION_COUNT) {
            const char text[] = {*letter, '\0'};
            return wrong(reader->errors, "unknown option '-%s' in '-%s'; --help lists the options", text,
                         word);
        }
        if (table[option].kind != KIND_FLAG)
            return take(reader, option, letter[1] ? letter + 1 : NULL);
        take(reader, option, NULL);
    }
    return STATUS_OK;
}

static void take_operand(struct options *options, const char *word)
{
    if (options->command)
        options->operands[options->operand_count++] = word;
    else
        options->command = word;
}

enum status options_read(int argc, char **argv, struct options *options, struct errors *errors)
{
    *options = (struct options){.factor = NAN};
    options->operands = memory_zeroed((size_t)argc + 1, sizeof *options->operands);
    options->sets = memory_zeroed((size_t)argc + 1, sizeof *options->sets);
    options->ats = memory_zeroed((size_t)argc + 1, sizeof *options->ats);
    if (!options->operands || !options->sets || !options->ats)
        return STATUS_MEMORY;
    struct reader reader = {argc, 1, argv, options, errors};
    enum status status = STATUS_OK;
    int ended = 0;
    while (reader.at < argc) {
        const char *word = argv[reader.at++];
        if (ended || word[0] != '-' || word[1] == '\0')
            take_operand(options, word);
        else if (strcmp(word, "--") == 0)
            ended = 1;
        else if (word[1] == '-')
            status = status_worse(status, take_long(&reader, word + 2));
        else
            status = status_worse(status, take_letters(&reader, word + 1));
    }
    return status;
}

enum status options_check(const struct options *options, const char *command, unsigned long allowed,
                          struct errors *errors)
{
    enum status status = STATUS_OK;
    const char *names[OPTION_COUNT];
    size_t count = names_of(allowed | OPTIONS_EVERYWHERE, names);
    for (int i = 0; i < OPTION_COUNT; i++) {
        if (!(options->given & OPTION_BIT(i) & ~(allowed | OPTIONS_EVERYWHERE)))
            continue;
        const char *nearest = units_nearest(table[i].name, names, count);
        char hint[WORD];
        snprintf(hint, sizeof hint, nearest ? "did you mean --%s?" : "foampulse %s --help lists its options",
                 nearest ? nearest : command);
        status = errors_add(errors, STATUS_USAGE, NULL, 0, 0, "--%s means nothing for '%s'; %s",
                            table[i].name, command, hint);
    }
    return status;
}

void options_free(struct options *options)
{
    memory_free(options->operands);
    memory_free(options->sets);
    memory_free(options->ats);
    *options = (struct options){.factor = NAN};
}

void options_usage(enum option option, char *text, size_t size)
{
    const struct row *row = &table[option];
    const char letter[] = {'-', row->letter, ',', ' ', '\0'};
    snprintf(text, size, "%s--%s%s%s", row->letter ? letter : "    ", row->name, row->argument ? " " : "",
             row->argument ? row->argument : "");
}

const char *options_meaning(enum option option)
{
    return table[option].meaning;
}
