#include "cases/explain.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/text.h"

enum { SHOWN = 60 };

/* --- lines -------------------------------------------------------------------------------------------------
 */

struct line {
    int number; /* from 1; 0: there is no such line */
    const char *text;
    size_t length, indent;
};

struct place {
    const char *content;
    size_t length;
    const struct trouble *trouble;
    struct explanation *explanation;
};

static int is_break(char c)
{
    return c == '\n' || c == '\r';
}

/* Line by number; lines end in LF, CR or CRLF, as in libyaml. */
static struct line line_at(const struct place *place, int number)
{
    const char *at = place->content, *end = place->content + place->length;
    for (int i = 1; i < number && at < end; at++) {
        if (*at == '\n' || (*at == '\r' && !(at + 1 < end && at[1] == '\n')))
            i++;
    }
    struct line line = {.number = number, .text = at};
    while (at + line.length < end && !is_break(at[line.length]))
        line.length++;
    while (line.indent < line.length && at[line.indent] == ' ')
        line.indent++;
    return line;
}

static int line_is_blank(const struct line *line)
{
    size_t i = line->indent;
    while (i < line->length && line->text[i] == '\t')
        i++;
    return i == line->length || line->text[i] == '#';
}

/* Last line with content before `number`; number 0 when there is none. */
static struct line line_before(const struct place *place, int number)
{
    for (int i = number - 1; i > 0; i--) {
        struct line line = line_at(place, i);
        if (!line_is_blank(&line))
            return line;
    }
    return (struct line){0};
}

/* Byte offset of a column, which counts characters from 1. */
static size_t column_offset(const struct line *line, int column)
{
    size_t offset = 0;
    for (int i = 1; i < column && offset < line->length; i++) {
        unsigned code;
        size_t step = text_decode(line->text + offset, line->length - offset, &code);
        offset += step ? step : 1;
    }
    return offset;
}

static int offset_column(const struct line *line, size_t offset)
{
    int column = 1;
    for (size_t i = 0; i < offset && i < line->length; i++)
        column += ((unsigned char)line->text[i] & 0xc0) != 0x80;
    return column;
}

/* Offset of the colon that ends the first key of a line, dashes skipped; `length` when there is none. */
static size_t key_end(const struct line *line)
{
    for (size_t i = line->indent; i < line->length; i++) {
        if (line->text[i] == ':' && (i + 1 == line->length || line->text[i + 1] == ' '))
            return i;
        if (line->text[i] == '#' && i > 0 && line->text[i - 1] == ' ')
            break;
    }
    return line->length;
}

/* Start of what stands after "key: " and spaces. */
static size_t value_start(const struct line *line)
{
    size_t i = key_end(line);
    if (i < line->length)
        i++;
    while (i < line->length && line->text[i] == ' ')
        i++;
    return i;
}

/* Start of the text after indentation and dashes. */
static size_t item_start(const struct line *line)
{
    size_t i = line->indent;
    while (i + 1 < line->length && line->text[i] == '-' && line->text[i + 1] == ' ') {
        i++;
        while (i < line->length && line->text[i] == ' ')
            i++;
    }
    return i;
}

static int starts_with_dash(const struct line *line)
{
    return line->indent < line->length && line->text[line->indent] == '-' &&
           (line->indent + 1 == line->length || line->text[line->indent + 1] == ' ');
}

/* Length of the text from `start` to the end of its line, without spaces at the end, cut for a message. */
static int shown(const struct line *line, size_t start)
{
    size_t end = line->length;
    while (end > start && line->text[end - 1] == ' ')
        end--;
    size_t length = end - start;
    if (length > SHOWN)
        for (length = SHOWN; length > 0 && ((unsigned char)line->text[start + length] & 0xc0) == 0x80;)
            length--;
    return (int)length;
}

