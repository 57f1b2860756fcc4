#include "solver/base/text.h"

#include <string.h>

size_t text_decode(const char *text, size_t left, unsigned *code)
{
    static const unsigned least[] = {0, 0, 0x80, 0x800, 0x10000};
    if (left == 0)
        return 0;
    unsigned char first = (unsigned char)text[0];
    size_t length = first < 0x80   ? 1
                    : first < 0xc0 ? 0
                    : first < 0xe0 ? 2
                    : first < 0xf0 ? 3
                    : first < 0xf8 ? 4
                                   : 0;
    if (length == 0 || length > left)
        return 0;
    *code = length == 1 ? first : first & (0x7fu >> length);
    for (size_t i = 1; i < length; i++) {
        if (((unsigned char)text[i] & 0xc0) != 0x80)
            return 0;
        *code = *code << 6 | ((unsigned char)text[i] & 0x3f);
    }
    if (*code < least[length] || *code > 0x10ffff || (*code >= 0xd800 && *code <= 0xdfff))
        return 0;
    return length;
}

int text_is_control(unsigned code)
{
    return code < 0x20 || (code >= 0x7f && code < 0xa0) || code == 0x2028 || code == 0x2029;
}

int text_is_hidden(unsigned code)
{
    return code == 0xad || code == 0x61c || code == 0x180e || (code >= 0x200b && code <= 0x200f) ||
           (code >= 0x202a && code <= 0x202e) || (code >= 0x2060 && code <= 0x206f) || code == 0xfeff ||
           (code >= 0xfff9 && code <= 0xfffb) || (code >= 0xe0000 && code <= 0xe007f);
}

void text_clean(char *text)
{
    size_t left = strlen(text);
    char *to = text;
    while (left > 0) {
        unsigned code;
        size_t length = text_decode(text, left, &code);
        if (length == 0 || text_is_control(code) || text_is_hidden(code))
            *to++ = length && code == '\t' ? ' ' : '?';
        else
            to = (char *)memmove(to, text, length) + length;
        text += length ? length : 1;
        left -= length ? length : 1;
    }
    *to = '\0';
}

size_t text_cut(const char *text, size_t bytes)
{
    size_t length = strlen(text);
    if (length <= bytes)
        return length;
    while (bytes > 0 && ((unsigned char)text[bytes] & 0xc0) == 0x80)
        bytes--;
    return bytes;
}
