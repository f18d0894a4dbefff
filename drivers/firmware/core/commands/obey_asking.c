/* Commands that only ask (HIST also settles what it asks about). */
#include "commands/obey.h"

#include "board.h"
#include "feeding/events.h"
#include "feeding/feeder.h"
#include "feeding/memory.h"
#include "feeding/state.h"
#include "link/link.h"
#include "motion/axes.h"
#include "motion/drives.h"
#include "rom.h"
#include "sensing/sensors.h"
#include "store/fault_log.h"
#include "store/store.h"

/* ---- who are you ---- */

#if WHEELS > 2
#define CAPABILITIES (CAPS | CAP_THIRD_DRIVE)
#else
#define CAPABILITIES CAPS
#endif

refusal_t obey_hello(const arguments_t *arguments, body_t *reply)
{
    if ((arguments->value[0] > WIRE_VERSION) || (arguments->value[1] < WIRE_VERSION)) {
        return no(NO_VERSION);
    }
    body_number(reply, WIRE_VERSION);
    body_number(reply, store_boot());
    body_number(reply, link_host_counter());
    body_hex(reply, CAPABILITIES | sensors_capabilities());
    body_number(reply, SILENCE_MS);
    body_number(reply, WATCHDOG_MS);
    body_number(reply, QUEUE_PLACES);
    body_number(reply, HORIZON_MS);
    return fine();
}

static const char serial[] ROM = " reference-";
static const char serial_of_none[] ROM = "new";
static const char name[] ROM = " feedscript-reference";

static void put_name(body_t *reply)
{
    uint8_t bytes[NAME_BYTES];

    if (!store_name(bytes)) {
        body_rom(reply, name);
        return;
    }
    body_char(reply, ' ');
    for (uint8_t i = 0u; (i < NAME_BYTES) && (bytes[i] != 0u); i++) {
        body_char(reply, (char)bytes[i]);
    }
}

refusal_t obey_who(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    int32_t own = store_own();

    body_rom(reply, serial);
    if (own == UNSET) {
        body_rom(reply, serial_of_none);
    } else {
        for (uint8_t shift = 32u; shift > 0u; shift = (uint8_t)(shift - 4u)) {
            body_char(reply, hex_digit((uint8_t)((uint32_t)own >> (shift - 4u))));
        }
    }
    put_name(reply);
    return fine();
}

/* ---- asking ---- */

refusal_t obey_stat(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    body_number(reply, (uint32_t)state_now());
    body_number(reply, (uint32_t)state_reason());
    body_number(reply, board_now_ms());
    body_number(reply, memory_left());
    body_number(reply, memory_highest());
    body_number(reply, (uint32_t)feeder_queued() + (feeder_clear() ? 0u : 1u));
    body_signed(reply, -1); /* the balls in the hopper are not counted */
    for (uint8_t i = 0u; i < 3u; i++) {
        body_number(reply, (i < WHEELS) ? drives_measured(i) : 0u);
    }
    body_number(reply, events_last());
    return fine();
}

refusal_t obey_pose(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    for (uint8_t i = 0u; i < 3u; i++) {
        body_signed(reply, (i < AXES) ? axes_position(i) : 0);
    }
    return fine();
}

static const char outcome_letters[] ROM = "QLNU";

refusal_t obey_hist(const arguments_t *arguments, body_t *reply)
{
    feed_record_t record;

    memory_ask(arguments->value[0], &record);
    body_number(reply, record.id);
    body_char(reply, ' ');
    body_char(reply, (char)rom_byte(&outcome_letters[record.outcome]));
    body_number(reply, record.at_ms);
    body_number(reply, record.reason);
    return fine();
}

refusal_t obey_evt(const arguments_t *arguments, body_t *reply)
{
    uint16_t oldest;

    if (!events_again((uint16_t)arguments->value[0], &oldest)) {
        return no_with(NO_KEPT, oldest);
    }
    body_number(reply, oldest);
    body_number(reply, events_last());
    return fine();
}

refusal_t obey_get(const arguments_t *arguments, body_t *reply)
{
    uint32_t number = arguments->value[0];
    int32_t value = UNSET;

    if (number == NUMBER_VOLTAGE) {
        value = sensors_supply_mv();
    } else if (number == NUMBER_TEMPERATURE) {
        value = sensors_temperature_c();
    } else if (number == NUMBER_HOMING) {
        value = axes_homing_ms();
    } else if (number == NUMBER_FIRMWARE) {
        value = FIRMWARE_VERSION;
    } else if (number == NUMBER_OWN) {
        value = store_own();
    } else if (store_knows(number)) {
        value = store_number((uint8_t)number);
    } else {
        /* nobody knows it: unset */
    }
    body_number(reply, number);
    body_signed(reply, value);
    return fine();
}

refusal_t obey_cnts(const arguments_t *arguments, body_t *reply)
{
    const link_counts_t *counts = link_counts();

    (void)arguments;
    body_number(reply, counts->bad);
    body_number(reply, counts->stale);
    body_number(reply, counts->forged);
    body_number(reply, counts->longer);
    return fine();
}

refusal_t obey_log(const arguments_t *arguments, body_t *reply)
{
    uint32_t back = arguments->value[0];
    log_row_t row;

    if ((back >= LOG_ROWS) || !fault_log_read((uint8_t)back, &row)) {
        return no_with(NO_KEPT, fault_log_kept());
    }
    body_number(reply, row.boot);
    body_number(reply, row.second);
    body_number(reply, row.what);
    body_signed(reply, row.detail);
    return fine();
}