static void say(const struct place *place, int line, int column, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static void say(const struct place *place, int line, int column, const char *format, ...)
{
    place->explanation->line = line;
    place->explanation->column = column;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(place->explanation->text, ERROR_TEXT, format, arguments);
    va_end(arguments);
}

static char character_at(const struct place *place, int number, int column)
{
    struct line line = line_at(place, number);
    size_t offset = column_offset(&line, column);
    return offset < line.length ? line.text[offset] : '\0';
}

/* --- slips that can hide behind several reports; each returns 1 when it explained --- */

size_t explain_glued_colon(const char *text, size_t length)
{
    size_t i = 0;
    if (length == 0 || !islower((unsigned char)text[0]))
        return 0;
    while (i < length &&
           (islower((unsigned char)text[i]) || isdigit((unsigned char)text[i]) || text[i] == '_'))
        i++;
    if (i + 1 >= length || text[i] != ':' || strchr(" /\\:", text[i + 1]))
        return 0;
    return i + 1;
}

static int say_glued_colon(const struct place *place, const struct line *line)
{
    if (line->number == 0)
        return 0;
    size_t start = item_start(line);
    size_t colon = explain_glued_colon(line->text + start, line->length - start);
    if (colon == 0)
        return 0;
    size_t after = start + colon;
    say(place, line->number, offset_column(line, after - 1),
        "a space is missing after the colon: write %.*s %.*s", (int)colon, line->text + start,
        shown(line, after), line->text + after);
    return 1;
}

static int say_glued_dash(const struct place *place, const struct line *line)
{
    if (line->number == 0 || line->indent + 1 >= line->length || line->text[line->indent] != '-')
        return 0;
    char next = line->text[line->indent + 1];
    if (!isalpha((unsigned char)next) && !strchr("{[\"'", next))
        return 0;
    say(place, line->number, offset_column(line, line->indent),
        "a space is missing after the dash: write - %.*s", shown(line, line->indent + 1),
        line->text + line->indent + 1);
    return 1;
}

static int say_tab(const struct place *place, const struct line *line)
{
    size_t i = line->indent;
    while (i < line->length && line->text[i] == ' ')
        i++;
    if (line->number == 0 || i == line->length || line->text[i] != '\t')
        return 0;
    say(place, line->number, offset_column(line, i), "a tab cannot indent: use spaces");
    return 1;
}

static int say_slip(const struct place *place, const struct line *line)
{
    return say_tab(place, line) || say_glued_colon(place, line) || say_glued_dash(place, line);
}

/* A slip in the line of the report, in that of its context or in the one before. */
static int say_near_slip(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->line);
    struct line context = {0}, before = line_before(place, trouble->line);
    if (trouble->context_line > 0)
        context = line_at(place, trouble->context_line);
    return say_slip(place, &here) || say_slip(place, &context) || say_slip(place, &before);
}

static void say_quote(const struct place *place, const struct line *line, size_t start, const char *why)
{
    say(place, line->number, offset_column(line, start), "%s must be quoted: write \"%.*s\"", why,
        shown(line, start), line->text + start);
}

/* --- one function for each kind of report --- */

/* A colon with a space where no key can be: within a text, or in a line that is indented below a value. */
static void explain_colon(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->line), before = line_before(place, trouble->line);
    size_t colon = column_offset(&here, trouble->column);
    if (key_end(&here) < colon && here.text[value_start(&here)] != '"')
        say_quote(place, &here, value_start(&here), "a text with a colon and a space");
    else if (before.number && starts_with_dash(&before) && here.indent == before.indent)
        say(place, here.number, offset_column(&here, here.indent),
            "a dash is missing: every item of the list starts with one, as line %d does", before.number);
    else if (before.number && value_start(&before) < before.length && here.indent > before.indent)
        say(place, here.number, offset_column(&here, here.indent),
            "this line is indented below line %d, which already has a value: give both the same indentation",
            before.number);
    else
        say(place, here.number, trouble->column, "no key can stand here: one line holds one \"key: value\"");
}

/* A line that should be "key: value" and has no colon. */
static void explain_no_colon(const struct place *place)
{
    struct line here = line_at(place, place->trouble->context_line);
    struct line before = line_before(place, here.number);
    int column = place->trouble->context_column;
    if (before.number && starts_with_dash(&before) && here.indent == before.indent)
        say(place, here.number, column, "a dash is missing: write - %.*s", shown(&here, here.indent),
            here.text + here.indent);
    else
        say(place, here.number, column,
            "a colon is missing: a line is \"key: value\" or, in a list, \"- item\"");
}

