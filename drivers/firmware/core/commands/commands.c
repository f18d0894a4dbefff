#include "commands/commands.h"

#include "commands/obey.h"
#include "rom.h"

#define NEEDS_SESSION 0x01u
#define NEEDS_FULL 0x02u /* not for who may only read and stop */
#define NEEDS_CABLE 0x04u
#define ANSWERED_CLEAR 0x08u /* OK says: no ball can leave any more */

typedef struct {
    char word[8];
    char kinds[10];
    uint8_t needs;
    obey_t obey;
} command_t;

void commands_begin(void)
{
    obey_begin();
}

/* Kinds as in shared/protocol.json: u and U numbers of 16 and 32 bits, f feed id, k category of a
 * stop, i stored number, c ceiling, d drive, a angle, h digest, n name, ? the one before may be missing. */
static const command_t commands[] ROM = {
    {"HELLO", "uu", 0u, obey_hello},
    {"WHO", "", 0u, obey_who},
    {"OPEN", "UU", NEEDS_FULL, obey_open},
    {"ARM", "ccc", NEEDS_FULL | NEEDS_SESSION, obey_arm},
    {"CODE", "U", NEEDS_FULL | NEEDS_SESSION, obey_code},
    {"DISARM", "", NEEDS_FULL | NEEDS_SESSION | ANSWERED_CLEAR, obey_disarm},
    {"PREP", "dddaaa", NEEDS_FULL | NEEDS_SESSION, obey_prep},
    {"FEED", "fUdddaaa", NEEDS_FULL | NEEDS_SESSION, obey_feed},
    {"HOLD", "", NEEDS_FULL | NEEDS_SESSION | ANSWERED_CLEAR, obey_hold},
    {"GO", "", NEEDS_FULL | NEEDS_SESSION, obey_go},
    {"STOP", "k", ANSWERED_CLEAR, obey_stop},
    {"STAT", "", 0u, obey_stat},
    {"POSE", "", NEEDS_FULL | NEEDS_SESSION, obey_pose},
    {"HIST", "f", NEEDS_FULL | NEEDS_SESSION, obey_hist},
    {"EVT", "u", NEEDS_FULL | NEEDS_SESSION, obey_evt},
    {"GET", "u", 0u, obey_get},
    {"SET", "ui", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_set},
    {"HASH", "h?", 0u, obey_hash},
    {"NAME", "n", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_name},
    {"PAIR", "h", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_pair},
    {"UNPAIR", "", NEEDS_FULL | NEEDS_SESSION | NEEDS_CABLE, obey_unpair},
    {"CNTS", "", 0u, obey_cnts},
    {"LOG", "u", 0u, obey_log},
};

#define COMMANDS ((uint8_t)(sizeof(commands) / sizeof(commands[0])))

static uint8_t find(const cursor_t *words)
{
    uint8_t i = 0u;

    while ((i < COMMANDS) && !take_is(words, commands[i].word)) {
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
    case 'f':
        good = take_number(cursor, 0xFFFFFFFFuL, into) && (*into > 0u);
        break;
    case 'k':
        good = take_number(cursor, 1u, into);
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
    case 'n':
        good = take_name(cursor, arguments->digest);
        arguments->has_digest = good;
        break;
    default:
        good = false;
        break;
    }
    if ((kind != 'h') && (kind != 'n')) {
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
    bool storing = arguments->has_digest; /* HASH with its argument stores, and so does NAME */

    if (((needs & NEEDS_FULL) != 0u) || storing) {
        if (!arguments->standing.full) {
            return no(NO_KEY);
        }
    }
    if ((((needs & NEEDS_CABLE) != 0u) || storing) && !arguments->standing.cable) {
        return no(NO_CABLE);
    }
    if ((((needs & NEEDS_SESSION) != 0u) || storing) && !arguments->standing.open) {
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

static refusal_t obey(cursor_t cursor, standing_t standing, body_t *reply, bool *held_back)
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
    *held_back = (rom_byte(&row->needs) & ANSWERED_CLEAR) != 0u;
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

bool command_obey(uint16_t sequence, cursor_t cursor, standing_t standing, body_t *reply)
{
    bool held_back = false;

    begin_reply(reply, sequence, text_ok);
    refusal_t refusal = obey(cursor, standing, reply, &held_back);
    if (refusal.code == NO_NONE) {
        return held_back;
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
    return false;
}
