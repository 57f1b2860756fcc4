#include "plots/script.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "solver/base/memory.h"
#include "solver/base/text.h"

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

void script_clean(const char *text, size_t most, char *out, size_t size)
{
    size_t at = 0, count = 0;
    most = most < SCRIPT_TEXT ? most : SCRIPT_TEXT;
    while (*text && at + 8 < size) {
        unsigned code = 0;
        size_t length = text_decode(text, strnlen(text, 4), &code);
        if (count == most) {
            memcpy(out + at, "\xe2\x80\xa6", 3); /* ellipsis */
            at += 3;
            break;
        }
        if (length == 0 || text_is_control(code) || text_is_hidden(code)) {
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
