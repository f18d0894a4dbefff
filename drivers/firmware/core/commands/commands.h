/* The commands: their words, their arguments, and who may give them. */
#ifndef FEEDSCRIPT_COMMANDS_H
#define FEEDSCRIPT_COMMANDS_H

#include <stdbool.h>
#include <stdint.h>

#include "commands/obey.h"

void commands_begin(void);

/* Obeys the command whose words begin at `cursor` and writes "SEQ OK ..." or "SEQ NO ...". True when
 * the reply says that no ball can leave any more: it must wait until that is so. */
bool command_obey(uint16_t sequence, cursor_t cursor, standing_t standing, body_t *reply);

#endif
