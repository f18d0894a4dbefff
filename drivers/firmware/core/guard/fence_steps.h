/* The stepping motors' side of the fence: how far each axis has come, and the steps to where the main
 * loop wants it. Like fence_gate.c it knows nothing of power and stops: fence.c says when steps may be made. */
#ifndef FEEDSCRIPT_FENCE_STEPS_H
#define FEEDSCRIPT_FENCE_STEPS_H

#include <stdint.h>

#include "board.h"

#define STEPS_LEAD_MS 20u /* what is asked for is spread over so long: at most one step a millisecond */

#if STEPPERS != 0

/* From fence.c, in interrupts or with interrupts shut out. */
void steps_begin(void);
void steps_halt(void);  /* wants nothing any more */
void steps_tick(void);
void steps_lead(uint8_t axis, int16_t to);

/* From the main loop. */
int16_t fence_stepped(uint8_t axis);         /* where it is, in steps */
void fence_stand_at(uint8_t axis, int16_t at); /* what is known of where it stands; it wants nothing */

#endif
#endif
