#include "link/link.h"

#include "board.h"
#include "link/seal.h"
#include "rom.h"
#include "wire/crc16.h"
#include "wire/wire.h"

#define PLAIN_TAIL 5u  /* *CCCC */
#define KEYED_TAIL 25u /* #KKKKKKKKTTTTTTTTTTTTTTTT */

/* The line that is coming in by each link. */
typedef struct {
    char text[LINE_MOST + 1u]; /* and a CR */
    uint8_t length;
    bool spoiled;
    bool longer;
} coming_t;

static coming_t coming[LINKS];

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
    for (uint8_t link = 0u; link < LINKS; link++) {
        coming[link].length = 0u;
        coming[link].spoiled = false;
        coming[link].longer = false;
    }
    counts.bad = 0u;
    counts.stale = 0u;
    counts.forged = 0u;
    counts.longer = 0u;
    sealed.theirs = 0u;
    link_seal_under(0u);
    seal_take_key();
}

/* ---- out ---- */

static void write_hex_byte(uint8_t link, uint8_t byte)
{
    board_write(link, (uint8_t)hex_digit((uint8_t)(byte >> 4)));
    board_write(link, (uint8_t)hex_digit(byte));
}

static void write_seal(uint8_t link, const body_t *body)
{
    uint8_t tag[TAG_BYTES];

    sealed.ours++;
    const sealed_t line = {'L', sealed.nonce, sealed.ours, body->text, body->length};
    seal_tag(&line, tag);
    board_write(link, (uint8_t)'#');
    for (uint8_t shift = 32u; shift > 0u; shift = (uint8_t)(shift - 8u)) {
        write_hex_byte(link, (uint8_t)(sealed.ours >> (shift - 8u)));
    }
    for (uint8_t i = 0u; i < TAG_BYTES; i++) {
        write_hex_byte(link, tag[i]);
    }
}

bool link_send(uint8_t link, const body_t *body, bool keyed)
{
    uint8_t tail = keyed ? KEYED_TAIL : PLAIN_TAIL;
    uint16_t crc = CRC16_START;

    if (board_write_room(link) <= (uint8_t)(body->length + tail)) {
        return false;
    }
    for (uint8_t i = 0u; i < body->length; i++) {
        board_write(link, (uint8_t)body->text[i]);
        crc = crc16(crc, (uint8_t)body->text[i]);
    }
    if (keyed) {
        write_seal(link, body);
    } else {
        board_write(link, (uint8_t)'*');
        write_hex_byte(link, (uint8_t)(crc >> 8));
        write_hex_byte(link, (uint8_t)crc);
    }
    board_write(link, (uint8_t)'\n');
    return true;
}

/* ---- in ---- */

static bool check_is_right(const char *text, const char *tail, uint8_t length)
{
    uint16_t crc = CRC16_START;

    for (uint8_t i = 0u; i < length; i++) {
        crc = crc16(crc, (uint8_t)text[i]);
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
static bool tag_is_right(const char *text, const char *tail, uint8_t length)
{
    sealed_t line = {'H', sealed.nonce, 0u, text, length};
    const cursor_t body = {text, &text[length]};

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

static bool check_line(const char *text, uint8_t whole, received_t *line)
{
    uint8_t length = 0u;

    while ((length < whole) && (text[length] != '*') && (text[length] != '#')) {
        length++;
    }
    if ((length == 0u) || (length == whole) || (length > BODY_MOST)) {
        count_up(&counts.bad);
        return false;
    }
    const char *tail = &text[length + 1u];
    uint8_t rest = (uint8_t)(whole - length);
    bool keyed = text[length] == '#';
    if (keyed && (rest == KEYED_TAIL)) {
        if (!tag_is_right(text, tail, length)) {
            return false;
        }
    } else if (keyed || (rest != PLAIN_TAIL) ||
               !check_is_right(text, tail, length)) {
        count_up(&counts.bad);
        return false;
    } else {
        /* a plain line whose check is right */
    }
    line->body.at = text;
    line->body.end = &text[length];
    line->keyed = keyed;
    return true;
}

static bool end_of_line(coming_t *in, received_t *line)
{
    uint8_t length = in->length;
    bool spoiled = in->spoiled;
    bool longer = in->longer;

    in->length = 0u;
    in->spoiled = false;
    in->longer = false;
    if (!longer && (length > 0u) && (in->text[length - 1u] == '\r')) {
        length--;
    }
    if (longer || (length > LINE_MOST)) {
        count_up(&counts.longer);
    } else if (spoiled) {
        count_up(&counts.bad);
    } else if (length > 0u) {
        for (uint8_t i = 0u; i < length; i++) {
            if ((in->text[i] < ' ') || (in->text[i] > '~')) {
                count_up(&counts.bad);
                return false;
            }
        }
        return check_line(in->text, length, line);
    } else {
        /* an empty line says nothing */
    }
    return false;
}

bool link_read(uint8_t link, received_t *line)
{
    coming_t *in = &coming[link];
    uint8_t byte;

    line->link = link;
    while (board_read(link, &byte)) {
        if (byte == (uint8_t)'\n') {
            return end_of_line(in, line);
        }
        if (byte > (uint8_t)'~') {
            in->spoiled = true;
            byte = (uint8_t)'?';
        }
        if (in->length < sizeof in->text) {
            in->text[in->length] = (char)byte;
            in->length++;
        } else {
            in->longer = true;
        }
    }
    return false;
}
