/* The conversation: what is new and what a repeat, openings, heartbeats, and what is sent when. */
#ifndef FEEDSCRIPT_DIALOGUE_H
#define FEEDSCRIPT_DIALOGUE_H

#include <stdbool.h>
#include <stdint.h>

#include "text.h"

void dialogue_begin(void);

/* A body whose check or tag is right. */
void dialogue_take(cursor_t body, bool keyed);

/* Sends what is due and fits: the reply first, then the heartbeat's answer, then events. */
void dialogue_write(void);

/* Does this body, sequence number and all, say OPEN? */
bool dialogue_is_opening(cursor_t body);

/* For the commands. */
bool dialogue_is_open(void);          /* a session has been opened */
void dialogue_opened(uint32_t nonce); /* by the line being worked, keyed or plain as that was */
void dialogue_hold_reply(void);       /* the reply waits until no ball can leave any more */

#endif
