#include "feeding/events.h"

#include "rom.h"

typedef struct {
    uint32_t at_ms;
    uint32_t first;
    int32_t second;
    uint8_t word;
} event_row_t;

static const char words[6][6] ROM = {"BOOT", "STATE", "LEFT", "MISS", "LOST", "FAULT"};

static event_row_t rows[KEPT_EVENTS];
static uint16_t last;
static uint8_t kept;
static uint8_t unsent; /* of the kept ones, the newest so many are still to be sent */

void events_begin(void)
{
    last = 0u;
    kept = 0u;
    unsent = 0u;
}

static event_row_t *row_of(uint8_t back) /* 0: the newest */
{
    return &rows[(uint16_t)(last - back) % KEPT_EVENTS];
}

void event_put(event_t word, uint32_t at_ms, uint32_t first, int32_t second)
{
    last++;
    event_row_t *row = row_of(0u);
    row->at_ms = at_ms;
    row->first = first;
    row->second = second;
    row->word = (uint8_t)word;
    if (kept < KEPT_EVENTS) {
        kept++;
    }
    if (unsent < KEPT_EVENTS) {
        unsent++;
    }
}

uint16_t events_last(void)
{
    return last;
}

bool events_again(uint16_t first, uint16_t *oldest)
{
    uint16_t back = (uint16_t)(last - first);

    *oldest = (uint16_t)((last - kept) + 1u);
    if (back == 0xFFFFu) {
        return true; /* the one after the newest: there is nothing to repeat */
    }
    if (back >= kept) {
        return false;
    }
    unsent = (uint8_t)(back + 1u);
    return true;
}

bool events_next(body_t *body)
{
    if (unsent == 0u) {
        return false;
    }
    uint8_t back = (uint8_t)(unsent - 1u);
    const event_row_t *row = row_of(back);

    body_clear(body);
    body_char(body, '!');
    body_number(body, (uint16_t)(last - back));
    body_number(body, row->at_ms);
    body_char(body, ' ');
    body_rom(body, words[row->word]);
    body_number(body, row->first);
    if (row->word != (uint8_t)EVENT_LEFT) {
        body_signed(body, row->second);
    }
    return true;
}

void events_sent(void)
{
    if (unsent > 0u) {
        unsent--;
    }
}

void events_drop(void)
{
    unsent = 0u;
}
