#include "store/store.h"

#include "board.h"
#include "guard/fence.h"
#include "rom.h"
#include "wire/crc16.h"
#include "wire/wire.h"

/* Layout. Each record is followed by its CRC, high byte first. */
#define SLOT_BYTES 6u /* boot count and CRC; two slots written in turn */
#define AT_BOOT 0u
#define AT_NUMBERS 16u
#define COUNT_LIMITS (NUMBER_LAST)
#define COUNT_BOARD ((NUMBER_BOARD_LAST - NUMBER_BOARD) + 1u)
#define COUNT_NUMBERS (COUNT_LIMITS + COUNT_BOARD)
#define NUMBERS_BYTES (COUNT_NUMBERS * 4u)
#define AT_HASH (AT_NUMBERS + NUMBERS_BYTES + 2u)
#define AT_KEY (AT_HASH + 34u)
#define AT_OWN (AT_KEY + 34u)
#define DIGEST_BYTES 32u
/* Numbers are kept so turned that erased memory reads as unset: setting one writes only itself. */
#define TURNED 0x7FFFFFFFuL

_Static_assert((AT_OWN + 6u) <= STORE_LOG_AT, "the records must fit before the log");
_Static_assert((STORE_NAME_AT + DIGEST_BYTES + 2u) <= STORE_BYTES, "the name must fit the memory");
_Static_assert(NAME_BYTES == DIGEST_BYTES, "a name is kept as a digest is");

static int32_t numbers[COUNT_NUMBERS];
static uint32_t boot;
static bool spoiled;

static void put(uint16_t at, uint8_t value)
{
    fence_alive();
    if (board_store_read(at) != value) {
        board_store_write(at, value);
    }
}

static uint16_t check(uint16_t at, uint16_t bytes)
{
    uint16_t crc = CRC16_START;

    for (uint16_t i = 0u; i < bytes; i++) {
        crc = crc16(crc, board_store_read((uint16_t)(at + i)));
    }
    return crc;
}

static bool sound(uint16_t at, uint16_t bytes)
{
    uint16_t crc = check(at, bytes);
    uint16_t end = (uint16_t)(at + bytes);

    return (board_store_read(end) == (uint8_t)(crc >> 8)) &&
           (board_store_read((uint16_t)(end + 1u)) == (uint8_t)crc);
}

static void seal(uint16_t at, uint16_t bytes)
{
    uint16_t crc = check(at, bytes);

    put((uint16_t)(at + bytes), (uint8_t)(crc >> 8));
    put((uint16_t)(at + bytes + 1u), (uint8_t)crc);
    board_store_commit();
}

static uint32_t read_long(uint16_t at)
{
    uint32_t value = 0u;

    for (uint8_t i = 0u; i < 4u; i++) {
        value |= (uint32_t)board_store_read((uint16_t)(at + i)) << (8u * i);
    }
    return value;
}

static void write_long(uint16_t at, uint32_t value)
{
    for (uint8_t i = 0u; i < 4u; i++) {
        put((uint16_t)(at + i), (uint8_t)(value >> (8u * i)));
    }
}

static bool blank(uint16_t at, uint16_t bytes)
{
    for (uint16_t i = 0u; i < bytes; i++) {
        if (board_store_read((uint16_t)(at + i)) != 0xFFu) {
            return false;
        }
    }
    return true;
}

/* Two slots in turn: a supply that fails while one is written leaves the other. */
static void count_boot(void)
{
    uint32_t newest = 0u;

    for (uint8_t slot = 0u; slot < 2u; slot++) {
        uint16_t at = (uint16_t)(AT_BOOT + ((uint16_t)slot * SLOT_BYTES));
        uint32_t value = read_long(at);
        if (sound(at, 4u) && (value > newest)) {
            newest = value;
        }
    }
    boot = newest + 1u;
    uint16_t into = (uint16_t)(AT_BOOT + ((boot & 1u) * SLOT_BYTES));
    write_long(into, boot);
    seal(into, 4u);
}

void store_begin(void)
{
    bool good = sound(AT_NUMBERS, NUMBERS_BYTES);

    spoiled = !good && !blank(AT_NUMBERS, NUMBERS_BYTES + 2u);
    for (uint8_t i = 0u; i < COUNT_NUMBERS; i++) {
        uint16_t at = (uint16_t)(AT_NUMBERS + ((uint16_t)i * 4u));
        numbers[i] = good ? (int32_t)(read_long(at) ^ TURNED) : UNSET;
    }
    count_boot();
}

uint32_t store_boot(void)
{
    return boot;
}

bool store_spoiled(void)
{
    return spoiled;
}

bool store_knows(uint32_t number)
{
    return ((number >= 1u) && (number <= NUMBER_LAST)) ||
           ((number >= NUMBER_BOARD) && (number <= NUMBER_BOARD_LAST));
}

static uint8_t index_of(uint8_t number)
{
    if (number < NUMBER_BOARD) {
        return (uint8_t)(number - 1u);
    }
    return (uint8_t)((number - NUMBER_BOARD) + COUNT_LIMITS);
}

static uint8_t number_at(uint8_t index)
{
    if (index < COUNT_LIMITS) {
        return (uint8_t)(index + 1u);
    }
    return (uint8_t)((index - COUNT_LIMITS) + NUMBER_BOARD);
}

int32_t store_number(uint8_t number)
{
    return store_knows(number) ? numbers[index_of(number)] : UNSET;
}

/* Spoils a digest's check: the least writing that makes it worth nothing. */
static void forget(uint16_t at)
{
    if (sound(at, DIGEST_BYTES)) {
        uint16_t last = (uint16_t)(at + DIGEST_BYTES + 1u);
        put(last, (uint8_t)(board_store_read(last) ^ 0xFFu));
        board_store_commit();
    }
}

