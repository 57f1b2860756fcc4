#include <criterion/criterion.h>
#include <string.h>

#include "solver/base/status.h"
#include "solver/base/text.h"

/* Every code point that RFC 3629 allows, written here bit by bit, decodes to itself. */
Test(text, every_code_point)
{
    for (unsigned code = 0; code <= 0x10ffff; code++) {
        char bytes[4];
        size_t length = code < 0x80 ? 1 : code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
        static const unsigned char lead[] = {0, 0x00, 0xc0, 0xe0, 0xf0};
        unsigned rest = code, found = 0;
        for (size_t i = length; i-- > 1; rest >>= 6)
            bytes[i] = (char)(0x80 | (rest & 0x3f));
        bytes[0] = (char)(lead[length] | rest);
        int surrogate = code >= 0xd800 && code <= 0xdfff;
        cr_assert_eq(text_decode(bytes, length, &found), surrogate ? 0 : length, "U+%04X", code);
        cr_assert(surrogate || found == code);
        cr_assert_eq(text_decode(bytes, length - 1, &found), 0);
    }
}

/* Overlong forms, code points past the end, stray and missing continuation bytes. */
Test(text, refused_bytes)
{
    static const char *bad[] = {"\x80",
                                "\xbf",
                                "\xc0\x80",
                                "\xc1\xbf",
                                "\xe0\x9f\xbf",
                                "\xf0\x8f\xbf\xbf",
                                "\xf4\x90\x80\x80",
                                "\xf8\x88\x80\x80",
                                "\xff",
                                "\xc3(",
                                "\xe2\x82(",
                                "\xf0\x9f\x98("};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        unsigned code;
        cr_assert_eq(text_decode(bad[i], strlen(bad[i]), &code), 0, "row %zu", i);
    }
}

static void clean_gives(const char *text, const char *wanted)
{
    char buffer[64];
    strcpy(buffer, text);
    text_clean(buffer);
    cr_assert_str_eq(buffer, wanted);
}

Test(text, clean)
{
    clean_gives("", "");
    clean_gives("J\xc3\xb6rg \xe2\x82\xac", "J\xc3\xb6rg \xe2\x82\xac");
    clean_gives("\x1b[31mred\x07\x7f", "?[31mred??");
    clean_gives("a\tb\nc\r", "a b?c?");
    clean_gives("\xc2\x9b"
                "31m \xe2\x80\xa8x",
                "?31m ?x");
    clean_gives("a\xff\xc3", "a??");
}

Test(text, cut)
{
    cr_assert_eq(text_cut("abc", 5), 3);
    cr_assert_eq(text_cut("abc", 2), 2);
    cr_assert_eq(text_cut("a\xe2\x82\xac"
                          "b",
                          3),
                 1);
    cr_assert_eq(text_cut("a\xe2\x82\xac"
                          "b",
                          4),
                 4);
    cr_assert_eq(text_cut("\xe2\x82\xac", 0), 0);
}

/* Whatever is given, a message is valid text that no terminal obeys. */
Test(text, messages_are_clean)
{
    struct errors errors = {0};
    char shell[600];
    memset(shell, 'x', sizeof shell);
    memcpy(shell + ERROR_TEXT - 3, "\xe2\x82\xac", 3); /* across the end of the field */
    shell[sizeof shell - 1] = '\0';
    cr_assert_eq(errors_add(&errors, STATUS_INPUT, "a\x1b.yaml", 1, 2, "%s", shell), STATUS_INPUT);
    errors_source(&errors, "size: \x1b]0;x\x07");
    errors_included(&errors, "included from \x9b.yaml:1");
    cr_assert_str_eq(errors.kept[0].file, "a?.yaml");
    cr_assert_str_eq(errors.kept[0].source, "size: ?]0;x?");
    cr_assert_str_eq(errors.kept[0].included, "included from ?.yaml:1");
    cr_assert_eq(strlen(errors.kept[0].text), ERROR_TEXT - 3);
}
