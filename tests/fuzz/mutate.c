#include "tests/fuzz/mutate.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Puts `with` in the place of `length` bytes at `at`; what does not fit is cut. */
static void replace(struct content *content, size_t at, size_t length, const void *with, size_t count)
{
    size_t tail = content->size - at - length;
    count = count > content->room - at ? content->room - at : count;
    tail = tail > content->room - at - count ? content->room - at - count : tail;
    memmove(content->bytes + at + count, content->bytes + at + length, tail);
    memcpy(content->bytes + at, with, count);
    content->size = at + count + tail;
}

/* --- bytes --- */

enum { PIECE = 64 };

static void overwrite(struct random *random, struct content *content, size_t at)
{
    static const unsigned char odd[] = {0x00, 0xff, 0x7f, 0x80, '\n', ' ', '0',
                                        '-',  '"',  ':',  ',',  ';',  0xc3};
    content->bytes[at] =
        random_one_in(random, 2) ? odd[random_below(random, sizeof odd)] : (unsigned char)random_next(random);
}

void mutate_bytes(struct random *random, struct content *content, const struct content *other)
{
    unsigned char piece[PIECE];
    size_t at = random_below(random, content->size), left = content->size - at;
    size_t length = random_below(random, left < PIECE ? left : PIECE) + (left > 0);
    size_t from = random_below(random, content->size - length + 1);
    switch (left ? random_below(random, 7) : 5) {
    case 0:
        content->bytes[at] ^= (unsigned char)(1u << random_below(random, 8));
        break;
    case 1:
        overwrite(random, content, at);
        break;
    case 2:
        replace(content, at, length, "", 0);
        break;
    case 3:
        memcpy(piece, content->bytes + from, length);
        replace(content, at, 0, piece, length);
        break;
    case 4:
        memmove(content->bytes + at, content->bytes + from, length);
        break;
    case 5:
        if (other && other->size > 0) {
            from = random_below(random, other->size);
            length = random_below(random, other->size - from < PIECE ? other->size - from : PIECE) + 1;
            length = length > other->size - from ? other->size - from : length;
            memcpy(piece, other->bytes + from, length);
            replace(content, at, 0, piece, length);
        }
        break;
    default:
        content->size = random_one_in(random, 8) ? at : content->size;
    }
}

/* --- text --- */

static size_t line_count(const struct content *content)
{
    size_t count = 0;
    for (size_t i = 0; i < content->size; i++)
        count += content->bytes[i] == '\n';
    return count + (content->size > 0 && content->bytes[content->size - 1] != '\n');
}

/* Place of line `number` from 0; its length with the line break. */
static size_t line_at(const struct content *content, size_t number, size_t *length)
{
    size_t at = 0;
    for (; number > 0; number--) {
        const unsigned char *end = memchr(content->bytes + at, '\n', content->size - at);
        at = end ? (size_t)(end - content->bytes) + 1 : content->size;
    }
    const unsigned char *end =
        at < content->size ? memchr(content->bytes + at, '\n', content->size - at) : NULL;
    *length = end ? (size_t)(end - content->bytes) + 1 - at : content->size - at;
    return at;
}

enum { LINE = 512 };

/* Takes a line out, or copies it, and puts it at the place of another. */
static void move_line(struct random *random, struct content *content, int keep)
{
    unsigned char text[LINE];
    size_t length, other_length;
    size_t at = line_at(content, random_below(random, line_count(content)), &length);
    length = length < LINE ? length : LINE;
    memcpy(text, content->bytes + at, length);
    if (!keep)
        replace(content, at, length, "", 0);
    size_t to = line_at(content, random_below(random, line_count(content)), &other_length);
    replace(content, to, 0, text, length);
}

static void delete_line(struct random *random, struct content *content)
{
    size_t length;
    size_t at = line_at(content, random_below(random, line_count(content)), &length);
    replace(content, at, length, "", 0);
}

static void indent_line(struct random *random, struct content *content)
{
    size_t length;
    size_t at = line_at(content, random_below(random, line_count(content)), &length);
    if (length > 0 && content->bytes[at] == ' ' && random_one_in(random, 2))
        replace(content, at, 1, "", 0);
    else
        replace(content, at, 0, random_one_in(random, 8) ? "\t" : "  ", random_below(random, 2) + 1);
}

