/* Pan and tilt, each led by a hobby servo or by a stepping motor, at the stored rate between the stored stops. */
#ifndef FEEDSCRIPT_AXES_H
#define FEEDSCRIPT_AXES_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"
#include "motion/stepper.h"
#include "wire/wire.h"

void axes_begin(void);
void axes_target(uint8_t axis, int16_t cdeg);

/* The axes have lost their power. A balanced head on servos stays where it was; before the first move since
 * power-up has ended nobody knows where that is, and the longest way is allowed for. A stepping motor's is not
 * known. */
void axes_rest(void);

void axes_step(void); /* every AXES_STEP_MS while the fence is on */
bool axes_homed(void); /* every stepping motor has found its place; servos know theirs */
int32_t axes_homing_ms(void); /* the longest that finding takes; UNSET where none looks for its place */
bool axes_arrived(void);
fault_t axes_fault(uint8_t *axis); /* what is wrong with a stepping motor's axis, and with which */
int16_t axes_position(uint8_t axis); /* hundredths of a degree, as last commanded */

#endif
