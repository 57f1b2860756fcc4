#include "solver/base/digest.h"

#include <string.h>

/* First 32 bits of the fractional parts of the cube roots of the first 64 primes (FIPS 180-4, 4.2.2). */
static const uint32_t constants[64] = {
    0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
    0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
    0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
    0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
    0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
    0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
    0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
    0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2};

static uint32_t rotated(uint32_t word, int bits)
{
    return word >> bits | word << (32 - bits);
}

static void schedule(const unsigned char block[64], uint32_t word[64])
{
    for (int i = 0; i < 16; i++)
        word[i] = (uint32_t)block[4 * i] << 24 | (uint32_t)block[4 * i + 1] << 16 |
                  (uint32_t)block[4 * i + 2] << 8 | block[4 * i + 3];
    for (int i = 16; i < 64; i++) {
        uint32_t a = word[i - 15], b = word[i - 2];
        word[i] = word[i - 16] + (rotated(a, 7) ^ rotated(a, 18) ^ a >> 3) + word[i - 7] +
                  (rotated(b, 17) ^ rotated(b, 19) ^ b >> 10);
    }
}

/* The compression function of FIPS 180-4, 6.2.2, with its letters. */
static void compress(uint32_t state[8], const unsigned char block[64])
{
    uint32_t word[64];
    schedule(block, word);
    uint32_t a = state[0], b = state[1], c = state[2], d = state[3];
    uint32_t e = state[4], f = state[5], g = state[6], h = state[7];
    for (int i = 0; i < 64; i++) {
        uint32_t t1 = h + (rotated(e, 6) ^ rotated(e, 11) ^ rotated(e, 25)) + ((e & f) ^ (~e & g)) +
                      constants[i] + word[i];
        uint32_t t2 = (rotated(a, 2) ^ rotated(a, 13) ^ rotated(a, 22)) + ((a & b) ^ (a & c) ^ (b & c));
        h = g, g = f, f = e, e = d + t1;
        d = c, c = b, b = a, a = t1 + t2;
    }
    state[0] += a, state[1] += b, state[2] += c, state[3] += d;
    state[4] += e, state[5] += f, state[6] += g, state[7] += h;
}

void digest_begin(struct digest *digest)
{
    *digest = (struct digest){.state = {0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a, 0x510e527f,
                                        0x9b05688c, 0x1f83d9ab, 0x5be0cd19}};
}

void digest_add(struct digest *digest, const void *bytes, size_t length)
{
    const unsigned char *from = bytes;
    size_t filled = digest->length % sizeof digest->block;
    digest->length += length;
    while (length > 0) {
        size_t room = sizeof digest->block - filled, part = length < room ? length : room;
        memcpy(digest->block + filled, from, part);
        filled += part, from += part, length -= part;
        if (filled == sizeof digest->block) {
            compress(digest->state, digest->block);
            filled = 0;
        }
    }
}

void digest_end(struct digest *digest, unsigned char out[DIGEST_BYTES])
{
    static const unsigned char padding[64] = {0x80};
    uint64_t bits = digest->length * 8;
    size_t filled = digest->length % 64;
    digest_add(digest, padding, (filled < 56 ? 56 : 120) - filled);
    unsigned char count[8];
    for (int i = 0; i < 8; i++)
        count[i] = (unsigned char)(bits >> (56 - 8 * i));
    digest_add(digest, count, sizeof count);
    for (int i = 0; i < DIGEST_BYTES; i++)
        out[i] = (unsigned char)(digest->state[i / 4] >> (24 - 8 * (i % 4)));
}

void digest_hex(const void *bytes, size_t length, char hex[DIGEST_HEX])
{
    struct digest digest;
    unsigned char out[DIGEST_BYTES];
    digest_begin(&digest);
    digest_add(&digest, bytes, length);
    digest_end(&digest, out);
    for (int i = 0; i < DIGEST_BYTES; i++) {
        hex[2 * i] = "0123456789abcdef"[out[i] >> 4];
        hex[2 * i + 1] = "0123456789abcdef"[out[i] & 15];
    }
    hex[DIGEST_HEX - 1] = '\0';
}

uint32_t digest_crc(uint32_t before, const void *bytes, size_t length)
{
    /* One half-byte at a time: a table of 16 needs no set-up and no lock. */
    static const uint32_t table[16] = {0x00000000, 0x1db71064, 0x3b6e20c8, 0x26d930ac, 0x76dc4190, 0x6b6b51f4,
                                       0x4db26158, 0x5005713c, 0xedb88320, 0xf00f9344, 0xd6d6a3e8, 0xcb61b38c,
                                       0x9b64c2b0, 0x86d3d2d4, 0xa00ae278, 0xbdbdf21c};
    const unsigned char *byte = bytes;
    uint32_t crc = ~before;
    for (size_t i = 0; i < length; i++) {
        crc ^= byte[i];
        crc = crc >> 4 ^ table[crc & 15];
        crc = crc >> 4 ^ table[crc & 15];
    }
    return ~crc;
}
