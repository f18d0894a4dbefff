/* An axis led by a stepping motor: it finds its place against a home sensor whenever power comes on,
 * moves with bounded acceleration, and notices lost steps.
 *
 * The sensor is covered on the near side of its edge, towards the least angle, and free on the far side,
 * wherever in the travel that edge lies: a switch at the near stop, or a vane over half of the way. */
#ifndef FEEDSCRIPT_STEPPER_H
#define FEEDSCRIPT_STEPPER_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"
#include "wire/wire.h"

#define AXES_STEP_MS 20u
#define PAN 0u
#define TILT 1u

static inline bool axis_steps(uint8_t axis)
{
    return (((uint32_t)STEPPERS >> axis) & 1u) != 0u;
}

#if STEPPERS != 0

void stepper_rest(uint8_t axis); /* without power: nobody knows any more where it stands */
void stepper_target(uint8_t axis, int16_t cdeg);
void stepper_step(uint8_t axis); /* every AXES_STEP_MS while the fence is on */
bool stepper_homed(uint8_t axis); /* it knows its place, and stands within its range: asked while nothing leads it */
int32_t stepper_homing_ms(uint8_t axis); /* the longest it takes, found or not; UNSET before it is set up */
bool stepper_arrived(uint8_t axis);
int16_t stepper_position(uint8_t axis); /* hundredths of a degree, by the steps made */

/* FAULT_HOME: its sensor's edge was not found in the whole of its travel. FAULT_STEPS: the sensor shows
 * what it cannot where the axis ought to be. */
fault_t stepper_fault(uint8_t axis);

#endif
#endif
