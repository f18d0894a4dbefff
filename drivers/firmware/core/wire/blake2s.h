/* BLAKE2s (RFC 7693), as far as the wire needs it: sequential, with an optional key.
 *
 * A keyed hash begins with a whole block of key. blake2s_key() works that block once; each line
 * then starts from its copy, which halves the work of a short line on a slow controller.
 */
#ifndef FEEDSCRIPT_BLAKE2S_H
#define FEEDSCRIPT_BLAKE2S_H

#include <stdint.h>

#define BLAKE2S_BLOCK 64u

typedef struct {
    uint32_t h[8];
    uint32_t count; /* bytes worked so far; a line is far shorter than 2^32 */
    uint8_t buffer[BLAKE2S_BLOCK];
    uint8_t filled;
} blake2s_t;

/* The chaining value after the key block, for digests of `digest` bytes. */
typedef struct {
    uint32_t h[8];
} blake2s_key_t;

void blake2s_key(blake2s_key_t *out, const uint8_t *key, uint8_t key_bytes, uint8_t digest);

/* key_bytes 0: without a key. */
void blake2s_begin(blake2s_t *hash, uint8_t digest, const uint8_t *key, uint8_t key_bytes);

/* From a prepared key; at least one byte must be added before the end. */
void blake2s_begin_prepared(blake2s_t *hash, const blake2s_key_t *prepared);
void blake2s_add(blake2s_t *hash, uint8_t byte);
void blake2s_end(blake2s_t *hash, uint8_t *digest, uint8_t bytes);

#endif
