/* Bodies of lines: writing them into a buffer, and reading their fields. */
#ifndef FEEDSCRIPT_TEXT_H
#define FEEDSCRIPT_TEXT_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/wire.h"

/* A body being written. What does not fit is dropped; no line of ours is that long. */
typedef struct {
    char text[BODY_MOST];
    uint8_t length;
} body_t;

void body_clear(body_t *body);
void body_char(body_t *body, char c);
void body_rom(body_t *body, const char *rom_text); /* a text that lies in flash */
void body_digits(body_t *body, uint32_t value);
void body_number(body_t *body, uint32_t value);    /* a space, then the number */
void body_signed(body_t *body, int32_t value);
void body_hex(body_t *body, uint32_t value);       /* a space, then upper case, no zeros before */

/* The fields of a line that has come. */
typedef struct {
    const char *at;
    const char *end;
} cursor_t;

/* A decimal number of at most `most`, without sign or leading zeros. */
bool take_number(cursor_t *cursor, uint32_t most, uint32_t *value);

/* The same with an optional minus, within [-least_magnitude, most]; "-0" is refused. */
bool take_signed(cursor_t *cursor, uint32_t least_magnitude, uint32_t most, int32_t *value);

bool take_space(cursor_t *cursor);

/* True when the word that stands here is this one (a text in flash); nothing is taken. */
bool take_is(const cursor_t *cursor, const char *rom_word);
bool at_end(const cursor_t *cursor);

/* 64 hexadecimal digits of either case into 32 bytes. */
bool take_digest(cursor_t *cursor, uint8_t *bytes);

/* A name of up to 32 characters [A-Za-z0-9._-] into as many bytes, zeros behind it. */
bool take_name(cursor_t *cursor, uint8_t *bytes);

/* The value of an upper-case hexadecimal digit, or 16. */
uint8_t hex_value(char digit);
char hex_digit(uint8_t value);       /* of the low four bits, upper case */
char hex_digit_small(uint8_t value); /* lower case */

#endif
