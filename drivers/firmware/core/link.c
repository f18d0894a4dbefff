#include "link.h"

#include "board.h"
#include "commands.h"
#include "crc16.h"
#include "events.h"
#include "feeder.h"
#include "fence.h"
#include "rom.h"
#include "seal.h"
#include "state.h"
#include "store.h"

#define PLAIN_TAIL 5u  /* *CCCC */
#define KEYED_TAIL 25u /* #KKKKKKKKTTTTTTTTTTTTTTTT */
#define FORWARD_MOST 32767u
#define NONCES_KEPT 4u

static const char word_open[] ROM = "OPEN";
static const char word_hello[] ROM = "HELLO";
static const char word_who[] ROM = "WHO";
static const char word_ok[] ROM = "OK";
static const char word_no[] ROM = "NO";

/* The line that is coming in. */
static struct {
    char text[LINE_MOST + 1u]; /* and a CR */
    uint8_t length;
    bool spoiled;
    bool longer;
} in;

static link_counts_t counts;

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

static struct {
    bool keyed; /* the opening in force is keyed */
    bool opened;
    uint32_t nonce;
    uint32_t past[NONCES_KEPT]; /* of the last openings, this one among them */
    uint8_t past_count;
    uint8_t past_next;
    uint32_t theirs; /* counter accepted last */
    uint32_t ours;   /* counter sent last */
} session;

static bool line_is_keyed; /* the line being worked */
static body_t scratch;

static void count_up(uint16_t *counter)
{
    if (*counter < 65535u) {
        (*counter)++;
    }
}

const link_counts_t *link_counts(void)
{
    return &counts;
}

uint32_t link_host_counter(void)
{
    return session.theirs;
}

bool link_is_cable(void)
{
    int32_t needs = store_number(NUMBER_KEY_NEEDED);

    return (needs == UNSET) || (needs == 0) || board_setup_jumper();
}

void link_begin(void)
{
    in.length = 0u;
    in.spoiled = false;
    in.longer = false;
    counts.bad = 0u;
    counts.stale = 0u;
    counts.forged = 0u;
    counts.longer = 0u;
    sequence.some = false;
    sequence.last = 0u;
    sequence.due = false;
    sequence.keep_back = false;
    body_clear(&sequence.reply);
    beat.due = false;
    session.keyed = false;
    session.opened = false;
    session.nonce = 0u;
    session.past_count = 0u;
    session.past_next = 0u;
    session.theirs = 0u;
    session.ours = 0u;
    seal_take_key();
}

/* An opening that was long on its way must not open an old session again. */
static bool link_open_repeats(uint32_t nonce)
{
    for (uint8_t i = 0u; i < session.past_count; i++) {
        if (session.past[i] == nonce) {
            return true;
        }
    }
    return false;
}

void link_opened(uint32_t nonce)
{
    session.opened = true;
    session.nonce = nonce;
    session.past[session.past_next] = nonce;
    session.past_next = (uint8_t)((session.past_next + 1u) % NONCES_KEPT);
    if (session.past_count < NONCES_KEPT) {
        session.past_count++;
    }
    session.keyed = line_is_keyed;
    session.ours = 0u;
}

bool link_is_open(void)
{
    return session.opened;
}

void link_hold_reply(void)
{
    sequence.keep_back = true;
}

/* ---- out ---- */

static void write_hex_byte(uint8_t byte)
{
    board_write((uint8_t)hex_digit((uint8_t)(byte >> 4)));
    board_write((uint8_t)hex_digit(byte));
}

static bool fits(const body_t *body, bool keyed)
{
    uint8_t tail = keyed ? KEYED_TAIL : PLAIN_TAIL;

    return board_write_room() > (uint8_t)(body->length + tail);
}