/* A character that starts no value. */
static void explain_character(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->line);
    size_t start = column_offset(&here, trouble->column);
    char why[48];
    if (start >= here.length || here.text[start] == '\t') {
        say(place, here.number, trouble->column, "a tab cannot stand here: use spaces");
        return;
    }
    snprintf(why, sizeof why, "a text that starts with %c", here.text[start]);
    say_quote(place, &here, start, why);
}

static void explain_block_scalar(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->context_line);
    size_t start = column_offset(&here, trouble->context_column);
    char why[48];
    snprintf(why, sizeof why, "a text that starts with %c", start < here.length ? here.text[start] : '|');
    say_quote(place, &here, start, why);
}

static void explain_no_dash(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    char found = character_at(place, trouble->line, trouble->column);
    if (found == ',')
        say(place, trouble->line, trouble->column, "this comma is one too many");
    else if (found == ']' || found == '}')
        say(place, trouble->line, trouble->column, "this %c closes nothing", found);
    else
        say(place, trouble->line, trouble->column,
            "a dash is missing: every item of the list that starts in line %d starts with \"- \" in column "
            "%d",
            trouble->context_line, trouble->context_column);
}

/* Something after a complete value in its line. */
static void explain_rest_of_line(const struct place *place, const struct line *here)
{
    const struct trouble *trouble = place->trouble;
    size_t start = value_start(here);
    if (start < here->length && (here->text[start] == '"' || here->text[start] == '\''))
        say(place, here->number, trouble->column,
            "text goes on after the closing quote: put all of it between the quotes");
    else
        say(place, here->number, trouble->column,
            "nothing can follow the closing bracket: start a new line, or quote the whole if it is text");
}

static void explain_no_key(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->line);
    size_t offset = column_offset(&here, trouble->column);
    char found = offset < here.length ? here.text[offset] : '\0';
    if (found == ',')
        say(place, here.number, trouble->column, "this comma is one too many");
    else if (found == ']' || found == '}')
        say(place, here.number, trouble->column, "this %c closes nothing", found);
    else if (found == ':')
        say(place, here.number, trouble->column, "a key is missing before the colon");
    else if (offset > here.indent)
        explain_rest_of_line(place, &here);
    else if (starts_with_dash(&here))
        say(place, here.number, trouble->column,
            "a list item stands where a key is wanted: it needs a key above it, without a value of its own");
    else
        say(place, here.number, trouble->column,
            "the indentation fits no line above: this block starts in column %d (line %d), here column %d",
            trouble->context_column, trouble->context_line, trouble->column);
}

/* A list or mapping in brackets that does not go on as it should. */
static void explain_flow(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    char open = character_at(place, trouble->context_line, trouble->context_column);
    char found = character_at(place, trouble->line, trouble->column);
    struct line here = line_at(place, trouble->line), first = line_at(place, trouble->context_line);
    int new_block = here.number > first.number && here.indent <= first.indent && key_end(&here) < here.length;
    if (found == ']' || found == '}')
        say(place, trouble->line, trouble->column, "this %c does not match the %c of line %d, column %d",
            found, open, trouble->context_line, trouble->context_column);
    else if (found == '\0' || new_block)
        say(place, trouble->context_line, trouble->context_column, "this %c is not closed", open);
    else
        say(place, trouble->line, trouble->column,
            "a comma is missing before this, or the %c of line %d, column %d is not closed", open,
            trouble->context_line, trouble->context_column);
}

static void explain_no_content(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->line);
    size_t offset = column_offset(&here, trouble->column);
    char found = offset < here.length ? here.text[offset] : '\0';
    int in_flow = trouble->context && strstr(trouble->context, "flow");
    if (found == '\0' && trouble->open_line > 0)
        say(place, trouble->open_line, trouble->open_column, "this %c is not closed",
            character_at(place, trouble->open_line, trouble->open_column));
    else if (found == ',' && in_flow)
        say(place, here.number, trouble->column, "nothing stands before this comma");
    else if (found == ',')
        say_quote(place, &here, offset, "a text that starts with ,");
    else if (found == ']' || found == '}')
        say(place, here.number, trouble->column, "this %c closes nothing", found);
    else if (found == ':')
        say(place, here.number, trouble->column, "a key is missing before the colon");
    else
        say(place, here.number, trouble->column, "a value is missing here");
}

