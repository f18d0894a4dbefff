/* The commands: their words, arguments, and what each does. */
#ifndef FEEDSCRIPT_COMMANDS_H
#define FEEDSCRIPT_COMMANDS_H

#include <stdbool.h>
#include <stdint.h>

#include "text.h"

/* How the line came in. */
typedef struct {
    bool full; /* may do everything; else only read and stop */
    bool cable;
} standing_t;

void commands_begin(void);

/* True when the word after the sequence number is this one (a text in flash). */
bool command_is(const cursor_t *after_number, const char *rom_word);

/* Obeys the command whose words begin at `cursor` and writes "SEQ OK ..." or "SEQ NO ...". */
void command_obey(uint16_t sequence, cursor_t cursor, standing_t standing, body_t *reply);

#endif
