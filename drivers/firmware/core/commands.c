#include "commands.h"

#include "axes.h"
#include "board.h"
#include "drives.h"
#include "events.h"
#include "feeder.h"
#include "fence.h"
#include "link.h"
#include "memory.h"
#include "rom.h"
#include "state.h"
#include "store.h"

#define ARGUMENTS_MOST 8u

#define NEEDS_SESSION 0x01u
#define NEEDS_FULL 0x02u /* not for who may only read and stop */
#define NEEDS_CABLE 0x04u

/* An argument as its bits; `d`, `a` and `i` kinds are two's complement. */
typedef struct {
    uint32_t value[ARGUMENTS_MOST];
    uint8_t count;
    uint8_t digest[32];
    bool has_digest;
    standing_t standing;
} arguments_t;

/* Why a command is refused; `detail` only if `has_detail`. */
typedef struct {
    no_t code;
    bool has_detail;
    uint32_t detail;
} refusal_t;

typedef refusal_t (*obey_t)(const arguments_t *arguments, body_t *reply);

typedef struct {
    char word[8];
    char kinds[10];
    uint8_t needs;
    obey_t obey;
} command_t;

static uint16_t ceiling[3];

void commands_begin(void)
{
    for (uint8_t i = 0u; i < 3u; i++) {
        ceiling[i] = 0u;
    }
}

static refusal_t fine(void)
{
    const refusal_t none = {NO_NONE, false, 0u};
    return none;
}

static refusal_t no(no_t code)
{
    const refusal_t refusal = {code, false, 0u};
    return refusal;
}

static refusal_t no_with(no_t code, uint32_t detail)
{
    const refusal_t refusal = {code, true, detail};
    return refusal;
}

/* ---- who are you ---- */

static refusal_t obey_hello(const arguments_t *arguments, body_t *reply)
{
    if ((arguments->value[0] > WIRE_VERSION) || (arguments->value[1] < WIRE_VERSION)) {
        return no(NO_VERSION);
    }
    body_number(reply, WIRE_VERSION);
    body_number(reply, store_boot());
    body_number(reply, link_host_counter());
    body_hex(reply, CAPS);
    body_number(reply, SILENCE_MS);
    body_number(reply, WATCHDOG_MS);
    body_number(reply, QUEUE_PLACES);
    body_number(reply, HORIZON_MS);
    return fine();
}

static const char serial[] ROM = " reference-1";
static const char name[] ROM = " feedscript-reference";

static refusal_t obey_who(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    body_rom(reply, serial);
    body_rom(reply, name);
    return fine();
}

static refusal_t obey_open(const arguments_t *arguments, body_t *reply)
{
    state_make_safe(REASON_OPENED);
    if ((state_now() == STATE_FAULT) && (state_cause_present() == FAULT_NONE)) {
        state_go((fence_mode() == FENCE_DOWN) ? STATE_STOPPING : STATE_SAFE, REASON_OPENED);
    }
    commands_begin();
    bool kept = memory_open(arguments->value[0]);
    link_opened(arguments->value[1]);
    body_number(reply, kept ? 1u : 0u);
    body_number(reply, memory_highest());
    body_number(reply, memory_left());
    body_number(reply, events_last());
    return fine();
}

/* ---- arming ---- */

static refusal_t obey_arm(const arguments_t *arguments, body_t *reply)
{
    uint8_t missing;
    fault_t cause = state_cause_present();
    state_t state = state_now();

    (void)reply;
    if (state == STATE_STOPPED) {
        return no(NO_LATCHED);
    }
    if ((state != STATE_SAFE) && (state != STATE_FAULT)) {
        return no_with(NO_STATE, (uint32_t)state);
    }
    if (cause != FAULT_NONE) {
        return no_with(NO_FAULT, (uint32_t)cause);
    }
    if (state != STATE_SAFE) {
        return no_with(NO_STATE, (uint32_t)state);
    }
    if (!store_complete(&missing)) {
        return no_with(NO_CONFIGURED, missing);
    }
    for (uint8_t i = 0u; i < 3u; i++) {
        ceiling[i] = (uint16_t)arguments->value[i];
        if (i < WHEELS) {
            drives_ceiling(i, ceiling[i]);
        }
    }
    state_go(STATE_AWAITING_ARM, REASON_HOST);
    return fine();
}

