/* Air in place of wheels: a tank of one pressure, kept by a compressor and a regulator that the core does
 * not know, and the switch that says whether it is there. How long the valve opens is the gate's. */
#include "motion/drives.h"

#include "guard/fence.h"
#include "store/store.h"

#if VALVE != 0

#define SETTLED_STEPS 5u /* at its pressure so often, without a break */

static struct {
    uint16_t opening; /* ms; 0: nothing is asked of it */
    uint8_t settled;
    uint16_t filling; /* steps in which its pressure was waited for */
} tank;

void drives_begin(void)
{
    drives_rest();
}

void drives_rest(void)
{
    tank.opening = 0u;
    tank.settled = 0u;
    tank.filling = 0u;
}

void drives_target(uint8_t wheel, uint16_t opening)
{
    (void)wheel;
    tank.opening = opening;
}

void drives_ceiling(uint8_t wheel, uint16_t opening)
{
    (void)wheel;
    (void)opening; /* nothing measures an opening: it is held against the ceiling when it is asked for */
}

uint16_t drives_measured(uint8_t wheel)
{
    (void)wheel;
    return drives_settled() ? tank.opening : 0u;
}

void drives_step(uint32_t now)
{
    bool on = fence_mode() == FENCE_ON;
    bool ready = on && board_tank_ready();
    bool waited_for = on && !ready && (tank.opening > 0u);

    (void)now;
    if (!ready) {
        tank.settled = 0u;
    } else if (tank.settled < SETTLED_STEPS) {
        tank.settled++;
    } else {
        /* it has been there for long enough */
    }
    if (!waited_for) {
        tank.filling = 0u;
    } else if (tank.filling < UINT16_MAX) {
        tank.filling++;
    } else {
        /* longer than any tank may take */
    }
}

bool drives_settled(void)
{
    return (tank.opening > 0u) && (tank.settled >= SETTLED_STEPS);
}

fault_t drives_fault(uint8_t *wheel)
{
    uint32_t steps = (uint32_t)store_number(NUMBER_FILL_MS) / DRIVES_STEP_MS;

    *wheel = 0u;
    return (tank.filling > steps) ? FAULT_DRIVE : FAULT_NONE;
}

#endif
