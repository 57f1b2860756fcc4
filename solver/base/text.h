#ifndef FOAMPULSE_BASE_TEXT_H
#define FOAMPULSE_BASE_TEXT_H

#include <stddef.h>

/* UTF-8 text from outside. */

/* Decodes the character at `text`, of which `left` bytes may be read. Returns its length in bytes and its
 * code point; 0 for a sequence that RFC 3629 does not allow (overlong, surrogate, above U+10FFFF, cut short).
 */
size_t text_decode(const char *text, size_t left, unsigned *code);

/* Control characters: C0 (tab and line break included), DEL, C1, line and paragraph separator. */
int text_is_control(unsigned code);

/* Characters that are not seen but move or hide others: direction marks, zero width, soft hyphen, tags. */
int text_is_hidden(unsigned code);

/* Replaces, in place, every control and hidden character and every byte that is not UTF-8 by `?`, a tab by a
 * space, so that the text cannot drive or deceive a terminal. */
void text_clean(char *text);

/* Longest part of `text` with at most `bytes` bytes that does not cut a character, in bytes. */
size_t text_cut(const char *text, size_t bytes);

#endif
