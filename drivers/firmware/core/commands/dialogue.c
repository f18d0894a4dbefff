#include "commands/dialogue.h"

#include "board.h"
#include "commands/commands.h"
#include "feeding/events.h"
#include "feeding/feeder.h"
#include "feeding/state.h"
#include "guard/fence.h"
#include "link/link.h"
#include "rom.h"
#include "store/store.h"

#define NONCES_KEPT 4u

static const char word_open[] ROM = "OPEN";
static const char word_hello[] ROM = "HELLO";
static const char word_who[] ROM = "WHO";
static const char word_log[] ROM = "LOG";
static const char word_ok[] ROM = "OK";
static const char word_no[] ROM = "NO";

static struct {
    bool some;
    uint16_t last;
    body_t reply;
    bool keep_back; /* until no ball can leave */
    bool due;
} sequence;

static struct {
    bool due;
    bool plain;
    uint16_t number;
} beat;

/* An opening as its line asks for it; `waits` while a ball of the session before is on its way. */
typedef struct {
    bool waits;
    bool keyed;
    uint32_t token;
    uint32_t nonce;
} opening_t;

static opening_t opening;

static struct {
    bool keyed; /* the opening in force is keyed */
    bool opened;
    uint32_t past[NONCES_KEPT]; /* nonces of the last openings */
    uint8_t past_count;
    uint8_t past_next;
} session;

static bool line_is_keyed; /* the line being worked */
static body_t scratch;

void dialogue_begin(void)
{
    sequence.some = false;
    sequence.last = 0u;
    sequence.due = false;
    sequence.keep_back = false;
    body_clear(&sequence.reply);
    beat.due = false;
    opening.waits = false;
    session.keyed = false;
    session.opened = false;
    session.past_count = 0u;
    session.past_next = 0u;
}

static bool is_cable(void)
{
    int32_t needs = store_number(NUMBER_KEY_NEEDED);

    return (needs == UNSET) || (needs == 0) || board_setup_jumper();
}

/* ---- out ---- */

static void beat_body(void)
{
    body_clear(&scratch);
    body_char(&scratch, 't');
    body_number(&scratch, beat.number);
    body_number(&scratch, board_now_ms());
    body_number(&scratch, events_last());
    body_number(&scratch, (uint32_t)state_now());
    body_number(&scratch, store_boot());
}

/* Obeys a command and says whether its reply must wait. */
static bool obey(uint16_t number, cursor_t words, standing_t standing, body_t *reply)
{
    bool held_back = command_obey(number, words, standing, reply);

    return held_back && !feeder_clear();
}

static void open_now(void)
{
    const standing_t standing = {true, is_cable(), session.opened};

    opening.waits = false;
    body_clear(&scratch);
    body_rom(&scratch, word_open);
    body_number(&scratch, opening.token);
    body_number(&scratch, opening.nonce);
    const cursor_t words = {scratch.text, &scratch.text[scratch.length]};
    sequence.keep_back = obey(sequence.last, words, standing, &sequence.reply);
    sequence.due = true;
    session.opened = true;
    session.keyed = opening.keyed;
    link_seal_under(opening.nonce);
}

/* What was held back for a ball comes after the event that tells of the ball. */
static void let_go(void)
{
    if (!feeder_clear() || events_next(&scratch)) {
        return;
    }
    sequence.keep_back = false;
    if (opening.waits) {
        open_now();
    }
}

void dialogue_write(void)
{
    if (opening.waits || sequence.keep_back) {
        let_go();
    }
    if (sequence.due && !sequence.keep_back) {
        if (!link_fits(&sequence.reply, session.keyed)) {
            return;
        }
        link_send(&sequence.reply, session.keyed);
        sequence.due = false;
    }
    if (beat.due) {
        bool keyed = session.keyed && !beat.plain;
        beat_body();
        if (!link_fits(&scratch, keyed)) {
            return;
        }
        link_send(&scratch, keyed);
        beat.due = false;
    }
    if (events_next(&scratch) && link_fits(&scratch, session.keyed)) {
        link_send(&scratch, session.keyed);
        events_sent();
    }
}

/* ---- in ---- */

