/* The seal of keyed lines: a counter and a truncated BLAKE2s tag (protocol.md, section 9). */
#ifndef FEEDSCRIPT_SEAL_H
#define FEEDSCRIPT_SEAL_H

#include <stdbool.h>
#include <stdint.h>

#define TAG_BYTES 8u

/* A line as it is sealed: its direction ('H' or 'L'), the nonce and counter, and its body. */
typedef struct {
    char direction;
    uint32_t nonce;
    uint32_t counter;
    const char *body;
    uint8_t length;
} sealed_t;

void seal_take_key(void); /* the stored key has changed */
bool seal_has_key(void);
void seal_tag(const sealed_t *line, uint8_t *tag);

/* Eight hexadecimal digits as they stand in a line's tail. */
uint32_t seal_counter(const char *digits);

/* Are these sixteen digits the line's tag? Takes the same time wherever they differ. */
bool seal_matches(const sealed_t *line, const char *digits);

#endif
