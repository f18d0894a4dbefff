#include "link/link.h"

#include "board.h"
#include "link/seal.h"
#include "rom.h"
#include "wire/crc16.h"
#include "wire/wire.h"

#define PLAIN_TAIL 5u  /* *CCCC */
#define KEYED_TAIL 25u /* #KKKKKKKKTTTTTTTTTTTTTTTT */

/* The line that is coming in. */
static struct {
    char text[LINE_MOST + 1u]; /* and a CR */
    uint8_t length;
    bool spoiled;
    bool longer;
} in;

static link_counts_t counts;

static struct {
    uint32_t nonce;  /* of the opening in force */
    uint32_t theirs; /* counter accepted last */
    uint32_t ours;   /* counter sent last */
} sealed;

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

void link_count_bad(void)
{
    count_up(&counts.bad);
}

void link_count_stale(void)
{
    count_up(&counts.stale);
}

uint32_t link_host_counter(void)
{
    return sealed.theirs;
}

void link_seal_under(uint32_t nonce)
{
    sealed.nonce = nonce;
    sealed.ours = 0u;
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
    sealed.theirs = 0u;
    link_seal_under(0u);
    seal_take_key();
}

/* ---- out ---- */

static void write_hex_byte(uint8_t byte)
{
    board_write((uint8_t)hex_digit((uint8_t)(byte >> 4)));
    board_write((uint8_t)hex_digit(byte));
}

bool link_fits(const body_t *body, bool keyed)
{
    uint8_t tail = keyed ? KEYED_TAIL : PLAIN_TAIL;

    return board_write_room() > (uint8_t)(body->length + tail);
}

void link_send(const body_t *body, bool keyed)
{
    uint16_t crc = CRC16_START;

    for (uint8_t i = 0u; i < body->length; i++) {
        board_write((uint8_t)body->text[i]);
        crc = crc16(crc, (uint8_t)body->text[i]);
    }
    if (keyed) {
        uint8_t tag[TAG_BYTES];
        sealed.ours++;
        const sealed_t line = {'L', sealed.nonce, sealed.ours, body->text, body->length};
        seal_tag(&line, tag);
        board_write((uint8_t)'#');
        for (uint8_t shift = 32u; shift > 0u; shift = (uint8_t)(shift - 8u)) {
            write_hex_byte((uint8_t)(sealed.ours >> (shift - 8u)));
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

/* ---- in ---- */

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

static const char word_open[] ROM = "OPEN";

static bool is_opening(cursor_t body)
{
    uint32_t number;

    return take_number(&body, 65535u, &number) && take_space(&body) && take_is(&body, word_open);
}

static bool is_hex(const char *digits, uint8_t count)
{
    for (uint8_t i = 0u; i < count; i++) {
        if (hex_value(digits[i]) > 15u) {
            return false;
        }
    }
    return true;
}

/* Counts a line whose tag or counter is wrong. */
static bool tag_is_right(const char *tail, uint8_t length)
{
    sealed_t line = {'H', sealed.nonce, 0u, in.text, length};
    const cursor_t body = {in.text, &in.text[length]};

    if (!is_hex(tail, KEYED_TAIL - 1u)) {
        count_up(&counts.bad);
        return false;
    }
    if (is_opening(body)) {
        line.nonce = 0u; /* the OPEN line itself cannot know the nonce that it brings */
    }
    line.counter = seal_counter(tail);
    bool is_next = (line.counter > sealed.theirs) &&
                   ((line.counter - sealed.theirs) <= COUNTER_AHEAD); /* else it would burn those */
    if (!seal_has_key() || !is_next || !seal_matches(&line, &tail[8])) {
        count_up(&counts.forged);
        return false;
    }
    sealed.theirs = line.counter;
    return true;
}

static bool check_line(uint8_t whole, received_t *line)
{
    uint8_t length = 0u;

    while ((length < whole) && (in.text[length] != '*') && (in.text[length] != '#')) {
        length++;
    }
    if ((length == 0u) || (length == whole) || (length > BODY_MOST)) {
        count_up(&counts.bad);
        return false;
    }
    const char *tail = &in.text[length + 1u];
    uint8_t rest = (uint8_t)(whole - length);
    bool keyed = in.text[length] == '#';
    if (keyed && (rest == KEYED_TAIL)) {
        if (!tag_is_right(tail, length)) {
            return false;
        }
    } else if (keyed || (rest != PLAIN_TAIL) || !check_is_right(tail, length)) {
        count_up(&counts.bad);
        return false;
    } else {
        /* a plain line whose check is right */
    }
    line->body.at = in.text;
    line->body.end = &in.text[length];
    line->keyed = keyed;
    return true;
}

static bool end_of_line(received_t *line)
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
                return false;
            }
        }
        return check_line(length, line);
    } else {
        /* an empty line says nothing */
    }
    return false;
}

bool link_read(received_t *line)
{
    uint8_t byte;

    while (board_read(&byte)) {
        if (byte == (uint8_t)'\n') {
            return end_of_line(line);
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
    return false;
}