/* A whole OPEN and what it brings; anything else, a malformed one too, is none. */
static bool reads_open(cursor_t words, opening_t *asked)
{
    if (!take_is(&words, word_open)) {
        return false;
    }
    words.at += 4;
    return take_space(&words) && take_number(&words, 0xFFFFFFFFuL, &asked->token) &&
           take_space(&words) && take_number(&words, 0xFFFFFFFFuL, &asked->nonce) &&
           at_end(&words);
}

/* An opening that was long on its way must not open an old session again. */
static bool is_known(uint32_t nonce)
{
    for (uint8_t i = 0u; i < session.past_count; i++) {
        if (session.past[i] == nonce) {
            return true;
        }
    }
    return false;
}

/* Safe at once; but the memory of feeds stays as it is while a ball is on its way, or that ball
 * would be booked on the new session. */
static void work_opening(const opening_t *asked)
{
    session.past[session.past_next] = asked->nonce;
    session.past_next = (uint8_t)((session.past_next + 1u) % NONCES_KEPT);
    if (session.past_count < NONCES_KEPT) {
        session.past_count++;
    }
    state_make_safe(REASON_OPENED);
    (void)state_end_fault(REASON_OPENED);
    opening = *asked;
    opening.keyed = line_is_keyed;
    opening.waits = !feeder_clear();
    if (!opening.waits) {
        open_now();
    }
}

/* In full standing the sequence decides what is new; a new command is obeyed and its reply kept. */
static void work_command(uint16_t number, cursor_t words, standing_t standing)
{
    opening_t asked;
    uint16_t ahead = (uint16_t)(number - sequence.last);
    bool opens = reads_open(words, &asked);
    bool again = opens && is_known(asked.nonce);
    bool repeat = sequence.some && (ahead == 0u) && (again || !opens);

    if (repeat) {
        sequence.due = !opening.waits; /* an opening that waits has no reply yet */
        return;
    }
    if (again || (sequence.some && !opens && (ahead > SEQUENCE_AHEAD))) {
        link_count_stale();
        return;
    }
    sequence.some = true;
    sequence.last = number;
    sequence.due = false;
    sequence.keep_back = false;
    opening.waits = false; /* the host has given it up */
    if (opens) {
        work_opening(&asked);
    } else {
        sequence.keep_back = obey(number, words, standing, &sequence.reply);
        sequence.due = true;
    }
}

/* HELLO, WHO and LOG, and whatever comes from one who may only read and stop, leave the sequence alone:
 * who has no key must not be able to shift it under the one who has. A reply that must wait is left
 * out; the repeat will have it. */
static void work_aside(uint16_t number, cursor_t words, standing_t standing)
{
    bool keyed = line_is_keyed && session.keyed;
    bool must_wait = obey(number, words, standing, &scratch);

    if (!must_wait && link_fits(&scratch, keyed)) {
        link_send(&scratch, keyed);
    }
}

static void work_beat(cursor_t words, bool counts_for_something)
{
    uint32_t number;
    uint32_t echo;

    words.at++;
    if (!take_space(&words) || !take_number(&words, 65535u, &number) || !take_space(&words) ||
        !take_number(&words, 0xFFFFFFFFuL, &echo) || !at_end(&words)) {
        link_count_bad();
        return;
    }
    if (counts_for_something) {
        fence_heard(echo);
    }
    beat.due = true;
    beat.plain = !line_is_keyed;
    beat.number = (uint16_t)number;
}

static void take(cursor_t body, bool keyed)
{
    standing_t standing;
    uint32_t number;
    bool is_number;

    line_is_keyed = keyed;
    standing.cable = is_cable();
    standing.full = keyed || (standing.cable && !session.keyed);
    standing.open = session.opened;
    if (*body.at == 'T') {
        work_beat(body, standing.full);
        return;
    }
    is_number = take_number(&body, 65535u, &number) && take_space(&body);
    /* A reply that comes back is an echo on the line; to answer it would never end. */
    if (!is_number || take_is(&body, word_ok) || take_is(&body, word_no)) {
        link_count_bad();
        return;
    }
    bool aside = take_is(&body, word_hello) || take_is(&body, word_who) ||
                 take_is(&body, word_log);
    if (standing.full && !aside) {
        work_command((uint16_t)number, body, standing);
    } else {
        work_aside((uint16_t)number, body, standing);
    }
}

void dialogue_read(void)
{
    received_t line;

    if (link_read(&line)) {
        take(line.body, line.keyed);
    }
}
