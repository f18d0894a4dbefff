/* What the launcher senses, by the table of its board: which sensors there are, whether they are enough to
 * throw by, and what several of a kind say together.
 *
 * What a launcher does without:
 * - a ball sensor, a wheel's tachometer, a tank's switch, a stepping axis's home sensor: it never arms;
 * - the switch on the gate: nobody can tell an empty hopper from a jam, and it says jam;
 * - its supply or a temperature: it keeps no limit of it, and does not arm while one is stored. */
#ifndef FEEDSCRIPT_SENSORS_H
#define FEEDSCRIPT_SENSORS_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"

#define NOT_SENSED (-1) /* as the wire says it */

bool sensors_have(uint8_t senses); /* any of the kind */
bool sensors_suffice(void);        /* without them no ball may leave */
uint16_t sensors_capabilities(void);

int32_t sensors_supply_mv(void);     /* NOT_SENSED where nothing measures it */
int32_t sensors_temperature_c(void); /* of the hottest; NOT_SENSED where nothing measures one */

#endif
