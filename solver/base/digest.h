#ifndef FOAMPULSE_BASE_DIGEST_H
#define FOAMPULSE_BASE_DIGEST_H

#include <stddef.h>
#include <stdint.h>

/*
 * Checksums of bytes: SHA-256 (FIPS 180-4) says whether two contents are the same, CRC-32 (the polynomial of
 * IEEE 802.3, as in zip and PNG) whether a file is still as it was written.
 */

enum { DIGEST_BYTES = 32, DIGEST_HEX = 65 };

/* State of a running SHA-256; start with digest_begin. */
struct digest {
    uint32_t state[8];
    uint64_t length; /* [bytes] seen so far */
    unsigned char block[64];
};

void digest_begin(struct digest *digest);
void digest_add(struct digest *digest, const void *bytes, size_t length);
void digest_end(struct digest *digest, unsigned char out[DIGEST_BYTES]);

/* SHA-256 of a block of bytes as 64 lower-case hexadecimal digits. */
void digest_hex(const void *bytes, size_t length, char hex[DIGEST_HEX]);

/* CRC-32 of bytes that follow others whose CRC-32 is `before` (0 for none). */
uint32_t digest_crc(uint32_t before, const void *bytes, size_t length);

#endif
