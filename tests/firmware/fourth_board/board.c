/* A port to the invented controller of chip.h, made by the porting guide from its template.
 * Two wheels, two servos, a contactor, a gate; settings in two sectors of flash, each a whole copy: the
 * one with the later number counts, and its check is written last. */
#include "board.h"

#include "chip.h"
#include "guard/fence.h"
#include "launcher.h"
#include "store/store.h"
#include "wire/crc16.h"

#define RING 256u /* its indices wrap by themselves */
#define GENERATION_AT STORE_BYTES
#define CHECK_AT (STORE_BYTES + 2u)

static struct {
    uint8_t bytes[RING];
    uint8_t head, tail;
} coming[LINKS], going[LINKS];
const link_kind_t board_links[LINKS] = {LINK_CABLE};
const sensor_t board_sensors[] = {{SENSES_BALL, 0u},   {SENSES_GATE, 0u},        {SENSES_WHEEL, 0u}, {SENSES_WHEEL, 1u},
                                  {SENSES_SUPPLY, 0u}, {SENSES_TEMPERATURE, 0u}, {SENSES_END, 0u}};

static volatile uint32_t milliseconds;
static volatile uint16_t pulses[WHEELS];
static volatile uint32_t stamps[WHEELS];
static uint8_t cause;
static uint8_t kept[STORE_BYTES];
static bool changed;
static uint8_t sector; /* the one that counts */
static uint16_t generation;

void on_millisecond(void)
{
    milliseconds++;
    fence_tick();
}

void on_receive(void)
{
    uint8_t next = (uint8_t)(coming[0].head + 1u);

    if (fence_byte(chip.received) || (next == coming[0].tail)) {
        return; /* a full ring loses the byte: the line's check finds out */
    }
    coming[0].bytes[coming[0].head] = chip.received;
    coming[0].head = next;
}

void on_sent(void)
{
    if (going[0].tail != going[0].head) {
        chip_send(going[0].bytes[going[0].tail++]);
    }
}

void on_ball_edge(void)
{
    if (board_ball_blocked(0u)) {
        fence_ball(0u);
    }
}

/* In steps of 4 us: the counter wraps at 2^32 us, the stamps must wrap at 2^32 steps. */
void on_tach(uint8_t wheel)
{
    static uint32_t last, upper;

    if (chip.ticks < last) {
        upper += 0x40000000u;
    }
    last = chip.ticks;
    pulses[wheel]++;
    stamps[wheel] = upper + (chip.ticks / 4u);
}

/* ---- time, locks, start ---- */

uint32_t board_now_ms(void)
{
    return milliseconds; /* 32 bits are read at once */
}

uint8_t board_start_cause(void)
{
    if ((cause & (CAUSE_COLD | CAUSE_SAG)) != 0u) {
        return ((cause & CAUSE_COLD) != 0u) ? CAUSE_POWER : CAUSE_BROWN_OUT;
    }
    return ((cause & CAUSE_DOG) != 0u) ? CAUSE_WATCHDOG : CAUSE_RESET;
}

uint8_t board_lock(void)
{
    uint8_t before = chip.masked ? 1u : 0u;

    chip.masked = true;
    return before;
}

void board_unlock(uint8_t before)
{
    chip.masked = before != 0u;
}

void board_alive(void)
{
    chip.dog = 120u;
}

bool board_read(uint8_t link, uint8_t *byte)
{
    if (coming[link].tail == coming[link].head) {
        return false;
    }
    *byte = coming[link].bytes[coming[link].tail++];
    return true;
}

uint8_t board_write_room(uint8_t link)
{
    return (uint8_t)((uint8_t)(going[link].tail - going[link].head) - 1u) / 2u;
}

void board_write(uint8_t link, uint8_t byte)
{
    uint8_t before = board_lock();

    going[link].bytes[going[link].head++] = byte;
    if (chip.can_send) {
        on_sent(); /* nothing is on its way: nobody else would begin */
    }
    board_unlock(before);
}