/* A whole line; the caller has seen that it fits. */
static void send(const body_t *body, bool keyed)
{
    uint16_t crc = CRC16_START;

    for (uint8_t i = 0u; i < body->length; i++) {
        board_write((uint8_t)body->text[i]);
        crc = crc16(crc, (uint8_t)body->text[i]);
    }
    if (keyed) {
        uint8_t tag[TAG_BYTES];
        session.ours++;
        const sealed_t line = {'L', session.nonce, session.ours, body->text, body->length};
        seal_tag(&line, tag);
        board_write((uint8_t)'#');
        for (uint8_t shift = 32u; shift > 0u; shift = (uint8_t)(shift - 8u)) {
            write_hex_byte((uint8_t)(session.ours >> (shift - 8u)));
        }
        for (uint8_t i = 0u; i < TAG_BYTES; i++) {
            write_hex_byte(tag[i]);
        }
    } else {
        board_write((uint8_t)'*');
        write_hex_byte((uint8_t)(crc >> 8));
        write_hex_byte((uint8_t)crc);
    }
    board_write((uint8_t)'\n');
}

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

void link_write(void)
{
    if (sequence.due && !(sequence.keep_back && !feeder_clear())) {
        sequence.keep_back = false;
        if (!fits(&sequence.reply, session.keyed)) {
            return;
        }
        send(&sequence.reply, session.keyed);
        sequence.due = false;
    }
    if (beat.due) {
        bool keyed = session.keyed && !beat.plain;
        beat_body();
        if (!fits(&scratch, keyed)) {
            return;
        }
        send(&scratch, keyed);
        beat.due = false;
    }
    if (events_next(&scratch) && fits(&scratch, session.keyed)) {
        send(&scratch, session.keyed);
        events_sent();
    }
}

/* ---- in ---- */

/* Does this line open again what was opened lately? Then it is a repeat, never a new opening. */
static bool opens_again(cursor_t words)
{
    uint32_t token;
    uint32_t nonce;

    if (!command_is(&words, word_open)) {
        return false;
    }
    words.at += 4;
    return take_space(&words) && take_number(&words, 0xFFFFFFFFuL, &token) &&
           take_space(&words) && take_number(&words, 0xFFFFFFFFuL, &nonce) &&
           link_open_repeats(nonce);
}

/* An opening makes safe at once, but it must not touch the memory of feeds while a ball is on its
 * way, or that ball would be booked on the new session. It is left unanswered until the ball is
 * out; the host repeats it. */
static bool must_wait_to_open(void)
{
    state_make_safe(REASON_OPENED);
    return !feeder_clear();
}

/* In full standing the sequence decides what is new; a new command is obeyed and its reply kept. */
static void work_command(uint16_t number, cursor_t words, standing_t standing)
{
    uint16_t ahead = (uint16_t)(number - sequence.last);
    bool opens = command_is(&words, word_open);
    bool again = opens_again(words);
    bool repeat = sequence.some && (ahead == 0u) && (again || !opens);

    if (repeat) {
        sequence.due = true;
    } else if (again || (sequence.some && !opens && (ahead > FORWARD_MOST))) {
        count_up(&counts.stale);
    } else if (opens && must_wait_to_open()) {
        /* safe already; the rest when the host asks again */
    } else {
        sequence.some = true;
        sequence.last = number;
        sequence.keep_back = false;
        command_obey(number, words, standing, &sequence.reply);
        sequence.due = true;
    }
}

/* HELLO and WHO, and whatever comes from one who may only read and stop, leave the sequence alone: who has
 * no key must not be able to shift it under the one who has. A reply that must wait is left out;
 * the repeat will have it. */
static void work_aside(uint16_t number, cursor_t words, standing_t standing)
{
    bool kept_back = sequence.keep_back;

    sequence.keep_back = false;
    command_obey(number, words, standing, &scratch);
    bool must_wait = sequence.keep_back && !feeder_clear();
    sequence.keep_back = kept_back;
    if (!must_wait && fits(&scratch, line_is_keyed)) {
        send(&scratch, line_is_keyed);
    }
}

static void work_beat(cursor_t words, bool counts_for_something)
{
    uint32_t number;
    uint32_t echo;

    words.at++;
    if (!take_space(&words) || !take_number(&words, 65535u, &number) || !take_space(&words) ||
        !take_number(&words, 0xFFFFFFFFuL, &echo) || !at_end(&words)) {
        count_up(&counts.bad);
        return;
    }
    if (counts_for_something) {
        fence_heard(echo);
    }
    beat.due = true;
    beat.plain = !line_is_keyed;
    beat.number = (uint16_t)number;
}

