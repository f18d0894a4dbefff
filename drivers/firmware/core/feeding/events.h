/* Events: numbered from 1 at power-up, the last of them kept so that a host may ask again. */
#ifndef FEEDSCRIPT_EVENTS_H
#define FEEDSCRIPT_EVENTS_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/text.h"
#include "wire/wire.h"

void events_begin(void);
void event_put(event_t word, uint32_t at_ms, uint32_t first, int32_t second);
uint16_t events_last(void); /* number of the newest, 0 before the first */

/* Sends again from `first`; false when it is no longer kept. `oldest` is what still is. */
bool events_again(uint16_t first, uint16_t *oldest);

/* The next body to send; false when there is none. events_sent() goes on to the next. */
bool events_next(body_t *body);
void events_sent(void);
void events_drop(void); /* none of those so far is sent any more but by events_again() */

#endif