static refusal_t obey_code(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    return no(NO_CAPABLE); /* this launcher has a switch, not a display */
}

static refusal_t obey_disarm(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    if (state_now() == STATE_STOPPED) {
        return no(NO_LATCHED);
    }
    if (state_now() == STATE_FAULT) {
        fault_t cause = state_cause_present();
        if (cause != FAULT_NONE) {
            return no_with(NO_FAULT, (uint32_t)cause);
        }
        state_go((fence_mode() == FENCE_DOWN) ? STATE_STOPPING : STATE_SAFE, REASON_HOST);
    }
    state_make_safe(REASON_HOST);
    link_hold_reply();
    return fine();
}

/* ---- feeding ---- */

/* Three drives and three angles from the arguments; the number of the limit they break, or 0. */
static uint8_t read_setting(const uint32_t *values, setting_t *setting)
{
    for (uint8_t i = 0u; i < 3u; i++) {
        int32_t rpm = (int32_t)values[i];
        /* these wheels turn one way; what the launcher lacks must be 0 */
        int32_t most = (i < WHEELS) ? store_number((uint8_t)(NUMBER_DRIVE_1 + i)) : 0;
        if ((rpm < 0) || (rpm > most)) {
            return (uint8_t)(NUMBER_DRIVE_1 + i);
        }
        if (i < WHEELS) {
            setting->drives[i] = (uint16_t)rpm;
        }
    }
    for (uint8_t i = 0u; i < 3u; i++) {
        int32_t cdeg = (int32_t)values[i + 3u];
        uint8_t least = (uint8_t)(NUMBER_PAN_LEAST + (2u * i));
        bool lacking = i >= AXES;
        if (cdeg < (lacking ? 0 : store_number(least))) {
            return least;
        }
        if (cdeg > (lacking ? 0 : store_number((uint8_t)(least + 1u)))) {
            return (uint8_t)(least + 1u);
        }
        if (!lacking) {
            setting->angles[i] = (int16_t)cdeg;
        }
    }
    return 0u;
}

static refusal_t check_setting(const uint32_t *values, setting_t *setting)
{
    uint8_t broken = read_setting(values, setting);

    if (broken != 0u) {
        return no_with(NO_LIMIT, broken);
    }
    for (uint8_t i = 0u; i < WHEELS; i++) {
        if (setting->drives[i] > ceiling[i]) {
            return no_with(NO_CEILING, (uint32_t)i + 1u);
        }
    }
    return fine();
}

static refusal_t check_armed(void)
{
    if (state_now() == STATE_HELD) {
        return no(NO_HELD);
    }
    if (state_now() != STATE_ARMED) {
        return no_with(NO_STATE, (uint32_t)state_now());
    }
    return fine();
}

static refusal_t obey_prep(const arguments_t *arguments, body_t *reply)
{
    setting_t setting;
    refusal_t refusal = check_armed();

    (void)reply;
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    if ((feeder_queued() > 0u) || !feeder_clear()) {
        return no(NO_QUEUE); /* the wheels belong to the ball that is on its way */
    }
    refusal = check_setting(arguments->value, &setting);
    if (refusal.code == NO_NONE) {
        feeder_prepare(&setting);
    }
    return refusal;
}

static refusal_t check_moment(uint32_t leave)
{
    uint32_t now = board_now_ms();
    int32_t ahead = (int32_t)(leave - now);
    int32_t interval = store_number(NUMBER_INTERVAL);
    uint32_t before;

    if (ahead < store_number(NUMBER_LEAD)) {
        return no_with(NO_LATE, now);
    }
    if (ahead > (int32_t)HORIZON_MS) {
        return no_with(NO_FAR, HORIZON_MS);
    }
    if (feeder_before(&before) && ((int32_t)(leave - before) < interval)) {
        return no_with(NO_SOON, (uint32_t)interval);
    }
    return fine();
}

