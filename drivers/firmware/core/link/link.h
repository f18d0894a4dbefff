/* The links: bytes into checked bodies, bodies into closed lines, plain or keyed. */
#ifndef FEEDSCRIPT_LINK_H
#define FEEDSCRIPT_LINK_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/text.h"

typedef struct {
    uint16_t bad;
    uint16_t stale;
    uint16_t forged;
    uint16_t longer;
} link_counts_t;

/* A line whose check or tag is right. Its body stands until the next byte of its link is read. */
typedef struct {
    cursor_t body;
    uint8_t link;
    bool keyed;
} received_t;

void link_begin(void);

/* Reads what has come by a link, at most one whole line of it; true when it is one that counts. */
bool link_read(uint8_t link, received_t *line);

/* Sends a whole line by a link; false, and nothing is sent, while there is no room for it. */
bool link_send(uint8_t link, const body_t *body, bool keyed);

/* A new opening: its nonce, and a counter of ours that begins anew. */
void link_seal_under(uint32_t nonce);

const link_counts_t *link_counts(void);
void link_count_bad(void);
void link_count_stale(void);
uint32_t link_host_counter(void);

#endif