/* What each number may be at all; a slip of the pen shall not become a limit. */
static const int32_t bounds[COUNT_NUMBERS][2] ROM = {
    {0, (VALVE == 0u) ? 32000 : VALVE_MOST_MS},           /* drives */
    {0, (WHEELS > 1u) ? 32000 : 0}, {0, (WHEELS > 2u) ? 32000 : 0},
    {-18000, 18000}, {-18000, 18000},                     /* pan */
    {-9000, 9000}, {-9000, 9000},                         /* tilt */
    {0, 0}, {0, 0},                                       /* roll: there is none */
    {200, 600000}, {0, 10000},                            /* interval, hopper */
    {1, 2000}, {0, 5000}, {0, 5000},                      /* settle, lead, clear */
    {RATE_LEAST, 360000}, {RATE_LEAST, 360000},           /* rates */
    {0, 120000}, {0, 60000}, {-40, 200}, {0, 1},          /* hold, voltage, temperature, key */
    {1, 1000}, {100, (VALVE == 0u) ? 32000 : 120000}, {5, VALVE_MOST_MS}, /* pulses, full speed or filling, gate */
    {500, 2500}, {-2000, 2000}, {500, 2500}, {-2000, 2000}, /* servos */
    {500, 2500}, {500, 2500},
#if STEPPERS != 0
    {200, 32000}, {-18000, 18000}, {100, 36000}, {10, 36000}, {100, 1000000}, {1, 2000}, /* pan */
    {200, 32000}, {-18000, 18000}, {100, 36000}, {10, 36000}, {100, 1000000}, {1, 2000}, /* tilt */
#endif
};

bool store_allows(uint8_t number, int32_t value)
{
    if (!store_knows(number)) {
        return false;
    }
    const int32_t *row = bounds[index_of(number)];
    int32_t least = (int32_t)rom_long(&row[0]);
    int32_t most = (int32_t)rom_long(&row[1]);

    return (value == UNSET) || ((value >= least) && (value <= most));
}

void store_set(uint8_t number, int32_t value)
{
    if (!store_knows(number)) {
        return;
    }
    if (number < NUMBER_KEY_NEEDED) { /* that one is no limit of the machine */
        forget(AT_HASH);
    }
    numbers[index_of(number)] = value;
    /* All of them: after a failed check what lies there is not what is in force. */
    for (uint8_t i = 0u; i < COUNT_NUMBERS; i++) {
        write_long((uint16_t)(AT_NUMBERS + ((uint16_t)i * 4u)), (uint32_t)numbers[i] ^ TURNED);
    }
    seal(AT_NUMBERS, NUMBERS_BYTES);
    spoiled = false;
}

/* The limits of every launcher, and what this one's axes are led by. */
static bool is_needed(uint8_t number)
{
    const uint8_t tilt = 1u << 1u;

    if (number < NUMBER_BOARD) {
        return number <= NUMBER_LAST_NEEDED;
    }
    if (number < NUMBER_PAN_US) {
        return (VALVE == 0u) || (number == NUMBER_FILL_MS);
    }
    if (number < NUMBER_TILT_US) {
        return (STEPPERS & 1u) == 0u;
    }
    if (number < NUMBER_SERVO_LEAST) {
        return (STEPPERS & tilt) == 0u;
    }
    if (number <= NUMBER_SERVOS_LAST) {
        return STEPPERS < ((1u << AXES) - 1u);
    }
    return (STEPPERS & ((number < NUMBER_TILT_STEPS) ? 1u : tilt)) != 0u;
}

bool store_complete(uint8_t *missing)
{
    for (uint8_t i = 0u; i < COUNT_NUMBERS; i++) {
        if ((numbers[i] == UNSET) && is_needed(number_at(i))) {
            *missing = number_at(i);
            return false;
        }
    }
    *missing = 0u;
    return sound(AT_HASH, DIGEST_BYTES);
}

static void store_digest(uint16_t at, const uint8_t *bytes)
{
    for (uint8_t i = 0u; i < DIGEST_BYTES; i++) {
        put((uint16_t)(at + i), bytes[i]);
    }
    seal(at, DIGEST_BYTES);
}

static bool load_digest(uint16_t at, uint8_t *bytes)
{
    bool good = sound(at, DIGEST_BYTES);

    for (uint8_t i = 0u; i < DIGEST_BYTES; i++) {
        bytes[i] = good ? board_store_read((uint16_t)(at + i)) : 0u;
    }
    return good;
}

void store_hash(uint8_t *bytes)
{
    (void)load_digest(AT_HASH, bytes);
}

void store_set_hash(const uint8_t *bytes)
{
    store_digest(AT_HASH, bytes);
}

int32_t store_own(void)
{
    return sound(AT_OWN, 4u) ? (int32_t)read_long(AT_OWN) : UNSET;
}

void store_set_own(int32_t number)
{
    write_long(AT_OWN, (uint32_t)number);
    seal(AT_OWN, 4u);
}

bool store_name(uint8_t *bytes)
{
    return load_digest(STORE_NAME_AT, bytes);
}

void store_set_name(const uint8_t *bytes)
{
    store_digest(STORE_NAME_AT, bytes);
}

bool store_key(uint8_t *bytes)
{
    return load_digest(AT_KEY, bytes);
}

void store_set_key(const uint8_t *bytes)
{
    store_digest(AT_KEY, bytes);
}

void store_forget_key(void)
{
    forget(AT_KEY);
    for (uint16_t i = 0u; i < DIGEST_BYTES; i++) {
        put((uint16_t)(AT_KEY + i), 0xFFu);
    }
    board_store_commit();
}
