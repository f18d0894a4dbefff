#include "link/seal.h"

#include "store/store.h"
#include "wire/blake2s.h"
#include "wire/text.h"

#define KEY_BYTES 32u

static bool has_key;
static blake2s_key_t prepared;

void seal_take_key(void)
{
    uint8_t key[KEY_BYTES];

    has_key = store_key(key);
    if (has_key) {
        blake2s_key(&prepared, key, KEY_BYTES, TAG_BYTES);
    }
    for (uint8_t i = 0u; i < KEY_BYTES; i++) {
        ((volatile uint8_t *)key)[i] = 0u; /* not left lying on the stack */
    }
}

bool seal_has_key(void)
{
    return has_key;
}

static void hash_long(blake2s_t *hash, uint32_t value)
{
    for (uint8_t i = 0u; i < 4u; i++) {
        blake2s_add(hash, (uint8_t)(value >> (8u * i)));
    }
}

void seal_tag(const sealed_t *line, uint8_t *tag)
{
    blake2s_t hash;

    blake2s_begin_prepared(&hash, &prepared);
    blake2s_add(&hash, (uint8_t)line->direction);
    hash_long(&hash, store_boot());
    hash_long(&hash, line->nonce);
    hash_long(&hash, line->counter);
    for (uint8_t i = 0u; i < line->length; i++) {
        blake2s_add(&hash, (uint8_t)line->body[i]);
    }
    blake2s_end(&hash, tag, TAG_BYTES);
}

uint32_t seal_counter(const char *digits)
{
    uint32_t sum = 0u;

    for (uint8_t i = 0u; i < 8u; i++) {
        sum = (sum << 4) | hex_value(digits[i]);
    }
    return sum;
}

bool seal_matches(const sealed_t *line, const char *digits)
{
    uint8_t tag[TAG_BYTES];
    uint8_t differs = 0u;

    seal_tag(line, tag);
    for (uint8_t i = 0u; i < TAG_BYTES; i++) {
        uint8_t high = (uint8_t)hex_digit((uint8_t)(tag[i] >> 4));
        uint8_t low = (uint8_t)hex_digit(tag[i]);
        differs |= (uint8_t)((uint8_t)digits[2u * i] ^ high);
        differs |= (uint8_t)((uint8_t)digits[(2u * i) + 1u] ^ low);
    }
    return differs == 0u;
}
