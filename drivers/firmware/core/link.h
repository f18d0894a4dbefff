/* The line: bytes into checked bodies, replies and events back out, plain or keyed. */
#ifndef FEEDSCRIPT_LINK_H
#define FEEDSCRIPT_LINK_H

#include <stdbool.h>
#include <stdint.h>

#include "text.h"

typedef struct {
    uint16_t bad;
    uint16_t stale;
    uint16_t forged;
    uint16_t longer;
} link_counts_t;

void link_begin(void);

/* Reads what has come, at most one whole line of it. */
void link_read(void);

/* Sends what is due and fits: the reply first, then the heartbeat's answer, then events. */
void link_write(void);

/* For the commands. */
const link_counts_t *link_counts(void);
uint32_t link_host_counter(void);
bool link_is_cable(void);
bool link_is_open(void);           /* a session has been opened */
void link_opened(uint32_t nonce);  /* by the line being worked, keyed or plain as that was */
void link_hold_reply(void);        /* the reply waits until no ball can leave any more */

#endif
