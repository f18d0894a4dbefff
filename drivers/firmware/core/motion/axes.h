/* Pan and tilt: two hobby servos led at the stored rate between the stored stops. */
#ifndef FEEDSCRIPT_AXES_H
#define FEEDSCRIPT_AXES_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"

#define AXES_STEP_MS 20u /* a servo hears one pulse every 20 ms */

#define PAN 0u
#define TILT 1u

void axes_begin(void);
void axes_target(uint8_t axis, int16_t cdeg);

/* The servos have lost their power. A balanced head stays where it was; before the first move since
 * power-up nobody knows where that is, and the longest way is allowed for. */
void axes_rest(void);

void axes_step(void); /* every AXES_STEP_MS while the fence is on */
bool axes_arrived(void);
int16_t axes_position(uint8_t axis); /* hundredths of a degree, as last commanded */

#endif
