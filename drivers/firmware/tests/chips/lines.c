/* Lines without end, drawn from a seed, read and answered by the core as this compiler made it: after
 * every 2,500 the digest of all answers is told. Whatever comes in, no output goes on: no
 * person has acted. Different compilers must tell the same digests.
 *
 * Most lines are a command with numbers at, near and past their ends and a right check; some are cut,
 * doubled, spoilt by one character, wrongly checked, or noise. */
#include "board.h"
#include "commands/commands.h"
#include "commands/dialogue.h"
#include "guard/fence.h"
#include "launcher.h"
#include "rom.h"
#include "store/store.h"
#include "tell.h"
#include "wire/crc16.h"
#include "wire/text.h"

#define LEG 2500u
#define MOST 160u

static uint8_t line[MOST];
static uint8_t length;
static uint8_t taken;
static uint8_t stored[STORE_BYTES];
static uint32_t chance = 2463534242uL;
static uint32_t digest = 2166136261uL;
static uint32_t clock_ms;
static uint16_t sequence;
static bool powered;

/* ---- the board ---- */

uint32_t board_now_ms(void) { return clock_ms; }
uint8_t board_start_cause(void) { return CAUSE_POWER; }
uint8_t board_lock(void) { return 0u; }
void board_unlock(uint8_t before) { (void)before; }
uint8_t board_write_room(uint8_t link) { (void)link; return 255u; }
const link_kind_t board_links[LINKS] = {LINK_CABLE};
const sensor_t board_sensors[] ROM = {
    {SENSES_BALL, 0u}, {SENSES_GATE, 0u}, {SENSES_WHEEL, 0u}, {SENSES_WHEEL, 1u}, {SENSES_HOME, 0u},
    {SENSES_HOME, 1u}, {SENSES_SUPPLY, 0u}, {SENSES_TEMPERATURE, 0u}, {SENSES_END, 0u},
};
void board_power(bool on) { powered = powered || on; }
void board_gate(bool open) { powered = powered || open; }
void board_lamp(bool on) { (void)on; }
bool board_stop_loop_open(void) { return false; }
bool board_arm_switch(void) { return false; }
bool board_ball_blocked(uint8_t sensor) { (void)sensor; return false; }
bool board_ball_ready(void) { return true; }
bool board_setup_jumper(void) { return (clock_ms & 0x8000u) == 0u; }
int32_t board_supply_mv(void) { return 12000; }
int32_t board_temperature_c(uint8_t part) { (void)part; return 25; }
uint8_t board_store_read(uint16_t at) { return stored[at]; }
void board_store_write(uint16_t at, uint8_t value) { stored[at] = value; }
void board_store_commit(void) { /* nothing is kept longer than the run */ }
void board_alive(void) { /* nobody watches */ }

bool board_read(uint8_t link, uint8_t *byte)
{
    if ((link != 0u) || (taken == length)) {
        return false;
    }
    *byte = line[taken];
    taken++;
    return true;
}

/* FNV-1a, 32 bits. */
void board_write(uint8_t link, uint8_t byte)
{
    (void)link;
    digest = (digest ^ byte) * 16777619uL;
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    (void)wheel;
    powered = powered || (duty != 0u);
}

void board_servo(uint8_t axis, uint16_t us)
{
    (void)axis;
    powered = powered || (us != 0u);
}

#if STEPPERS != 0
bool board_axis_near(uint8_t axis)
{
    (void)axis;
    return (clock_ms & 0x4000u) == 0u;
}

void board_step(uint8_t axis, bool forward)
{
    (void)axis;
    (void)forward;
    powered = true;
}
#endif

void board_tach(uint8_t wheel, uint16_t *pulses, uint32_t *stamp)
{
    (void)wheel;
    *pulses = 0u;
    *stamp = 0u;
}

/* ---- drawing ---- */

/* Xorshift, 32 bits (G. Marsaglia, 2003, 13-17-5). */
static uint8_t draw(uint8_t below)
{
    chance ^= chance << 13;
    chance ^= chance >> 17;
    chance ^= chance << 5;
    return (uint8_t)(((uint16_t)(chance >> 24) * below) >> 8);
}

static void add(uint8_t byte)
{
    if (length < (MOST - 8u)) {
        line[length] = byte;
        length++;
    }
}

static void add_number(uint32_t value)
{
    body_t digits;

    body_clear(&digits);
    body_number(&digits, value);
    for (uint8_t i = (digits.text[0] == ' ') ? 1u : 0u; i < digits.length; i++) {
        add((uint8_t)digits.text[i]);
    }
}

