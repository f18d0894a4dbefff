/* The stored bytes as a log in two sectors of flash.
 *
 * Flash erases 4 KB at a time and programs only ones to zeros. So what changes is put behind what is
 * there: a word for each byte, then a mark that counts them. Words without their mark never happened.
 * When a sector is full, or ends in such words, all is written to the other one, whose header comes
 * last. Power may go at any moment: what is found is what was before the commit, or after it.
 *
 * Header and mark carry their own complement: bits that a broken-off erasure or programming left as
 * ones cannot make another valid one of them.
 */
#include "store_flash.h"

#include <stdbool.h>

#include "board.h"
#include "flash.h"
#include "store/store.h"

#define FIRST 0x000FE000u
#define SLOTS (FLASH_SECTOR / 4u)
#define ERASED 0xFFFFFFFFuL
#define MARKS_FROM 0xFC00u /* the lower half of a mark; of a byte's word it is the address */

_Static_assert((STORE_BYTES + (STORE_BYTES / 2u)) <= SLOTS, "all the bytes must leave room for changes");

static uint8_t now[STORE_BYTES];  /* as the core sees them */
static uint8_t kept[STORE_BYTES]; /* as the flash has them */
static uint32_t sector;           /* 0 or 1 */
static uint32_t slot;             /* the next free one; SLOTS: the sector takes no more */
static uint16_t generation;
static uint32_t page[FLASH_PAGE_WORDS]; /* words that end before `slot`, not yet in the flash */
static uint32_t gathered;

static uint32_t place(uint32_t which, uint32_t at)
{
    return FIRST + (which * FLASH_SECTOR) + (at * 4u);
}

static void flush(uint32_t which)
{
    if (gathered > 0u) {
        flash_program(place(which, slot - gathered), page, gathered);
        gathered = 0u;
    }
}

/* Words go into the flash a page at a time. */
static void append(uint32_t which, uint32_t word)
{
    page[gathered] = word;
    gathered++;
    slot++;
    if ((slot % FLASH_PAGE_WORDS) == 0u) {
        flush(which);
    }
}

static uint32_t paired(uint16_t value)
{
    return ((uint32_t)value << 16) | (uint16_t)~value;
}

static bool is_paired(uint32_t word)
{
    return word == paired((uint16_t)(word >> 16));
}

static uint32_t word_of(uint16_t at, uint8_t value)
{
    uint8_t check = (uint8_t)(0x5Au ^ at ^ (at >> 8) ^ (uint8_t)(value * 7u));

    return at | ((uint32_t)value << 16) | ((uint32_t)check << 24);
}

static bool is_byte(uint32_t word)
{
    uint16_t at = (uint16_t)word;

    return (at < STORE_BYTES) && (word == word_of(at, (uint8_t)(word >> 16)));
}

/* ---- writing ---- */

static void keep_all(void)
{
    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        kept[at] = now[at];
    }
}

static uint16_t changes(void)
{
    uint16_t count = 0u;

    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        count = (uint16_t)(count + ((now[at] != kept[at]) ? 1u : 0u));
    }
    return count;
}

/* Every byte that differs from what `kept` says; and, once they are there, the mark behind them. */
static void append_changes(uint32_t which, uint16_t count)
{
    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        if (now[at] != kept[at]) {
            append(which, word_of(at, now[at]));
        }
    }
    flush(which);
    append(which, paired(count));
    flush(which);
}

static void forget_kept(void)
{
    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        kept[at] = 0xFFu;
    }
}

static void move_to_the_other(void)
{
    uint32_t other = sector ^ 1u;

    forget_kept();
    flash_erase(place(other, 0u));
    slot = 1u;
    append_changes(other, changes());
    generation++;
    uint32_t header = paired(generation);
    flash_program(place(other, 0u), &header, 1u);
    sector = other;
}

void board_store_commit(void)
{
    uint16_t count = changes();

    if (count == 0u) {
        return;
    }
    if ((slot + count + 1u) > SLOTS) {
        move_to_the_other();
    } else {
        append_changes(sector, count);
    }
    keep_all();
}

uint8_t board_store_read(uint16_t at)
{
    return now[at];
}

void board_store_write(uint16_t at, uint8_t value)
{
    now[at] = value;
}

/* ---- finding ---- */

static bool newer(uint32_t one, uint32_t other)
{
    return (int16_t)(uint16_t)((one >> 16) - (other >> 16)) > 0;
}

static bool choose_sector(void)
{
    uint32_t first = flash_word(place(0u, 0u));
    uint32_t second = flash_word(place(1u, 0u));

    if (!is_paired(first) && !is_paired(second)) {
        return false;
    }
    sector = (is_paired(second) && (!is_paired(first) || newer(second, first))) ? 1u : 0u;
    generation = (uint16_t)(((sector == 0u) ? first : second) >> 16);
    return true;
}

/* The words from one slot to another, taken over. */
static void take(uint32_t from, uint32_t to)
{
    for (uint32_t at = from; at < to; at++) {
        uint32_t word = flash_word(place(sector, at));
        kept[(uint16_t)word] = (uint8_t)(word >> 16);
    }
}

/* Ends at the first erased word (behind a mark: the sector goes on) or at one that means nothing. */
static void read_log(void)
{
    uint32_t from = 1u;

    for (slot = 1u; slot < SLOTS; slot++) {
        uint32_t word = flash_word(place(sector, slot));
        bool mark = ((uint16_t)word >= MARKS_FROM) && is_paired(word);
        if (mark && ((word >> 16) == (slot - from))) {
            take(from, slot);
            from = slot + 1u;
        } else if (!is_byte(word)) {
            break;
        } else {
            /* a byte: its mark will tell */
        }
    }
    bool clean = (slot < SLOTS) && (slot == from) && (flash_word(place(sector, slot)) == ERASED);
    slot = clean ? slot : SLOTS;
}

void store_flash_begin(void)
{
    forget_kept();
    slot = SLOTS; /* a blank flash: the first commit makes a sector */
    if (choose_sector()) {
        read_log();
    }
    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        now[at] = kept[at];
    }
}
