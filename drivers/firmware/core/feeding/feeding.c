#include "feeding/feeding.h"

#include "feeding/feeder.h"
#include "feeding/state.h"
#include "guard/fence.h"

static void look_for_balls(void)
{
    uint32_t at = 0u;

    while (fence_take_ball(&at)) {
        if (!feeder_clear()) {
            feeder_ball_left(at);
        } else if ((state_now() != STATE_SAFE) && (state_now() != STATE_AWAITING_ARM)) {
            state_fault(FAULT_STRAY, 0);
        } else {
            /* unpowered: somebody's hand, or a ball put through for a test */
        }
    }
}

/* One of several sensors is dead: the others have told of the ball. */
static void look_for_missed(void)
{
    uint8_t sensor = fence_take_missed();

    if ((sensor != 0u) && (state_now() != STATE_SAFE) && (state_now() != STATE_AWAITING_ARM)) {
        state_fault(FAULT_SENSOR, state_sensor_detail(sensor, SENSOR_DEAD));
    }
}

void feeding_step(uint32_t now)
{
    feeder_note_opening();
    look_for_balls();
    look_for_missed();
    fault_t loss = feeder_look_for_loss(now);
    if (loss != FAULT_NONE) {
        state_fault(loss, (loss == FAULT_SENSOR) ? SENSOR_DEAD : 0);
    }
    if (state_now() == STATE_ARMED) {
        feeder_work_head();
    }
}
