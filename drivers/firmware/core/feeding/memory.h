/* What became of each feed since the host opened the launcher. */
#ifndef FEEDSCRIPT_MEMORY_H
#define FEEDSCRIPT_MEMORY_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/wire.h"

typedef enum { OUTCOME_QUEUED, OUTCOME_LEFT, OUTCOME_NOT_SENT, OUTCOME_UNKNOWN } outcome_t;

typedef struct {
    uint32_t id;
    uint32_t at_ms; /* when it left, else 0 */
    uint8_t outcome;
    uint8_t reason;
} feed_record_t;

void memory_begin(void);

/* Continues the session if it is the one remembered (true), else begins an empty memory. */
bool memory_open(uint32_t session);

uint32_t memory_highest(void); /* id accepted or settled */
uint32_t memory_left(void);    /* id that left last; 0: none */

void memory_accept(uint32_t id);
void memory_settle(uint32_t id, outcome_t outcome, uint32_t at_ms, reason_t reason);

/* The record of an id. Asking for one above the highest settles it: it will never be accepted. */
void memory_ask(uint32_t id, feed_record_t *record);

#endif
