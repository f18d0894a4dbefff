#include "motion/axes.h"

#include "guard/fence.h"
#include "store/store.h"

_Static_assert(AXES_STEP_MS == 20u, "a servo hears one pulse every 20 ms");

#define LAG_STEPS 5u /* a servo trails its pulse by about this many of them */
#define QUARTER_TURN 9000 /* hundredths of a degree */
#define STEPS_PER_S (1000 / (int32_t)AXES_STEP_MS)

#define LONGEST UINT16_MAX /* to wait: the longest way, from the first pulse on */
#define RANGE_MOST (2 * (int32_t)ANGLE_MOST)

_Static_assert((((RANGE_MOST * STEPS_PER_S) / RATE_LEAST) + (int32_t)LAG_STEPS) < (int32_t)LONGEST,
               "the slowest axis over the widest range is waited for whole");

/* A servo whose place is not known runs one way until it meets its pulse, wherever that is led meanwhile, and
 * follows it from there. At the axis's rate it has met it after the whole range: so that is waited for from the
 * first pulse on, and after the last move of the pulse the lag alone. A servo that lost its power on its way is
 * as unknown as before. */
typedef struct {
    int32_t target;
    int32_t position;
    uint16_t wait; /* steps until the servo is where it was told */
    uint8_t part;  /* of a hundredth, in STEPS_PER_S a hundredth: what strides have left over */
    bool known;    /* it has met its pulse since power-up */
} axis_t;

static axis_t axes[AXES];

void axes_begin(void)
{
    for (uint8_t i = 0u; i < AXES; i++) {
        axes[i].position = 0;
        axes[i].known = false;
    }
    axes_rest();
}

void axes_rest(void)
{
    for (uint8_t i = 0u; i < AXES; i++) {
        axes[i].target = axes[i].position;
        axes[i].part = 0u;
        axes[i].wait = axes[i].known ? LAG_STEPS : LONGEST;
#if STEPPERS != 0
        if (axis_steps(i)) {
            stepper_rest(i);
        }
#endif
    }
}

void axes_target(uint8_t axis, int16_t cdeg)
{
#if STEPPERS != 0
    if (axis_steps(axis)) {
        stepper_target(axis, cdeg);
        return;
    }
#endif
    axes[axis].target = cdeg;
}

int16_t axes_position(uint8_t axis)
{
#if STEPPERS != 0
    if (axis_steps(axis)) {
        return stepper_position(axis);
    }
#endif
    return (int16_t)axes[axis].position;
}

/* Hundredths of a degree a second. */
static int32_t rate(uint8_t axis)
{
    return store_number((axis == PAN) ? NUMBER_PAN_RATE : NUMBER_TILT_RATE);
}

/* The whole of the axis's range at its rate: the longest way to anywhere. */
static uint16_t longest_way(uint8_t axis)
{
    uint8_t least = (axis == PAN) ? NUMBER_PAN_LEAST : NUMBER_TILT_LEAST;
    int32_t range = store_number((uint8_t)(least + 1u)) - store_number(least);
    int32_t steps = ((range * STEPS_PER_S) + rate(axis) - 1) / rate(axis);

    return (uint16_t)(steps + (int32_t)LAG_STEPS);
}

/* The nearest to it that the axis may stand at: its range need not reach straight ahead. */
static int32_t within(uint8_t axis, int32_t cdeg)
{
    uint8_t first = (axis == PAN) ? NUMBER_PAN_LEAST : NUMBER_TILT_LEAST;
    int32_t least = store_number(first);
    int32_t most = store_number((uint8_t)(first + 1u));

    if (cdeg < least) {
        return least;
    }
    return (cdeg > most) ? most : cdeg;
}

static uint16_t pulse_us(uint8_t axis, int32_t cdeg)
{
    uint8_t first = (axis == PAN) ? NUMBER_PAN_US : NUMBER_TILT_US;
    int32_t centre = store_number(first);
    int32_t span = store_number((uint8_t)(first + 1u));
    int32_t us = centre + ((cdeg * span) / QUARTER_TURN);
    int32_t least = store_number(NUMBER_SERVO_LEAST);
    int32_t most = store_number(NUMBER_SERVO_MOST);

    if (us < least) {
        us = least;
    }
    return (uint16_t)((us > most) ? most : us);
}

static void step(axis_t *axis, uint8_t index)
{
    if (axis->wait == LONGEST) {
        axis->wait = longest_way(index);
        axis->position = within(index, axis->position);
        axis->target = within(index, axis->target);
    }
    int32_t left = axis->target - axis->position;
    int32_t due = rate(index) + (int32_t)axis->part;
    int32_t stride = due / STEPS_PER_S; /* the rest is carried: neither faster nor slower than the rate */

    axis->part = (uint8_t)((left == 0) ? 0 : (due % STEPS_PER_S));
    if (left != 0) {
        if (left > stride) {
            left = stride;
        } else if (left < -stride) {
            left = -stride;
        } else {
            /* the last stride */
        }
        axis->position += left;
        axis->wait = (axis->wait > LAG_STEPS) ? (uint16_t)(axis->wait - 1u) : LAG_STEPS;
    } else if (axis->wait > 0u) {
        axis->wait--;
    } else {
        axis->known = true;
    }
    fence_servo(index, pulse_us(index, axis->position));
}

void axes_step(void)
{
    for (uint8_t i = 0u; i < AXES; i++) {
#if STEPPERS != 0
        if (axis_steps(i)) {
            stepper_step(i);
            continue;
        }
#endif
        step(&axes[i], i);
    }
}

bool axes_homed(void)
{
#if STEPPERS != 0
    for (uint8_t i = 0u; i < AXES; i++) {
        if (axis_steps(i) && !stepper_homed(i)) {
            return false;
        }
    }
#endif
    return true;
}

int32_t axes_homing_ms(void)
{
    int32_t longest = UNSET;

#if STEPPERS != 0
    for (uint8_t i = 0u; i < AXES; i++) {
        int32_t ms = axis_steps(i) ? stepper_homing_ms(i) : UNSET;

        longest = (ms > longest) ? ms : longest;
    }
#endif
    return longest;
}

fault_t axes_fault(uint8_t *axis)
{
    fault_t fault = FAULT_NONE;

    *axis = 0u;
#if STEPPERS != 0
    for (uint8_t i = 0u; (i < AXES) && (fault == FAULT_NONE); i++) {
        fault = axis_steps(i) ? stepper_fault(i) : FAULT_NONE;
        *axis = i;
    }
#endif
    return fault;
}

bool axes_arrived(void)
{
    for (uint8_t i = 0u; i < AXES; i++) {
#if STEPPERS != 0
        if (axis_steps(i)) {
            if (!stepper_arrived(i)) {
                return false;
            }
            continue;
        }
#endif
        if ((axes[i].position != axes[i].target) || (axes[i].wait > 0u)) {
            return false;
        }
    }
    return true;
}
