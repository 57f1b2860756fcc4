#include <criterion/criterion.h>
#include <string.h>

#include "solver/base/digest.h"

/* Test vectors of FIPS 180-2, appendix B (SHA-256), and the check value of CRC-32 (ITU-T V.42: the CRC of
 * "123456789" is CBF43926). */

static void expect(const void *bytes, size_t length, const char *want)
{
    char hex[DIGEST_HEX];
    digest_hex(bytes, length, hex);
    cr_expect_str_eq(hex, want);
}

Test(digest, published_vectors)
{
    expect("", 0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    expect("abc", 3, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    const char *two = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
    expect(two, strlen(two), "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
}

Test(digest, a_million_letters_in_uneven_pieces)
{
    static char letters[1000000];
    memset(letters, 'a', sizeof letters);
    struct digest digest;
    unsigned char out[DIGEST_BYTES];
    digest_begin(&digest);
    for (size_t at = 0, part = 1; at < sizeof letters; at += part, part = part % 131 + 1) {
        if (part > sizeof letters - at)
            part = sizeof letters - at;
        digest_add(&digest, letters + at, part);
    }
    digest_end(&digest, out);
    const unsigned char want[4] = {0xcd, 0xc7, 0x6e, 0x5c};
    cr_expect_arr_eq(out, want, sizeof want);
}

Test(digest, crc)
{
    cr_expect_eq(digest_crc(0, "123456789", 9), 0xCBF43926u);
    cr_expect_eq(digest_crc(digest_crc(0, "1234", 4), "56789", 5), 0xCBF43926u);
    cr_expect_eq(digest_crc(0, "", 0), 0u);
}