static int is_number(int c)
{
    return isdigit(c) || c == '.';
}

static int is_word(int c)
{
    return isalpha(c) || c == '_' || c == '/' || c == '%';
}

/* A run of characters of a kind, found from a random place on; its length, 0 when there is none. */
static size_t find_run(struct random *random, const struct content *content, int (*kind)(int), size_t *at)
{
    size_t i = random_below(random, content->size), end;
    while (i < content->size && !kind(content->bytes[i]))
        i++;
    while (i > 0 && i < content->size && kind(content->bytes[i - 1]))
        i--;
    for (end = i; end < content->size && kind(content->bytes[end]);)
        end++;
    *at = i;
    return end - i;
}

static void change_number(struct random *random, struct content *content)
{
    static const char *const odd[] = {"0",      "-1",     "1e308", "nan", "inf",  "0x10",
                                      "1_000",  "1e-308", "45,5",  "",    "-0.0", "1e9",
                                      "999999", ".5",     "5.",    "1e3", "+7",   "1e400"};
    char text[64];
    size_t at, length = find_run(random, content, is_number, &at);
    if (length == 0 || length >= sizeof text)
        return;
    memcpy(text, content->bytes + at, length);
    text[length] = '\0';
    double factor =
        random_one_in(random, 2) ? random_between(random, 0.3, 3) : random_between(random, -20, 20);
    if (random_one_in(random, 3))
        snprintf(text, sizeof text, "%s", odd[random_below(random, sizeof odd / sizeof *odd)]);
    else
        snprintf(text, sizeof text, "%.4g", strtod(text, NULL) * factor);
    replace(content, at, length, text, strlen(text));
}

static void change_word(struct random *random, struct content *content)
{
    static const char *const words[] = {
        "mm",    "cm",      "m",       "kg",   "g",        "g/l",   "kg/m3",  "deg",  "rad",   "m/s",
        "km/h",  "kPa",     "MPa",     "J",    "N",        "%",     "s",      "ms",   "degC",  "K",
        "in",    "psi",     "furlong", "",     "eps",      "epp",   "abs",    "flat", "true",  "false",
        "P",     "B",       "J",       "open", "layers",   "speed", "crown",  "name", "~",     "null",
        "hits",  "include", "drop",    "pad",  "headform", "liner", "energy", "at",   "voids", "foam",
        "shell", "'",       "\"",      "#",    "*",        "&a",    "!x",     "<<",   "- -",   "{a: b}"};
    size_t at, length = find_run(random, content, is_word, &at);
    const char *word = words[random_below(random, sizeof words / sizeof *words)];
    if (length == 0)
        return;
    if (random_one_in(random, 3)) { /* a slip in the word itself */
        unsigned char *letter = content->bytes + at + random_below(random, length);
        *letter = (unsigned char)('a' + random_below(random, 26));
        return;
    }
    replace(content, at, length, word, strlen(word));
}

static void change_character(struct random *random, struct content *content)
{
    static const char *const others[] = {":", ",",  "[", "]",  "{",        "}",
                                         "-", "\"", " ", "\n", "\xc2\xa0", "\xe2\x88\x92"};
    const char *other = others[random_below(random, sizeof others / sizeof *others)];
    size_t at = random_below(random, content->size);
    replace(content, at, random_below(random, 2), other, random_one_in(random, 3) ? 0 : strlen(other));
}

const char *mutate_text(struct random *random, struct content *content)
{
    if (content->size == 0)
        return "nothing left";
    switch (random_below(random, 12)) {
    case 0:
        delete_line(random, content);
        return "line deleted";
    case 1:
        move_line(random, content, 1);
        return "line repeated";
    case 2:
        move_line(random, content, 0);
        return "line moved";
    case 3:
        indent_line(random, content);
        return "indentation";
    case 4:
    case 5:
    case 6:
        change_number(random, content);
        return "number";
    case 7:
    case 8:
        change_word(random, content);
        return "word";
    case 9:
        change_character(random, content);
        return "character";
    case 10:
        content->size = random_below(random, content->size);
        return "cut";
    default:
        content->bytes[random_below(random, content->size)] ^= (unsigned char)(1u << random_below(random, 8));
        return "bit";
    }
}