static refusal_t obey_feed(const arguments_t *arguments, body_t *reply)
{
    feed_t feed;
    refusal_t refusal = check_armed();

    (void)reply;
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    feed.id = arguments->value[0];
    feed.leave = arguments->value[1];
    if (feed.id <= memory_highest()) {
        return no_with(NO_ID, memory_highest());
    }
    if (feeder_queued() >= QUEUE_PLACES) {
        return no(NO_QUEUE);
    }
    refusal = check_setting(&arguments->value[2], &feed.setting);
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    refusal = check_moment(feed.leave);
    if (refusal.code == NO_NONE) {
        memory_accept(feed.id);
        feeder_add(&feed);
    }
    return refusal;
}

static refusal_t obey_hold(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    if (state_now() == STATE_ARMED) {
        state_go(STATE_HELD, REASON_HOST);
    }
    link_hold_reply();
    return fine();
}

static refusal_t obey_go(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    if (state_now() != STATE_HELD) {
        return no_with(NO_STATE, (uint32_t)state_now());
    }
    state_go(STATE_ARMED, REASON_HOST);
    return fine();
}

static refusal_t obey_stop(const arguments_t *arguments, body_t *reply)
{
    (void)reply;
    if (arguments->value[0] == 0u) {
        state_go(STATE_STOPPED, REASON_HOST);
    } else if (arguments->value[0] == 1u) {
        state_make_safe(REASON_HOST);
    } else {
        return no(NO_MALFORMED);
    }
    link_hold_reply();
    return fine();
}

/* ---- asking ---- */

static refusal_t obey_stat(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    body_number(reply, (uint32_t)state_now());
    body_number(reply, (uint32_t)state_reason());
    body_number(reply, board_now_ms());
    body_number(reply, memory_left());
    body_number(reply, memory_highest());
    body_number(reply, feeder_queued());
    body_signed(reply, -1); /* the balls in the hopper are not counted */
    body_number(reply, drives_rpm(0u));
    body_number(reply, drives_rpm(1u));
    body_number(reply, 0u);
    body_number(reply, events_last());
    return fine();
}

static refusal_t obey_pose(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    body_signed(reply, axes_position(PAN));
    body_signed(reply, axes_position(TILT));
    body_number(reply, 0u);
    return fine();
}

static const char outcome_letters[] ROM = "QLNU";

static refusal_t obey_hist(const arguments_t *arguments, body_t *reply)
{
    feed_record_t record;

    if (arguments->value[0] == 0u) {
        return no(NO_MALFORMED);
    }
    memory_ask(arguments->value[0], &record);
    body_number(reply, record.id);
    body_char(reply, ' ');
    body_char(reply, (char)rom_byte(&outcome_letters[record.outcome]));
    body_number(reply, record.at_ms);
    body_number(reply, record.reason);
    return fine();
}

static refusal_t obey_evt(const arguments_t *arguments, body_t *reply)
{
    uint16_t oldest;

    if (!events_again((uint16_t)arguments->value[0], &oldest)) {
        return no_with(NO_KEPT, oldest);
    }
    body_number(reply, oldest);
    body_number(reply, events_last());
    return fine();
}

static refusal_t obey_get(const arguments_t *arguments, body_t *reply)
{
    uint32_t number = arguments->value[0];
    int32_t value = UNSET;

    if (number == NUMBER_VOLTAGE) {
        value = board_supply_mv();
    } else if (number == NUMBER_TEMPERATURE) {
        value = board_temperature_c();
    } else if (store_knows(number)) {
        value = store_number((uint8_t)number);
    } else {
        /* nobody knows it: unset */
    }
    body_number(reply, number);
    body_signed(reply, value);
    return fine();
}

static refusal_t obey_cnts(const arguments_t *arguments, body_t *reply)
{
    const link_counts_t *counts = link_counts();

    (void)arguments;
    body_number(reply, counts->bad);
    body_number(reply, counts->stale);
    body_number(reply, counts->forged);
    body_number(reply, counts->longer);
    return fine();
}

/* ---- storing, at the cable and in safe only ---- */

static refusal_t check_storing(void)
{
    if (state_now() != STATE_SAFE) {
        return no_with(NO_STATE, (uint32_t)state_now());
    }
    return fine();
}

