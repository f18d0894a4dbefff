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
#define FAREWELL_MS 30u /* for the events of a session that goes on by another link */

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

/* The heartbeat of each link that is to be answered. */
static struct {
    bool due;
    bool plain;
    uint16_t number;
} beats[LINKS];

/* An opening as its line asks for it; `waits` while a ball of the session before is on its way, or
 * events that its host is still to hear by another link. */
typedef struct {
    bool waits;
    bool keyed;
    uint8_t link;
    uint32_t token;
    uint32_t nonce;
    uint32_t clear_ms; /* since when no ball has been on its way */
} opening_t;

static opening_t opening;

static struct {
    bool keyed; /* the opening in force is keyed */
    bool opened;
    uint8_t link; /* by which it was opened, and to which it belongs; before any, the first */
    uint32_t past[NONCES_KEPT]; /* nonces of the last openings */
    uint8_t past_count;
    uint8_t past_next;
} session;

static received_t line; /* the one being worked */
static body_t scratch;

void dialogue_begin(void)
{
    sequence.some = false;
    sequence.last = 0u;
    sequence.due = false;
    sequence.keep_back = false;
    body_clear(&sequence.reply);
    for (uint8_t link = 0u; link < LINKS; link++) {
        beats[link].due = false;
    }
    opening.waits = false;
    session.keyed = false;
    session.opened = false;
    session.link = 0u;
    session.past_count = 0u;
    session.past_next = 0u;
}

static bool is_cable(uint8_t link)
{
    int32_t needs = store_number(NUMBER_KEY_NEEDED);

    return (board_links[link] == LINK_CABLE) &&
           ((needs == UNSET) || (needs == 0) || board_setup_jumper());
}

/* An opening that waits is to take the session to another link. */
static bool is_moving(void)
{
    return opening.waits && (opening.link != session.link);
}

/* ---- out ---- */

static void beat_body(uint16_t number)
{
    body_clear(&scratch);
    body_char(&scratch, 't');
    body_number(&scratch, number);
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
    const standing_t standing = {true, is_cable(opening.link), session.opened};

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
    session.link = opening.link;
    link_seal_under(opening.nonce);
}

/* What was held back for a ball comes after the event that tells of the ball. A link that is left may
 * have nobody at its end any more, and take nothing: what it was to hear is nobody else's. */
static void let_go(void)
{
    uint32_t now = board_now_ms();

    if (!feeder_clear()) {
        opening.clear_ms = now;
        return;
    }
    if (is_moving() && ((now - opening.clear_ms) > FAREWELL_MS)) {
        events_drop();
    }
    if (events_next(&scratch)) {
        return;
    }
    sequence.keep_back = false;
    if (opening.waits) {
        open_now();
    }
}

/* False while there is no room for what is due. */
static bool write_reply(void)
{
    if (sequence.keep_back || !sequence.due) {
        return true;
    }
    sequence.due = !link_send(session.link, &sequence.reply, session.keyed);
    return !sequence.due;
}

static bool write_beat(uint8_t link)
{
    if (beats[link].due) {
        beat_body(beats[link].number);
        beats[link].due = !link_send(link, &scratch, session.keyed && !beats[link].plain);
    }
    return !beats[link].due;
}

void dialogue_write(void)
{
    if (opening.waits || sequence.keep_back) {
        let_go();
    }
    for (uint8_t link = 0u; link < LINKS; link++) {
        if (link != session.link) {
            (void)write_beat(link);
        }
    }
    if (write_reply() && write_beat(session.link) && events_next(&scratch) &&
        link_send(session.link, &scratch, session.keyed)) {
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
    opening.keyed = line.keyed;
    opening.link = line.link;
    opening.clear_ms = board_now_ms();
    opening.waits = !feeder_clear() || (line.link != session.link);
    if (!opening.waits) {
        open_now();
    }
}

static void accept(uint16_t number)
{
    sequence.some = true;
    sequence.last = number;
    sequence.due = false;
    sequence.keep_back = false;
    opening.waits = false; /* the host has given it up */
}

/* In full standing the sequence decides what is new. */
static void work_open(uint16_t number, const opening_t *asked)
{
    bool again = is_known(asked->nonce);
    bool its_own = line.link == (opening.waits ? opening.link : session.link);

    if (again && its_own && (number == sequence.last)) {
        sequence.due = !opening.waits; /* one that waits has no reply yet */
    } else if (again) {
        link_count_stale();
    } else {
        accept(number);
        work_opening(asked);
    }
}

/* A new command is obeyed and its reply kept. */
static void work_command(uint16_t number, cursor_t words, standing_t standing)
{
    uint16_t ahead = (uint16_t)(number - sequence.last);

    if (sequence.some && (ahead == 0u)) {
        sequence.due = !opening.waits;
    } else if (sequence.some && (ahead > SEQUENCE_AHEAD)) {
        link_count_stale();
    } else {
        accept(number);
        sequence.keep_back = obey(number, words, standing, &sequence.reply);
        sequence.due = true;
    }
}

/* HELLO, WHO and LOG, and whatever comes from one who may only read and stop or by a link to which the
 * session does not belong, leave the sequence alone: nobody must be able to shift it under the one who
 * has it. A reply that must wait is left out; the repeat will have it. */
static void work_aside(uint16_t number, cursor_t words, standing_t standing)
{
    bool keyed = line.keyed && session.keyed;
    bool must_wait = obey(number, words, standing, &scratch);

    if (!must_wait) {
        (void)link_send(line.link, &scratch, keyed);
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
    beats[line.link].due = true;
    beats[line.link].plain = !line.keyed;
    beats[line.link].number = (uint16_t)number;
}

/* What the line's link and its seal let it do. */
static standing_t standing_of_line(void)
{
    bool cable = is_cable(line.link);
    const standing_t standing = {
        .full = line.keyed || (cable && !session.keyed),
        .cable = cable,
        .open = session.opened && (line.link == session.link) && !is_moving(),
    };
    return standing;
}

static void take(void)
{
    const standing_t standing = standing_of_line();
    cursor_t body = line.body;
    opening_t asked;
    uint32_t number;
    bool is_number;

    if (*body.at == 'T') {
        work_beat(body, standing.full && (line.link == session.link));
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
    bool has_it = (line.link == session.link) && !is_moving();
    if (standing.full && reads_open(body, &asked)) {
        work_open((uint16_t)number, &asked);
    } else if (standing.full && has_it && !aside) {
        work_command((uint16_t)number, body, standing);
    } else {
        work_aside((uint16_t)number, body, standing);
    }
}

void dialogue_read(void)
{
    for (uint8_t link = 0u; link < LINKS; link++) {
        if (link_read(link, &line)) {
            take();
        }
    }
}