/* A body whose check or tag is right. */
static void work_body(cursor_t words)
{
    standing_t standing;
    uint32_t number;
    bool is_number;

    standing.cable = link_is_cable();
    standing.full = line_is_keyed || (standing.cable && !session.keyed);
    if (*words.at == 'T') {
        work_beat(words, standing.full);
        return;
    }
    is_number = take_number(&words, 65535u, &number) && take_space(&words);
    /* A reply that comes back is an echo on the line; to answer it would never end. */
    if (!is_number || command_is(&words, word_ok) || command_is(&words, word_no)) {
        count_up(&counts.bad);
        return;
    }
    if (!line_is_keyed && standing.cable && command_is(&words, word_open)) {
        standing.full = true; /* at the cable a plain opening ends a keyed session */
    }
    bool greets = command_is(&words, word_hello) || command_is(&words, word_who);
    if (standing.full && !greets) {
        work_command((uint16_t)number, words, standing);
    } else {
        work_aside((uint16_t)number, words, standing);
    }
}

static bool check_is_right(const char *tail, uint8_t length)
{
    uint16_t crc = CRC16_START;

    for (uint8_t i = 0u; i < length; i++) {
        crc = crc16(crc, (uint8_t)in.text[i]);
    }
    for (uint8_t i = 0u; i < 4u; i++) {
        if (tail[i] != hex_digit((uint8_t)(crc >> (12u - (4u * i))))) {
            return false;
        }
    }
    return true;
}

/* The OPEN line itself cannot know the nonce that it brings. */
static uint32_t nonce_for(uint8_t length)
{
    cursor_t words = {in.text, &in.text[length]};
    uint32_t number;
    bool opens = take_number(&words, 65535u, &number) && take_space(&words) &&
                 command_is(&words, word_open);

    return opens ? 0u : session.nonce;
}

/* Counts a line whose tag or counter is wrong. */
static bool tag_is_right(const char *tail, uint8_t length)
{
    sealed_t line = {'H', nonce_for(length), 0u, in.text, length};

    if (!seal_counter(tail, &line.counter)) {
        count_up(&counts.bad);
        return false;
    }
    if (!seal_has_key() || (line.counter <= session.theirs) || !seal_matches(&line, &tail[8])) {
        count_up(&counts.forged);
        return false;
    }
    session.theirs = line.counter;
    return true;
}

static void work_line(uint8_t whole)
{
    uint8_t length = 0u;

    while ((length < whole) && (in.text[length] != '*') && (in.text[length] != '#')) {
        length++;
    }
    if ((length == 0u) || (length == whole) || (length > BODY_MOST)) {
        count_up(&counts.bad);
        return;
    }
    const char *tail = &in.text[length + 1u];
    uint8_t rest = (uint8_t)(whole - length);
    line_is_keyed = in.text[length] == '#';
    if (line_is_keyed && (rest == KEYED_TAIL)) {
        if (!tag_is_right(tail, length)) {
            return;
        }
    } else if (line_is_keyed || (rest != PLAIN_TAIL) || !check_is_right(tail, length)) {
        count_up(&counts.bad);
        return;
    } else {
        /* a plain line whose check is right */
    }
    cursor_t words = {in.text, &in.text[length]};
    work_body(words);
}

static void end_of_line(void)
{
    uint8_t length = in.length;
    bool spoiled = in.spoiled;
    bool longer = in.longer;

    in.length = 0u;
    in.spoiled = false;
    in.longer = false;
    if (!longer && (length > 0u) && (in.text[length - 1u] == '\r')) {
        length--;
    }
    if (longer || (length > LINE_MOST)) {
        count_up(&counts.longer);
    } else if (spoiled) {
        count_up(&counts.bad);
    } else if (length > 0u) {
        for (uint8_t i = 0u; i < length; i++) {
            if ((in.text[i] < ' ') || (in.text[i] > '~')) {
                count_up(&counts.bad);
                return;
            }
        }
        work_line(length);
    } else {
        /* an empty line says nothing */
    }
}

void link_read(void)
{
    uint8_t byte;

    while (board_read(&byte)) {
        if (byte == (uint8_t)'\n') {
            end_of_line();
            return;
        }
        if (byte > (uint8_t)'~') {
            in.spoiled = true;
            byte = (uint8_t)'?';
        }
        if (in.length < sizeof in.text) {
            in.text[in.length] = (char)byte;
            in.length++;
        } else {
            in.longer = true;
        }
    }
}