static const char words[][8] ROM = {
    "HELLO", "WHO", "OPEN", "ARM", "CODE", "DISARM", "PREP", "FEED", "HOLD", "GO", "STOP", "STAT",
    "POSE", "HIST", "EVT", "GET", "SET", "HASH", "PAIR", "UNPAIR", "CNTS", "LOG", "OK", "NO", "BOOT",
};
static const uint8_t counts[] ROM = {
    2, 0, 2, 3, 1, 0, 6, 8, 0, 0, 1, 0, 0, 1, 1, 1, 2, 0, 0, 0, 0, 3, 2, 2,
};
#define WORDS ((uint8_t)sizeof counts)

static const uint32_t ends[] ROM = {
    0u, 1u, 2u, 3u, 12u, 20u, 64u, 1000u, 32767u, 32768u, 65535u, 65536u, 18000u, 18001u,
    2147483647uL, 2147483648uL, 4294967295uL,
};
#define ENDS ((uint8_t)(sizeof ends / sizeof ends[0]))

/* One draw a statement: between two in one, compilers choose their order. */
static uint32_t draw_number(void)
{
    uint8_t shift = draw(32u);
    uint8_t end = draw(ENDS);
    uint8_t past = draw(8u);

    if (draw(3u) == 0u) {
        return chance >> shift;
    }
    return rom_long(&ends[end]) + ((past == 0u) ? 1u : 0u);
}

static void add_argument(void)
{
    add(' ');
    if (draw(4u) == 0u) {
        add('-');
    }
    add_number(draw_number());
}

static void add_digest(void)
{
    add(' ');
    for (uint8_t i = 0u; i < 64u; i++) {
        add((uint8_t)hex_digit(draw(16u)));
    }
}

static void add_command(void)
{
    uint8_t which = draw(WORDS);

    sequence = (uint16_t)(sequence + ((draw(16u) == 0u) ? draw(64u) : 1u));
    add_number(sequence);
    add(' ');
    for (uint8_t i = 0u; (i < 7u) && (rom_byte(&words[which][i]) != 0u); i++) {
        add(rom_byte(&words[which][i]));
    }
    for (uint8_t i = rom_byte(&counts[which]); i > 0u; i--) {
        add_argument();
    }
    if ((which == 17u) || (which == 18u)) {
        add_digest();
    }
}

static void add_beat(void)
{
    add('T');
    add_argument();
    add_argument();
}

static void add_noise(void)
{
    for (uint8_t i = draw(40u); i > 0u; i--) {
        add(draw(255u));
    }
}

static void spoil(void)
{
    uint8_t at = draw(length);

    switch (draw(4u)) {
    case 0u:
        line[at] = (uint8_t)(' ' + draw(95u));
        break;
    case 1u:
        length = at;
        break;
    case 2u:
        add(line[at]);
        break;
    default:
        line[at] ^= (uint8_t)(1u << draw(8u));
        break;
    }
}

static void close_plain(void)
{
    uint16_t crc = CRC16_START;

    for (uint8_t i = 0u; i < length; i++) {
        crc = crc16(crc, line[i]);
    }
    add('*');
    for (uint8_t shift = 16u; shift > 0u; shift = (uint8_t)(shift - 4u)) {
        add((uint8_t)hex_digit((uint8_t)((uint16_t)(crc >> (shift - 4u)) & 15u)));
    }
}

static void close_keyed(void)
{
    add('#');
    for (uint8_t i = 0u; i < 24u; i++) {
        add((uint8_t)hex_digit(draw(16u)));
    }
}

static void draw_line(void)
{
    uint8_t kind = draw(16u);

    length = 0u;
    if (kind == 0u) {
        add_noise();
    } else if (kind == 1u) {
        add_beat();
    } else {
        add_command();
    }
    if ((length > 0u) && (draw(4u) == 0u)) {
        spoil();
    }
    if (draw(16u) == 0u) {
        close_keyed();
    } else {
        close_plain();
    }
    if ((length > 0u) && (draw(16u) == 0u)) {
        spoil();
    }
}

/* ---- one line ---- */

/* As the receive interrupt does it: what stops is taken out. */
static void arrive(void)
{
    uint8_t kept = 0u;

    for (uint8_t i = 0u; i < length; i++) {
        if (!fence_byte(line[i])) {
            line[kept] = line[i];
            kept++;
        }
    }
    line[kept] = (uint8_t)'\n';
    length = (uint8_t)(kept + 1u);
    taken = 0u;
}

static void answer(void)
{
    while (taken < length) {
        dialogue_read();
        dialogue_write();
    }
    clock_ms++;
}

/* Each from a new start, as after a cut of the power. */
static void run_leg(void)
{
    launcher_begin();
    for (uint16_t i = 0u; i < LEG; i++) {
        draw_line();
        arrive();
        answer();
    }
}

int main(void)
{
    for (uint16_t i = 0u; i < STORE_BYTES; i++) {
        stored[i] = 0xFFu;
    }
    while (!powered) {
        run_leg();
        tell_number(digest);
    }
    tell_end();
    return 1;
}
