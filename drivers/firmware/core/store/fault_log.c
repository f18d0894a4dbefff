#include "store/fault_log.h"

#include "board.h"
#include "guard/fence.h"
#include "store/store.h"
#include "wire/crc16.h"

/* A row: round and kind, power-up, second, detail (each low byte first), check. The rows are filled in
 * turn, so one whose round differs from the first row's is older. The first byte is spoiled before the
 * others change and comes last: a row without it is none. */
#define ROW_BYTES 8u
#define ROUNDS 7u /* three bits, but for the round of erased memory */
#define KIND_BITS 5u
#define KIND_MASK 0x1Fu
#define NO_ROW 0xFFu
#define WAITING_MOST 2u

_Static_assert((STORE_LOG_AT + (LOG_ROWS * ROW_BYTES)) <= STORE_NAME_AT, "the rows must fit the memory");

typedef struct {
    uint8_t byte[ROW_BYTES];
} kept_row_t;

static struct {
    uint8_t next;  /* the row that is written next */
    uint8_t round;
    kept_row_t waiting[WAITING_MOST];
    uint8_t waiting_count;
    uint8_t done; /* bytes of the first that waits */
} fault_log;

static uint16_t place(uint8_t row, uint8_t byte)
{
    return (uint16_t)(STORE_LOG_AT + ((uint16_t)row * ROW_BYTES) + byte);
}

static uint8_t check_of(const kept_row_t *row)
{
    uint16_t crc = CRC16_START;

    for (uint8_t i = 0u; i < (ROW_BYTES - 1u); i++) {
        crc = crc16(crc, row->byte[i]);
    }
    return (uint8_t)crc;
}

static bool load(uint8_t which, kept_row_t *row)
{
    for (uint8_t i = 0u; i < ROW_BYTES; i++) {
        row->byte[i] = board_store_read(place(which, i));
    }
    return (row->byte[0] != NO_ROW) && (row->byte[ROW_BYTES - 1u] == check_of(row));
}

/* The round of a row; ROUNDS where there is none. */
static uint8_t round_of(uint8_t which)
{
    kept_row_t row;

    return load(which, &row) ? (uint8_t)(row.byte[0] >> KIND_BITS) : (uint8_t)ROUNDS;
}

void fault_log_begin(void)
{
    uint8_t first = round_of(0u);

    fault_log.waiting_count = 0u;
    fault_log.done = 0u;
    fault_log.next = 0u;
    if (first == ROUNDS) { /* blank, or its writing was broken off: the last one tells the round */
        uint8_t last = round_of(LOG_ROWS - 1u);
        fault_log.round = (last == ROUNDS) ? 0u : (uint8_t)((last + 1u) % ROUNDS);
        return;
    }
    while ((fault_log.next < LOG_ROWS) && (round_of(fault_log.next) == first)) {
        fault_log.next++;
    }
    fault_log.round = first;
    if (fault_log.next == LOG_ROWS) {
        fault_log.next = 0u;
        fault_log.round = (uint8_t)((first + 1u) % ROUNDS);
    }
}

static int16_t bounded(int32_t value)
{
    if (value < INT16_MIN) {
        return INT16_MIN;
    }
    return (value > INT16_MAX) ? (int16_t)INT16_MAX : (int16_t)value;
}

void fault_log_add(uint8_t what, int32_t detail)
{
    if (fault_log.waiting_count == WAITING_MOST) {
        return;
    }
    kept_row_t *row = &fault_log.waiting[fault_log.waiting_count];
    uint32_t second = board_now_ms() / 1000u;
    uint32_t boot = store_boot();
    uint16_t number = (uint16_t)bounded(detail);

    second = (second > UINT16_MAX) ? UINT16_MAX : second;
    row->byte[0] = (uint8_t)(what & KIND_MASK); /* its round is known when it is written */
    row->byte[1] = (uint8_t)boot;
    row->byte[2] = (uint8_t)(boot >> 8);
    row->byte[3] = (uint8_t)second;
    row->byte[4] = (uint8_t)(second >> 8);
    row->byte[5] = (uint8_t)number;
    row->byte[6] = (uint8_t)(number >> 8);
    fault_log.waiting_count++;
}

static void row_is_written(void)
{
    board_store_commit();
    fault_log.done = 0u;
    fault_log.waiting_count--;
    fault_log.waiting[0] = fault_log.waiting[1];
    fault_log.next++;
    if (fault_log.next == LOG_ROWS) {
        fault_log.next = 0u;
        fault_log.round = (uint8_t)((fault_log.round + 1u) % ROUNDS);
    }
}

void fault_log_step(void)
{
    kept_row_t *row = &fault_log.waiting[0];

    if (fault_log.waiting_count == 0u) {
        return;
    }
    fence_alive();
    if (fault_log.done == 0u) {
        row->byte[0] = (uint8_t)((row->byte[0] & KIND_MASK) | ((uint32_t)fault_log.round << KIND_BITS));
        row->byte[ROW_BYTES - 1u] = check_of(row);
        board_store_write(place(fault_log.next, 0u), NO_ROW);
    } else if (fault_log.done < ROW_BYTES) {
        board_store_write(place(fault_log.next, fault_log.done), row->byte[fault_log.done]);
    } else {
        board_store_write(place(fault_log.next, 0u), row->byte[0]);
        row_is_written();
        return;
    }
    fault_log.done++;
}

uint8_t fault_log_kept(void)
{
    uint8_t kept = 0u;

    for (uint8_t i = 0u; i < LOG_ROWS; i++) {
        kept = (uint8_t)(kept + ((round_of(i) < ROUNDS) ? 1u : 0u));
    }
    return kept;
}

/* Which row is so many back; LOG_ROWS where there is none. What was broken off is left out. */
static uint8_t find(uint8_t back)
{
    uint8_t left = back;
    uint8_t which = fault_log.next;

    for (uint8_t i = 0u; i < LOG_ROWS; i++) {
        which = (which == 0u) ? (uint8_t)(LOG_ROWS - 1u) : (uint8_t)(which - 1u);
        if (round_of(which) < ROUNDS) {
            if (left == 0u) {
                return which;
            }
            left--;
        }
    }
    return LOG_ROWS;
}

bool fault_log_read(uint8_t back, log_row_t *row)
{
    kept_row_t found;
    uint8_t which = find(back);

    if ((which == LOG_ROWS) || !load(which, &found)) {
        return false;
    }
    uint16_t boot = (uint16_t)(found.byte[1] | ((uint16_t)found.byte[2] << 8));
    row->boot = store_boot() - (uint16_t)((uint16_t)store_boot() - boot);
    row->second = (uint16_t)(found.byte[3] | ((uint16_t)found.byte[4] << 8));
    row->what = (uint8_t)(found.byte[0] & KIND_MASK);
    row->detail = (int16_t)(uint16_t)(found.byte[5] | ((uint16_t)found.byte[6] << 8));
    return true;
}
