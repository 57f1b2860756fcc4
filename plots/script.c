#include "plots/script.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"

static int script_room(struct script *script, size_t more)
{
    size_t need = script->length + more + 1;
    if (script->failed)
        return 0;
    if (need <= script->room)
        return 1;
    size_t room = need > 2 * script->room ? need + 4096 : 2 * script->room;
    char *longer = memory_resized(script->text, script->room, room, 1);
    script->failed = longer == NULL;
    if (longer) {
        script->text = longer;
        script->room = room;
    }
    return longer != NULL;
}

void script_add(struct script *script, const char *format, ...)
{
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    int length = vsnprintf(NULL, 0, format, again);
    va_end(again);
    if (length >= 0 && script_room(script, (size_t)length)) {
        vsnprintf(script->text + script->length, (size_t)length + 1, format, arguments);
        script->length += (size_t)length;
    }
    va_end(arguments);
}

/* Reads one character of UTF-8; returns its bytes, 0 where there is none. Overlong forms, surrogates and
 * values past U+10FFFF are none. */
static size_t character(const char *text, unsigned *code)
{
    const unsigned char *byte = (const unsigned char *)text;
    static const unsigned least[] = {0, 0, 0x80, 0x800, 0x10000};
    size_t length = byte[0] < 0x80       ? 1
                    : byte[0] >> 5 == 6  ? 2
                    : byte[0] >> 4 == 14 ? 3
                    : byte[0] >> 3 == 30 ? 4
                                         : 0;
    if (length == 0)
        return 0;
    *code = length == 1 ? byte[0] : byte[0] & (0xffu >> (length + 1));
    for (size_t i = 1; i < length; i++) {
        if (byte[i] >> 6 != 2)
            return 0;
        *code = *code << 6 | (byte[i] & 0x3f);
    }
    return *code < least[length] || *code > 0x10ffff || (*code >= 0xd800 && *code < 0xe000) ? 0 : length;
}

/* Characters that would end a line, move what stands beside them, or cannot be seen. */
static int is_unsafe(unsigned code)
{
    return code < 0x20 || (code >= 0x7f && code < 0xa0) || code == 0x61c ||
           (code >= 0x200b && code <= 0x200f) || (code >= 0x2028 && code <= 0x202e) ||
           (code >= 0x2060 && code <= 0x206f) || code == 0xfeff || (code & 0xfffe) == 0xfffe ||
           (code >= 0xe0000 && code < 0xe1000);
}

void script_clean(const char *text, size_t most, char *out, size_t size)
{
    size_t at = 0, count = 0;
    most = most < SCRIPT_TEXT ? most : SCRIPT_TEXT;
    while (*text && at + 8 < size) {
        unsigned code = 0;
        size_t length = character(text, &code);
        if (count == most) {
            memcpy(out + at, "\xe2\x80\xa6", 3); /* ellipsis */
            at += 3;
            break;
        }
        if (length == 0 || is_unsafe(code)) {
            out[at++] = ' ';
        } else if (code == '\'') {
            memcpy(out + at, "\xe2\x80\x99", 3); /* right single quotation mark */
            at += 3;
        } else {
            /* `]]>` would end the CDATA in which svg output carries titles. */
            if (code == '>' && at >= 2 && out[at - 1] == ']' && out[at - 2] == ']')
                out[at++] = ' ';
            memcpy(out + at, text, length);
            at += length;
        }
        text += length ? length : 1;
        count++;
    }
    out[at] = '\0';
}

void script_text(struct script *script, const char *text, size_t most)
{
    char clean[4 * SCRIPT_TEXT + 16];
    script_clean(text, most, clean, sizeof clean);
    script_add(script, "'%s'", clean);
}

void script_tic(struct script *script, const char *text, size_t most)
{
    char clean[4 * SCRIPT_TEXT + 16], twice[2 * sizeof clean];
    script_clean(text, most, clean, sizeof clean);
    size_t at = 0;
    for (const char *from = clean; *from; from++) {
        if (*from == '%')
            twice[at++] = '%';
        twice[at++] = *from;
    }
    twice[at] = '\0';
    script_add(script, "'%s'", twice);
}

static void point_add(struct script *script, double x, double y)
{
    if (isfinite(x) && isfinite(y))
        script_add(script, "%.7g %.7g\n", x, y);
    else
        script_add(script, "%s NaN\n", "NaN");
}

/* The two points of a piece with the least and the largest y, in their order. */
static void piece_add(struct script *script, const double *x, const double *y, size_t from, size_t to)
{
    size_t least = from, largest = from;
    for (size_t i = from; i < to; i++) {
        least = y[i] < y[least] ? i : least;
        largest = y[i] > y[largest] ? i : largest;
    }
    size_t first = least < largest ? least : largest, last = least < largest ? largest : least;
    point_add(script, x[first], y[first]);
    if (last != first)
        point_add(script, x[last], y[last]);
}

void script_block(struct script *script, const char *name, const double *x, const double *y, size_t count)
{
    script_add(script, "$%s << END_OF_BLOCK\n", name);
    if (count <= 2 * SCRIPT_PAIRS) {
        for (size_t i = 0; i < count; i++)
            point_add(script, x[i], y[i]);
    } else {
        for (size_t piece = 0; piece < SCRIPT_PAIRS; piece++)
            piece_add(script, x, y, piece * count / SCRIPT_PAIRS, (piece + 1) * count / SCRIPT_PAIRS);
    }
    script_add(script, "END_OF_BLOCK\n");
}

void script_free(struct script *script)
{
    memory_free(script->text);
    *script = (struct script){0};
}
