#include "feeding/feeder.h"

#include "feeding/events.h"
#include "feeding/memory.h"
#include "guard/fence.h"
#include "moment.h"
#include "motion/axes.h"
#include "motion/drives.h"
#include "sensing/sensors.h"
#include "store/store.h"

static feed_t queue[QUEUE_PLACES];
static uint8_t count;
static bool offered; /* the head's moment is in the fence's keeping */

/* The ball whose gate has opened and which has not been seen yet. */
static struct {
    bool under_way;
    bool cut_short; /* a hold or stop shut the gate on it */
    bool felt;      /* the wheels have been slowed since, as by a ball */
    uint32_t id;
    reason_t reason;
} ball;

static struct {
    bool some;
    uint32_t leave;       /* of the newest accepted feed */
    uint32_t released;    /* of the newest one whose gate opened */
    bool some_released;
} before;

void feeder_begin(void)
{
    count = 0u;
    offered = false;
    ball.under_way = false;
    ball.cut_short = false;
    ball.felt = false;
    before.some = false;
    before.some_released = false;
}

uint8_t feeder_queued(void)
{
    return count;
}

bool feeder_before(uint32_t *leave)
{
    *leave = before.leave;
    return before.some;
}

void feeder_prepare(const setting_t *setting)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        drives_target(w, setting->drives[w]);
    }
    for (uint8_t axis = 0u; axis < AXES; axis++) {
        axes_target(axis, setting->angles[axis]);
    }
}

void feeder_add(const feed_t *feed)
{
    if (count >= QUEUE_PLACES) {
        return;
    }
    queue[count] = *feed;
    count++;
    before.some = true;
    before.leave = feed->leave;
}

static void drop_head(void)
{
    for (uint8_t i = 1u; i < count; i++) {
        queue[i - 1u] = queue[i];
    }
    if (count > 0u) {
        count--;
    }
    offered = false;
}

static void miss_head(reason_t reason)
{
    uint32_t id = queue[0].id;

    memory_settle(id, OUTCOME_NOT_SENT, 0u, reason);
    event_put(EVENT_MISS, board_now_ms(), id, (int32_t)reason);
    drop_head();
}

/* The fence has opened the gate for the head of the queue: from here on it is a ball. */
void feeder_note_opening(void)
{
    if (!offered || (fence_release_state() != RELEASE_OPENED)) {
        return;
    }
    ball.under_way = true;
    ball.cut_short = false;
    ball.felt = false;
    ball.id = queue[0].id;
    before.some_released = true;
    before.released = queue[0].leave;
    drop_head();
}

void feeder_flush(reason_t reason)
{
    fence_shut();
    feeder_note_opening();
    while (count > 0u) {
        miss_head(reason);
    }
    if (ball.under_way && !ball.cut_short) {
        ball.cut_short = true;
        ball.reason = reason;
    }
    before.some = before.some_released;
    before.leave = before.released;
}

bool feeder_clear(void)
{
    return !ball.under_way;
}

static void ball_done(void)
{
    ball.under_way = false;
    fence_release_done();
}

void feeder_ball_left(uint32_t at)
{
    memory_settle(ball.id, OUTCOME_LEFT, at, REASON_NONE);
    event_put(EVENT_LEFT, at, ball.id, 0);
    ball_done();
}

static bool overdue(uint32_t now)
{
    if (ball.cut_short) {
        int32_t clear = store_number(NUMBER_CLEAR);
        return moment_past(now, fence_shut_at()) >= clear;
    }
    return moment_past(now, fence_opened_at()) >= (int32_t)JAM_MS;
}

/* Why no ball was seen. Wheels that were slowed and are at speed again have thrown one: then it is the
 * sensor that is dead. */
static fault_t cause_of_loss(void)
{
    if (DRIVES_FEEL_BALLS && ball.felt && drives_settled()) {
        return FAULT_SENSOR;
    }
    return (fence_ball_was_ready() || !sensors_have(SENSES_GATE)) ? FAULT_JAM : FAULT_EMPTY;
}

fault_t feeder_look_for_loss(uint32_t now)
{
    if (!ball.under_way) {
        return FAULT_NONE;
    }
    ball.felt = ball.felt || !drives_settled();
    if (!overdue(now)) {
        return FAULT_NONE;
    }
    reason_t reason = ball.cut_short ? ball.reason : REASON_FAULT;
    fault_t cause = ball.cut_short ? FAULT_NONE : cause_of_loss();

    memory_settle(ball.id, OUTCOME_UNKNOWN, 0u, reason);
    event_put(EVENT_LOST, now, ball.id, (int32_t)reason);
    ball_done();
    return cause;
}

static uint16_t open_ms(void)
{
#if VALVE != 0
    int32_t wanted = (int32_t)queue[0].setting.drives[0];
#else
    int32_t wanted = store_number(NUMBER_GATE_MS);
#endif

    return ((wanted > 0) && (wanted < (int32_t)JAM_MS)) ? (uint16_t)wanted : 1u;
}

/* One ball at a time: the next is led to its setting when the one before has left. */
void feeder_work_head(void)
{
    if ((count == 0u) || ball.under_way) {
        return;
    }
    if (!offered) {
        uint32_t lead = (uint32_t)store_number(NUMBER_LEAD);
        feeder_prepare(&queue[0].setting);
        offered = fence_release(queue[0].leave - lead, open_ms());
    } else if (fence_release_state() == RELEASE_MISSED) {
        fence_release_done();
        miss_head(REASON_NOT_READY);
    } else {
        fence_ready(drives_settled() && axes_arrived());
    }
}
