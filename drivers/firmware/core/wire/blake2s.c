#include "wire/blake2s.h"

#include "rom.h"

static const uint32_t start[8] ROM = {
    0x6A09E667uL, 0xBB67AE85uL, 0x3C6EF372uL, 0xA54FF53AuL,
    0x510E527FuL, 0x9B05688CuL, 0x1F83D9ABuL, 0x5BE0CD19uL,
};

/* RFC 7693, section 2.7: the order of the message's words in each round. */
static const uint8_t sigma[10][16] ROM = {
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15},
    {14, 10, 4, 8, 9, 15, 13, 6, 1, 12, 0, 2, 11, 7, 5, 3},
    {11, 8, 12, 0, 5, 2, 15, 13, 10, 14, 3, 6, 7, 1, 9, 4},
    {7, 9, 3, 1, 13, 12, 11, 14, 2, 6, 5, 10, 4, 0, 15, 8},
    {9, 0, 5, 7, 2, 4, 10, 15, 14, 1, 11, 12, 6, 8, 3, 13},
    {2, 12, 6, 10, 0, 11, 8, 3, 4, 13, 7, 5, 15, 14, 1, 9},
    {12, 5, 1, 15, 14, 13, 4, 10, 0, 7, 6, 3, 9, 2, 8, 11},
    {13, 11, 7, 14, 12, 1, 3, 9, 5, 0, 15, 4, 8, 6, 2, 10},
    {6, 15, 14, 9, 11, 3, 0, 8, 12, 2, 13, 7, 1, 4, 10, 5},
    {10, 2, 8, 4, 7, 6, 1, 5, 15, 11, 9, 14, 3, 12, 13, 0},
};

static uint32_t turn_right(uint32_t word, uint8_t bits)
{
    return (word >> bits) | (word << (32u - bits));
}

static void mix(uint32_t *a, uint32_t *b, uint32_t *c, uint32_t *d, uint32_t x, uint32_t y)
{
    *a += *b + x;
    *d = turn_right(*d ^ *a, 16u);
    *c += *d;
    *b = turn_right(*b ^ *c, 12u);
    *a += *b + y;
    *d = turn_right(*d ^ *a, 8u);
    *c += *d;
    *b = turn_right(*b ^ *c, 7u);
}

static uint32_t word_of(const uint8_t *bytes, uint8_t index)
{
    const uint8_t *at = &bytes[(uint8_t)(index * 4u)];

    return (uint32_t)at[0] | ((uint32_t)at[1] << 8) | ((uint32_t)at[2] << 16) |
           ((uint32_t)at[3] << 24);
}

static void compress(blake2s_t *hash, uint32_t last)
{
    uint32_t v[16];

    for (uint8_t i = 0u; i < 8u; i++) {
        v[i] = hash->h[i];
        v[i + 8u] = rom_long(&start[i]);
    }
    v[12] ^= hash->count;
    v[14] ^= last;
    for (uint8_t round = 0u; round < 10u; round++) {
        for (uint8_t g = 0u; g < 8u; g++) {
            unsigned column = (unsigned)g & 3u;
            unsigned shift = (unsigned)g / 4u; /* 0: columns, 1: diagonals */
            uint32_t x = word_of(hash->buffer, rom_byte(&sigma[round][2u * g]));
            uint32_t y = word_of(hash->buffer, rom_byte(&sigma[round][(2u * g) + 1u]));
            mix(&v[column], &v[4u + ((column + shift) & 3u)],
                &v[8u + ((column + (2u * shift)) & 3u)],
                &v[12u + ((column + (3u * shift)) & 3u)], x, y);
        }
    }
    for (uint8_t i = 0u; i < 8u; i++) {
        hash->h[i] ^= v[i] ^ v[i + 8u];
    }
    hash->filled = 0u;
}

void blake2s_begin(blake2s_t *hash, uint8_t digest, const uint8_t *key, uint8_t key_bytes)
{
    for (uint8_t i = 0u; i < 8u; i++) {
        hash->h[i] = rom_long(&start[i]);
    }
    hash->h[0] ^= 0x01010000uL ^ ((uint32_t)key_bytes << 8) ^ (uint32_t)digest;
    hash->count = 0u;
    hash->filled = 0u;
    if (key_bytes > 0u) {
        for (uint8_t i = 0u; i < BLAKE2S_BLOCK; i++) {
            hash->buffer[i] = (i < key_bytes) ? key[i] : 0u;
        }
        hash->filled = BLAKE2S_BLOCK;
    }
}

void blake2s_add(blake2s_t *hash, uint8_t byte)
{
    if (hash->filled == BLAKE2S_BLOCK) {
        hash->count += BLAKE2S_BLOCK;
        compress(hash, 0u);
    }
    hash->buffer[hash->filled] = byte;
    hash->filled++;
}

void blake2s_key(blake2s_key_t *out, const uint8_t *key, uint8_t key_bytes, uint8_t digest)
{
    blake2s_t hash;

    blake2s_begin(&hash, digest, key, key_bytes);
    hash.count = BLAKE2S_BLOCK;
    compress(&hash, 0u);
    for (uint8_t i = 0u; i < 8u; i++) {
        out->h[i] = hash.h[i];
    }
}

void blake2s_begin_prepared(blake2s_t *hash, const blake2s_key_t *prepared)
{
    for (uint8_t i = 0u; i < 8u; i++) {
        hash->h[i] = prepared->h[i];
    }
    hash->count = BLAKE2S_BLOCK;
    hash->filled = 0u;
}

void blake2s_end(blake2s_t *hash, uint8_t *digest, uint8_t bytes)
{
    hash->count += hash->filled;
    for (uint8_t i = hash->filled; i < BLAKE2S_BLOCK; i++) {
        hash->buffer[i] = 0u;
    }
    compress(hash, 0xFFFFFFFFuL);
    for (uint8_t i = 0u; i < bytes; i++) {
        digest[i] = (uint8_t)(hash->h[i >> 2] >> (8u * (i & 3u)));
    }
}