static refusal_t obey_set(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();
    uint32_t number = arguments->value[0];
    int32_t value = (int32_t)arguments->value[1];

    (void)reply;
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    if (!store_knows(number)) {
        return no(NO_CAPABLE);
    }
    if (!store_allows((uint8_t)number, value)) {
        return no_with(NO_LIMIT, number);
    }
    store_set((uint8_t)number, value);
    return fine();
}

static refusal_t obey_hash(const arguments_t *arguments, body_t *reply)
{
    uint8_t bytes[32];

    if (arguments->has_digest) {
        refusal_t refusal = check_storing();
        if (refusal.code == NO_NONE) {
            store_set_hash(arguments->digest);
        }
        return refusal;
    }
    store_hash(bytes);
    body_char(reply, ' ');
    for (uint8_t i = 0u; i < 32u; i++) {
        body_char(reply, hex_digit_small((uint8_t)(bytes[i] >> 4)));
        body_char(reply, hex_digit_small(bytes[i]));
    }
    return fine();
}

static refusal_t obey_pair(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();

    (void)reply;
    if (refusal.code == NO_NONE) {
        store_set_key(arguments->digest);
        link_take_key();
    }
    return refusal;
}

static refusal_t obey_unpair(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();

    (void)arguments;
    (void)reply;
    if (refusal.code == NO_NONE) {
        store_forget_key();
        link_take_key();
    }
    return refusal;
}

/* ---- the table ---- */

/* Kinds as in shared/protocol.json: u and U numbers of 16 and 32 bits, i stored number, c ceiling,
 * d drive, a angle, h digest, ? the one before may be missing. */
static const command_t commands[] ROM = {
    {"HELLO", "uu", 0u, obey_hello},
    {"WHO", "", 0u, obey_who},
    {"OPEN", "UU", NEEDS_FULL, obey_open},
    {"ARM", "ccc", NEEDS_FULL | NEEDS_SESSION, obey_arm},
    {"CODE", "U", NEEDS_FULL | NEEDS_SESSION, obey_code},
    {"DISARM", "", NEEDS_FULL | NEEDS_SESSION, obey_disarm},
    {"PREP", "dddaaa", NEEDS_FULL | NEEDS_SESSION, obey_prep},
    {"FEED", "UUdddaaa", NEEDS_FULL | NEEDS_SESSION, obey_feed},
    {"HOLD", "", NEEDS_FULL | NEEDS_SESSION, obey_hold},
    {"GO", "", NEEDS_FULL | NEEDS_SESSION, obey_go},
    {"STOP", "u", 0u, obey_stop},
    {"STAT", "", 0u, obey_stat},
    {"POSE", "", NEEDS_FULL | NEEDS_SESSION, obey_pose},
    {"HIST", "U", NEEDS_FULL | NEEDS_SESSION, obey_hist},
    {"EVT", "u", NEEDS_FULL | NEEDS_SESSION, obey_evt},
    {"GET", "u", 0u, obey_get},
    {"SET", "ui", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_set},
    {"HASH", "h?", 0u, obey_hash},
    {"PAIR", "h", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_pair},
    {"UNPAIR", "", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_unpair},
    {"CNTS", "", 0u, obey_cnts},
};

#define COMMANDS ((uint8_t)(sizeof commands / sizeof commands[0]))

bool command_is(const cursor_t *after_number, const char *rom_word)
{
    const char *at = after_number->at;
    const char *word = rom_word;

    while (rom_byte(word) != 0u) {
        if ((at >= after_number->end) || (*at != (char)rom_byte(word))) {
            return false;
        }
        at++;
        word++;
    }
    return (at == after_number->end) || (*at == ' ');
}

static uint8_t find(const cursor_t *words)
{
    uint8_t i = 0u;

    while ((i < COMMANDS) && !command_is(words, commands[i].word)) {
        i++;
    }
    return i;
}

