/* Steps are made in the tick, one a millisecond at most and never past what was asked for last: a main
 * loop that hangs leaves an axis standing within STEPS_LEAD_MS. */
#include "guard/fence_steps.h"

#include <stdbool.h>

#if STEPPERS != 0

static volatile struct {
    int16_t at;
    int16_t to;
    uint8_t pace; /* steps in STEPS_LEAD_MS */
    uint8_t part;
} axes[AXES];

/* ---- in interrupts, or with interrupts shut out ---- */

void steps_begin(void)
{
    for (uint8_t axis = 0u; axis < AXES; axis++) {
        axes[axis].at = 0;
        axes[axis].to = 0;
        axes[axis].pace = 0u;
        axes[axis].part = 0u;
    }
}

void steps_halt(void)
{
    for (uint8_t axis = 0u; axis < AXES; axis++) {
        axes[axis].to = axes[axis].at;
    }
}

void steps_tick(void)
{
    for (uint8_t axis = 0u; axis < AXES; axis++) {
        if (axes[axis].at == axes[axis].to) {
            continue;
        }
        axes[axis].part = (uint8_t)(axes[axis].part + axes[axis].pace);
        if (axes[axis].part >= STEPS_LEAD_MS) {
            bool forward = axes[axis].to > axes[axis].at;
            axes[axis].part = (uint8_t)(axes[axis].part - STEPS_LEAD_MS);
            axes[axis].at = (int16_t)(axes[axis].at + (forward ? 1 : -1));
            board_step(axis, forward);
        }
    }
}

void steps_lead(uint8_t axis, int16_t to)
{
    int32_t way = (int32_t)to - axes[axis].at;
    uint32_t steps = (uint32_t)((way < 0) ? -way : way);

    axes[axis].to = to;
    axes[axis].pace = (steps > STEPS_LEAD_MS) ? (uint8_t)STEPS_LEAD_MS : (uint8_t)steps;
    axes[axis].part = (uint8_t)(STEPS_LEAD_MS - axes[axis].pace); /* the first of them at once */
}

/* ---- from the main loop ---- */

int16_t fence_stepped(uint8_t axis)
{
    uint8_t before = board_lock();
    int16_t at = axes[axis].at;

    board_unlock(before);
    return at;
}

void fence_stand_at(uint8_t axis, int16_t at)
{
    uint8_t before = board_lock();

    axes[axis].at = at;
    axes[axis].to = at;
    board_unlock(before);
}

#endif