static void explain_list_in_line(const struct place *place)
{
    say(place, place->trouble->line, place->trouble->column,
        "a list cannot start behind a key: start it on its own line, or write it as [a, b]; quote it if it "
        "is "
        "text");
}

static void explain_question(const struct place *place)
{
    struct line here = line_at(place, place->trouble->line);
    say_quote(place, &here, column_offset(&here, place->trouble->column), "a text that starts with ?");
}

static void explain_open_quote(const struct place *place)
{
    say(place, place->trouble->context_line, place->trouble->context_column, "this quote is not closed");
}

static void explain_escape(const struct place *place)
{
    say(place, place->trouble->line, place->trouble->column,
        "unknown escape: within \"\" a backslash is written \\\\; within '' it stands for itself");
}

static void explain_tab(const struct place *place)
{
    say(place, place->trouble->line, place->trouble->column, "a tab cannot indent: use spaces");
}

static void explain_special(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    struct line here = line_at(place, trouble->context_line ? trouble->context_line : trouble->line);
    size_t start = column_offset(&here, trouble->context_line ? trouble->context_column : trouble->column);
    char why[48];
    snprintf(why, sizeof why, "a text that starts with %c", start < here.length ? here.text[start] : '!');
    say_quote(place, &here, start, why);
}

static void explain_directive(const struct place *place)
{
    say(place, place->trouble->context_line ? place->trouble->context_line : place->trouble->line, 1,
        "a line that starts with %% is not read: remove it");
}

static void explain_after_end(const struct place *place)
{
    const struct trouble *trouble = place->trouble;
    char found = character_at(place, trouble->line, trouble->column);
    if (found == ']' || found == '}')
        say(place, trouble->line, trouble->column, "this %c closes nothing", found);
    else
        say(place, trouble->line, trouble->column, "nothing can follow here: the file holds one mapping");
}

/* Part of libyaml's context or problem, and who explains it; the first that fits. `slips`: first look for the
 * slips above, which cause such a report one line later. */
static const struct {
    const char *context, *problem;
    int slips;
    void (*explain)(const struct place *place);
} reports[] = {
    {"directive", "", 0, explain_directive},
    {"tag", "", 0, explain_special},
    {"anchor", "", 0, explain_special},
    {"alias", "", 0, explain_special},
    {"", "undefined tag handle", 0, explain_special},
    {"", "mapping values are not allowed", 1, explain_colon},
    {"", "could not find expected ':'", 1, explain_no_colon},
    {"", "cannot start any token", 0, explain_character},
    {"", "a tab character", 0, explain_tab},
    {"block scalar", "", 0, explain_block_scalar},
    {"", "'-' indicator", 1, explain_no_dash},
    {"", "expected key", 1, explain_no_key},
    {"flow", "did not find expected ','", 0, explain_flow},
    {"", "node content", 0, explain_no_content},
    {"", "block sequence entries", 0, explain_list_in_line},
    {"", "mapping keys", 0, explain_question},
    {"", "escape", 0, explain_escape},
    {"", "hexdecimal", 0, explain_escape},
    {"quoted scalar", "", 0, explain_open_quote},
    {"", "<document start>", 1, explain_after_end},
};

static int has(const char *text, const char *part)
{
    return *part == '\0' || (text && strstr(text, part));
}

void explain_trouble(const char *content, size_t length, const struct trouble *trouble,
                     struct explanation *explanation)
{
    struct place place = {content, length, trouble, explanation};
    *explanation = (struct explanation){0};
    for (size_t i = 0; i < sizeof reports / sizeof *reports; i++) {
        if (!has(trouble->context, reports[i].context) || !has(trouble->problem, reports[i].problem))
            continue;
        if (!reports[i].slips || !say_near_slip(&place))
            reports[i].explain(&place);
        return;
    }
    say(&place, trouble->line, trouble->column,
        "this cannot be read: a line is \"key: value\" or, in a list, \"- item\"");
}