static bool take_kind(char kind, cursor_t *cursor, arguments_t *arguments)
{
    uint32_t *into = &arguments->value[arguments->count];
    int32_t value = 0;
    bool good;

    switch (kind) {
    case 'u':
        good = take_number(cursor, 65535u, into);
        break;
    case 'U':
        good = take_number(cursor, 0xFFFFFFFFuL, into);
        break;
    case 'c':
        good = take_number(cursor, DRIVE_MOST, into);
        break;
    case 'd':
        good = take_signed(cursor, DRIVE_MOST, DRIVE_MOST, &value);
        *into = (uint32_t)value;
        break;
    case 'a':
        good = take_signed(cursor, ANGLE_MOST, ANGLE_MOST, &value);
        *into = (uint32_t)value;
        break;
    case 'i':
        good = take_signed(cursor, 0x80000000uL, 0x7FFFFFFFuL, &value);
        *into = (uint32_t)value;
        break;
    case 'h':
        good = take_digest(cursor, arguments->digest);
        arguments->has_digest = good;
        break;
    default:
        good = false;
        break;
    }
    if (kind != 'h') {
        arguments->count++;
    }
    return good;
}

static bool take_arguments(const command_t *row, cursor_t *cursor, arguments_t *arguments)
{
    const char *kind = row->kinds;
    bool may_miss = (char)rom_byte(&kind[1]) == '?';

    arguments->count = 0u;
    arguments->has_digest = false;
    if (may_miss && at_end(cursor)) {
        return true;
    }
    while ((rom_byte(kind) != 0u) && ((char)rom_byte(kind) != '?')) {
        if (!take_space(cursor) || !take_kind((char)rom_byte(kind), cursor, arguments)) {
            return false;
        }
        kind++;
    }
    return at_end(cursor);
}

static refusal_t check_standing(const command_t *row, const arguments_t *arguments)
{
    uint8_t needs = rom_byte(&row->needs);
    bool storing = arguments->has_digest; /* HASH with its argument stores */

    if (((needs & NEEDS_FULL) != 0u) || storing) {
        if (!arguments->standing.full) {
            return no(NO_KEY);
        }
    }
    if ((((needs & NEEDS_CABLE) != 0u) || storing) && !arguments->standing.cable) {
        return no(NO_CABLE);
    }
    if ((((needs & NEEDS_SESSION) != 0u) || storing) && !link_is_open()) {
        return no(NO_SESSION);
    }
    return fine();
}

static obey_t obey_of(const command_t *row)
{
#ifdef __AVR__
    return (obey_t)pgm_read_word(&row->obey);
#else
    return row->obey;
#endif
}

static refusal_t obey(cursor_t cursor, standing_t standing, body_t *reply)
{
    arguments_t arguments;
    uint8_t index = find(&cursor);

    if (at_end(&cursor) || (*cursor.at == ' ')) {
        return no(NO_MALFORMED);
    }
    if (index == COMMANDS) {
        return no(NO_WORD);
    }
    const command_t *row = &commands[index];
    while (!at_end(&cursor) && (*cursor.at != ' ')) {
        cursor.at++;
    }
    arguments.standing = standing;
    if (!take_arguments(row, &cursor, &arguments)) {
        return no(NO_MALFORMED);
    }
    refusal_t refusal = check_standing(row, &arguments);
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    return obey_of(row)(&arguments, reply);
}

static const char text_ok[] ROM = " OK";
static const char text_no[] ROM = " NO";

static void begin_reply(body_t *reply, uint16_t sequence, const char *rom_word)
{
    body_clear(reply);
    body_digits(reply, sequence);
    body_rom(reply, rom_word);
}

void command_obey(uint16_t sequence, cursor_t cursor, standing_t standing, body_t *reply)
{
    begin_reply(reply, sequence, text_ok);
    refusal_t refusal = obey(cursor, standing, reply);
    if (refusal.code == NO_NONE) {
        return;
    }
    begin_reply(reply, sequence, text_no);
    body_number(reply, (uint32_t)refusal.code);
    if (refusal.code == NO_VERSION) {
        body_number(reply, WIRE_VERSION); /* least and most */
        body_number(reply, WIRE_VERSION);
    } else if (refusal.has_detail) {
        body_number(reply, refusal.detail);
    } else {
        /* the code says it all */
    }
}
