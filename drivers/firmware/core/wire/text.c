#include "wire/text.h"

#include "rom.h"

void body_clear(body_t *body)
{
    body->length = 0u;
}

void body_char(body_t *body, char c)
{
    if (body->length < BODY_MOST) {
        body->text[body->length] = c;
        body->length++;
    }
}

void body_rom(body_t *body, const char *rom_text)
{
    const char *at = rom_text;
    char c = (char)rom_byte(at);

    while (c != '\0') {
        body_char(body, c);
        at++;
        c = (char)rom_byte(at);
    }
}

void body_digits(body_t *body, uint32_t value)
{
    char reversed[10];
    uint8_t count = 0u;
    uint32_t rest = value;

    do {
        reversed[count] = (char)('0' + (char)(rest % 10u));
        count++;
        rest /= 10u;
    } while (rest != 0u);
    while (count > 0u) {
        count--;
        body_char(body, reversed[count]);
    }
}

void body_number(body_t *body, uint32_t value)
{
    body_char(body, ' ');
    body_digits(body, value);
}

void body_signed(body_t *body, int32_t value)
{
    body_char(body, ' ');
    if (value < 0) {
        body_char(body, '-');
        body_digits(body, 0u - (uint32_t)value);
    } else {
        body_digits(body, (uint32_t)value);
    }
}

char hex_digit(uint8_t value)
{
    uint8_t low = (uint8_t)(value & 15u);

    return (low < 10u) ? (char)('0' + (char)low) : (char)('A' + (char)(low - 10u));
}

char hex_digit_small(uint8_t value)
{
    char digit = hex_digit(value);

    return (digit >= 'A') ? (char)(digit + ('a' - 'A')) : digit;
}

void body_hex(body_t *body, uint32_t value)
{
    uint8_t left = 8u;

    body_char(body, ' ');
    while ((left > 1u) && ((value >> (4u * (left - 1u))) == 0u)) {
        left--;
    }
    while (left > 0u) {
        left--;
        body_char(body, hex_digit((uint8_t)(value >> (4u * left))));
    }
}

static bool is_digit(const cursor_t *cursor)
{
    return (cursor->at < cursor->end) && (*cursor->at >= '0') && (*cursor->at <= '9');
}

bool take_number(cursor_t *cursor, uint32_t most, uint32_t *value)
{
    uint32_t sum = 0u;
    bool zero_first = is_digit(cursor) && (*cursor->at == '0');
    uint8_t count = 0u;

    while (is_digit(cursor)) {
        uint32_t digit = (uint32_t)(uint8_t)*cursor->at - (uint32_t)(uint8_t)'0';
        if ((sum > (0xFFFFFFFFuL / 10u)) || ((sum * 10u) > (0xFFFFFFFFuL - digit))) {
            return false;
        }
        sum = (sum * 10u) + digit;
        count++;
        cursor->at++;
    }
    if ((count == 0u) || (zero_first && (count > 1u)) || (sum > most)) {
        return false;
    }
    *value = sum;
    return true;
}

bool take_signed(cursor_t *cursor, uint32_t least_magnitude, uint32_t most, int32_t *value)
{
    uint32_t magnitude;
    bool minus = (cursor->at < cursor->end) && (*cursor->at == '-');

    if (minus) {
        cursor->at++;
    }
    if (!take_number(cursor, minus ? least_magnitude : most, &magnitude)) {
        return false;
    }
    if (minus && (magnitude == 0u)) {
        return false;
    }
    if (minus) {
        *value = (int32_t)(0u - magnitude);
    } else {
        *value = (int32_t)magnitude;
    }
    return true;
}

bool take_space(cursor_t *cursor)
{
    if ((cursor->at < cursor->end) && (*cursor->at == ' ')) {
        cursor->at++;
        return true;
    }
    return false;
}

bool at_end(const cursor_t *cursor)
{
    return cursor->at == cursor->end;
}

uint8_t hex_value(char digit)
{
    if ((digit >= '0') && (digit <= '9')) {
        return (uint8_t)((uint8_t)digit - (uint8_t)'0');
    }
    if ((digit >= 'A') && (digit <= 'F')) {
        return (uint8_t)(((uint8_t)digit - (uint8_t)'A') + 10);
    }
    return 16u;
}

static uint8_t hex_value_any(char digit)
{
    if ((digit >= 'a') && (digit <= 'f')) {
        return (uint8_t)(((uint8_t)digit - (uint8_t)'a') + 10);
    }
    return hex_value(digit);
}

bool take_digest(cursor_t *cursor, uint8_t *bytes)
{
    if ((cursor->end - cursor->at) < 64) {
        return false;
    }
    for (uint8_t i = 0u; i < 32u; i++) {
        uint8_t high = hex_value_any(cursor->at[0]);
        uint8_t low = hex_value_any(cursor->at[1]);
        if ((high > 15u) || (low > 15u)) {
            return false;
        }
        bytes[i] = (uint8_t)((uint8_t)(high << 4) | low);
        cursor->at += 2;
    }
    return true;
}

static bool is_of_a_name(char c)
{
    return ((c >= 'a') && (c <= 'z')) || ((c >= 'A') && (c <= 'Z')) || ((c >= '0') && (c <= '9')) ||
           (c == '.') || (c == '_') || (c == '-');
}

bool take_name(cursor_t *cursor, uint8_t *bytes)
{
    uint8_t count = 0u;

    while (!at_end(cursor) && is_of_a_name(*cursor->at) && (count < 32u)) {
        bytes[count] = (uint8_t)*cursor->at;
        count++;
        cursor->at++;
    }
    for (uint8_t i = count; i < 32u; i++) {
        bytes[i] = 0u;
    }
    return count > 0u;
}

bool take_is(const cursor_t *cursor, const char *rom_word)
{
    const char *at = cursor->at;
    const char *word = rom_word;

    while (rom_byte(word) != 0u) {
        if ((at >= cursor->end) || (*at != (char)rom_byte(word))) {
            return false;
        }
        at++;
        word++;
    }
    return (at == cursor->end) || (*at == ' ');
}
