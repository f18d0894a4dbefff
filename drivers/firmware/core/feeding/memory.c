#include "feeding/memory.h"

static feed_record_t records[KEPT_FEEDS];
static uint8_t count;
static uint8_t next; /* where the next record goes */
static uint32_t session;
static bool has_session;
static uint32_t highest;
static uint32_t left;
static uint32_t forgotten; /* no record reaches back to this id */

void memory_begin(void)
{
    count = 0u;
    next = 0u;
    has_session = false;
    session = 0u;
    highest = 0u;
    left = 0u;
    forgotten = 0u;
}

bool memory_open(uint32_t token)
{
    if (has_session && (session == token)) {
        return true;
    }
    memory_begin();
    has_session = true;
    session = token;
    return false;
}

uint32_t memory_highest(void)
{
    return highest;
}

uint32_t memory_left(void)
{
    return left;
}

void memory_accept(uint32_t id)
{
    feed_record_t *record = &records[next];

    if (count == KEPT_FEEDS) {
        forgotten = record->id;
    } else {
        count++;
    }
    record->id = id;
    record->at_ms = 0u;
    record->outcome = (uint8_t)OUTCOME_QUEUED;
    record->reason = (uint8_t)REASON_NONE;
    next = (uint8_t)((next + 1u) % KEPT_FEEDS);
    highest = id;
}

static feed_record_t *find(uint32_t id)
{
    for (uint8_t i = 0u; i < count; i++) {
        if (records[i].id == id) {
            return &records[i];
        }
    }
    return (feed_record_t *)0;
}

void memory_settle(uint32_t id, outcome_t outcome, uint32_t at_ms, reason_t reason)
{
    feed_record_t *record = find(id);

    if (record != (feed_record_t *)0) {
        record->outcome = (uint8_t)outcome;
        record->at_ms = at_ms;
        record->reason = (uint8_t)reason;
    }
    if (outcome == OUTCOME_LEFT) {
        left = id;
    }
}

void memory_ask(uint32_t id, feed_record_t *record)
{
    const feed_record_t *found = find(id);

    if (found != (const feed_record_t *)0) {
        *record = *found;
        return;
    }
    record->id = id;
    record->at_ms = 0u;
    if (id > highest) {
        highest = id;
    }
    if (id > forgotten) {
        record->outcome = (uint8_t)OUTCOME_NOT_SENT;
        record->reason = (uint8_t)REASON_NEVER;
    } else {
        record->outcome = (uint8_t)OUTCOME_UNKNOWN;
        record->reason = (uint8_t)REASON_NONE;
    }
}