static void put(uint8_t bit, bool on)
{
    uint8_t before = board_lock();

    chip.out = (uint8_t)(on ? (chip.out | bit) : (chip.out & ~bit));
    board_unlock(before);
}

void board_power(bool on)
{
    put(OUT_CONTACTOR, on);
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    chip.level[wheel] = (uint16_t)((duty * 1000uL) / 255u);
}

void board_gate(bool open)
{
    put(OUT_GATE, open);
}

void board_servo(uint8_t axis, uint16_t us)
{
    chip.pulse[axis] = us / 2u;
}

void board_lamp(bool on)
{
    put(OUT_LAMP, on);
}

/* ---- inputs: all pulled up, so that a broken wire reads as the safe thing ---- */

bool board_stop_loop_open(void)
{
    return (chip.in & IN_LOOP) != 0u;
}

bool board_arm_switch(void)
{
    return (chip.in & IN_SWITCH) == 0u;
}

bool board_ball_blocked(uint8_t sensor)
{
    return (sensor == 0u) && ((chip.in & IN_BALL) == 0u);
}

bool board_ball_ready(void)
{
    return (chip.in & IN_READY) == 0u;
}

bool board_setup_jumper(void)
{
    return (chip.in & IN_JUMPER) == 0u;
}

void board_tach(uint8_t wheel, uint16_t *count, uint32_t *stamp)
{
    uint8_t before = board_lock();

    *count = pulses[wheel];
    *stamp = stamps[wheel];
    board_unlock(before);
}

int32_t board_supply_mv(void)
{
    return ((int32_t)chip.analog[0] * 24000) / 4096;
}

int32_t board_temperature_c(uint8_t part)
{
    (void)part;
    return ((int32_t)chip.analog[1] * 250) / 4096;
}

static uint16_t word_at(uint8_t which, uint16_t at)
{
    return (uint16_t)(chip.flash[which][at] | (chip.flash[which][at + 1u] << 8));
}

static uint16_t check_of(uint8_t which)
{
    uint16_t crc = CRC16_START;

    for (uint16_t at = 0u; at < CHECK_AT; at++) {
        crc = crc16(crc, chip.flash[which][at]);
    }
    return crc;
}

static void find_kept(void)
{
    bool first = check_of(0u) == word_at(0u, CHECK_AT);
    bool second = check_of(1u) == word_at(1u, CHECK_AT);
    bool later = (int16_t)(uint16_t)(word_at(1u, GENERATION_AT) - word_at(0u, GENERATION_AT)) > 0;

    sector = (second && (!first || later)) ? 1u : 0u;
    generation = (first || second) ? word_at(sector, GENERATION_AT) : 0u;
    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        kept[at] = (first || second) ? chip.flash[sector][at] : 0xFFu;
    }
    changed = false;
}

static void program_word(uint8_t which, uint16_t at, uint16_t value)
{
    chip_program(which, at, (uint8_t)value);
    chip_program(which, (uint16_t)(at + 1u), (uint8_t)(value >> 8));
}

uint8_t board_store_read(uint16_t at)
{
    return kept[at];
}

void board_store_write(uint16_t at, uint8_t value)
{
    changed = changed || (kept[at] != value);
    kept[at] = value;
}

void board_store_commit(void)
{
    uint8_t other = sector ^ 1u;

    if (!changed) {
        return;
    }
    chip_erase(other);
    for (uint16_t at = 0u; at < STORE_BYTES; at++) {
        chip_program(other, at, kept[at]);
    }
    generation++;
    program_word(other, GENERATION_AT, generation);
    program_word(other, CHECK_AT, check_of(other));
    sector = other;
    changed = false;
}

/* ---- start ---- */

void firmware_start(void)
{
    cause = chip.cause;
    chip.cause = 0u;
    chip.out = 0u;
    chip.drive = OUT_CONTACTOR | OUT_GATE | OUT_LAMP;
    milliseconds = 0u;
    coming[0].head = coming[0].tail;
    going[0].head = going[0].tail;
    find_kept();
    board_alive();
    launcher_begin();
}

void firmware_loop(void)
{
    launcher_poll();
}
