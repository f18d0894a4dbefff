/* The core's sums on standard input, so that shared/vectors can be run against it.
 *
 *   crc HEX                  CRC of the bytes
 *   hash KEY BYTES MESSAGE   BLAKE2s digest of so many bytes; - stands for nothing
 *   line HEX BYTES MESSAGE   the same by way of a prepared key, as lines are checked
 */
#include <stdio.h>
#include <string.h>

#include "wire/blake2s.h"
#include "wire/crc16.h"

static size_t bytes_of(const char *hex, uint8_t *into, size_t most)
{
    size_t count = 0u;
    unsigned byte;

    while ((count < most) && (sscanf(hex + (2u * count), "%2x", &byte) == 1)) {
        into[count] = (uint8_t)byte;
        count++;
    }
    return count;
}

static void print_digest(blake2s_t *hash, const uint8_t *message, size_t length, unsigned bytes)
{
    uint8_t digest[32];

    for (size_t i = 0u; i < length; i++) {
        blake2s_add(hash, message[i]);
    }
    blake2s_end(hash, digest, (uint8_t)bytes);
    for (unsigned i = 0u; i < bytes; i++) {
        (void)printf("%02x", digest[i]);
    }
    (void)printf("\n");
}

int main(void)
{
    char verb[8];
    char first[1024];
    char third[1024];
    unsigned bytes;
    uint8_t key[32];
    uint8_t message[512];

    while (scanf("%7s %1023s", verb, first) == 2) {
        if (strcmp(verb, "crc") == 0) {
            size_t length = bytes_of(first, message, sizeof message);
            uint16_t crc = CRC16_START;
            for (size_t i = 0u; i < length; i++) {
                crc = crc16(crc, message[i]);
            }
            (void)printf("%04X\n", (unsigned)crc);
        } else if ((scanf("%u %1023s", &bytes, third) == 2) && (bytes >= 1u) && (bytes <= 32u)) {
            blake2s_t hash;
            blake2s_key_t prepared;
            uint8_t key_bytes = (uint8_t)bytes_of(first, key, sizeof key);
            size_t length = bytes_of(third, message, sizeof message);
            if (strcmp(verb, "line") == 0) {
                blake2s_key(&prepared, key, key_bytes, (uint8_t)bytes);
                blake2s_begin_prepared(&hash, &prepared);
            } else {
                blake2s_begin(&hash, (uint8_t)bytes, key, key_bytes);
            }
            print_digest(&hash, message, length, bytes);
        } else {
            return 1;
        }
    }
    return 0;
}
