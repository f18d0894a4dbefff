#include "fence.h"

#include "wire.h"

#define BALL_QUIET_MS 30u     /* edges nearer than this belong to the same ball */
#define SENSOR_BLOCKED_MS 500u
#define SWITCH_MS 20u
#define BALLS_KEPT 4u

static volatile struct {
    fence_mode_t mode;
    uint8_t trips;
    bool latched;
    uint16_t down_left;
    uint32_t heard;
    uint16_t duty[WHEELS];
    uint8_t remainder[WHEELS];
    uint16_t servo[AXES];
    /* gate */
    release_t release;
    uint32_t release_at;
    uint16_t open_ms;
    uint16_t open_left;
    uint32_t opened_at;
    uint32_t shut_at;
    bool ready;
    bool ball_was_ready;
    /* ball sensor */
    uint32_t balls[BALLS_KEPT];
    uint8_t ball_count;
    uint8_t ball_quiet;
    uint16_t blocked_ms;
    /* arming switch */
    uint8_t switch_ms;
    bool switch_on;
} f;

/* ---- in interrupts, or with interrupts shut out ---- */

static void shut_gate(void)
{
    board_gate(false);
    if (f.open_left > 0u) {
        f.open_left = 0u;
        f.shut_at = board_now_ms();
    }
    f.ready = false;
    if (f.release == RELEASE_WAITING) {
        f.release = RELEASE_NONE;
    }
}

static void outputs_off(void)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        board_wheel(w, 0u);
        f.duty[w] = 0u;
    }
    for (uint8_t axis = 0u; axis < AXES; axis++) {
        board_servo(axis, 0u);
        f.servo[axis] = 0u;
    }
    board_power(false);
    board_lamp(false);
    f.mode = FENCE_OFF;
    f.down_left = 0u;
}

static void cut(void)
{
    shut_gate();
    outputs_off();
    f.latched = true;
}

static void begin_down(void)
{
    shut_gate();
    if (f.mode == FENCE_ON) {
        f.mode = FENCE_DOWN;
        f.down_left = RUN_DOWN_MS;
    }
}

static void trip(uint8_t what)
{
    f.trips |= what;
    if ((what & (TRIP_INPUT | TRIP_CAN)) != 0u) {
        cut();
    } else if (what == TRIP_HOLD) {
        shut_gate();
    } else {
        begin_down();
    }
}

/* One wheel's duty: 16 bits of will on 8 bits of timer, the rest carried to the next tick. */
static void work_wheel(uint8_t w)
{
    uint16_t will = f.duty[w];
    uint16_t carried = (uint16_t)((will & 0xFFu) + f.remainder[w]);
    uint16_t duty = (uint16_t)((will >> 8) + (carried >> 8));

    f.remainder[w] = (uint8_t)carried;
    if (duty > 255u) {
        duty = 255u;
    }
    if ((f.mode == FENCE_DOWN) && (duty > f.down_left)) {
        duty = f.down_left;
    }
    board_wheel(w, (uint8_t)duty);
}

static void work_gate(uint32_t now)
{
    if (f.open_left > 0u) {
        f.open_left--;
        if (f.open_left == 0u) {
            board_gate(false);
            f.shut_at = now;
        }
    }
    if ((f.release != RELEASE_WAITING) || (f.mode != FENCE_ON)) {
        return;
    }
    int32_t past = (int32_t)(now - f.release_at);
    if (past < 0) {
        return;
    }
    if (past > (int32_t)GRACE_MS) {
        f.release = RELEASE_MISSED;
    } else if (f.ready) {
        f.release = RELEASE_OPENED;
        f.opened_at = now;
        f.ball_was_ready = board_ball_ready();
        f.open_left = f.open_ms;
        board_gate(true);
    } else {
        /* not ready yet: the grace is for this */
    }
}

static void watch_switch(void)
{
    bool on = board_arm_switch();

    if (on == f.switch_on) {
        f.switch_ms = 0u;
        return;
    }
    f.switch_ms++;
    if (f.switch_ms >= SWITCH_MS) {
        f.switch_on = on;
        f.switch_ms = 0u;
        if (!on && (f.mode == FENCE_ON)) {
            trip(TRIP_SWITCH);
        }
    }
}

static void watch_sensor(void)
{
    if (f.ball_quiet > 0u) {
        f.ball_quiet--;
    }
    if (!board_ball_blocked()) {
        f.blocked_ms = 0u;
    } else if (f.blocked_ms < SENSOR_BLOCKED_MS) {
        f.blocked_ms++;
    } else {
        /* blocked for long: it stays so until it is free */
    }
}

void fence_tick(void)
{
    uint32_t now = board_now_ms();

    if (board_stop_loop_open()) {
        trip(TRIP_INPUT);
    }
    if ((f.mode == FENCE_ON) && ((int32_t)(now - f.heard) > (int32_t)SILENCE_MS)) {
        trip(TRIP_SILENCE);
    }
    watch_switch();
    watch_sensor();
    work_gate(now);
    if (f.mode == FENCE_DOWN) {
        f.down_left--;
        if (f.down_left == 0u) {
            outputs_off();
        }
    }
    if (f.mode != FENCE_OFF) {
        for (uint8_t w = 0u; w < WHEELS; w++) {
            work_wheel(w);
        }
    }
}

bool fence_byte(uint8_t byte)
{
    switch (byte) {
    case BYTE_EMERGENCY:
        trip(TRIP_CAN);
        return true;
    case BYTE_STOP:
        trip(TRIP_STOP);
        return true;
    case BYTE_HOLD:
        trip(TRIP_HOLD);
        return true;
    default:
        return false;
    }
}

void fence_ball(void)
{
    if (f.ball_quiet > 0u) {
        return;
    }
    f.ball_quiet = BALL_QUIET_MS;
    if (f.ball_count < BALLS_KEPT) {
        f.balls[f.ball_count] = board_now_ms();
        f.ball_count++;
    }
    if (f.open_left > 0u) {
        f.open_left = 0u;
        f.shut_at = board_now_ms();
        board_gate(false);
    }
}

/* ---- from the main loop ---- */

void fence_begin(void)
{
    uint8_t before = board_lock();

    f.trips = 0u;
    f.latched = false;
    f.heard = board_now_ms();
    f.release = RELEASE_NONE;
    f.open_left = 0u;
    f.ready = false;
    f.ball_count = 0u;
    f.ball_quiet = 0u;
    f.blocked_ms = 0u;
    f.switch_ms = 0u;
    f.switch_on = true; /* a switch that is on at power-up must be seen off first */
    f.opened_at = 0u;
    f.shut_at = 0u;
    f.ball_was_ready = false;
    for (uint8_t w = 0u; w < WHEELS; w++) {
        f.remainder[w] = 0u;
    }
    shut_gate();
    outputs_off();
    board_unlock(before);
}

uint8_t fence_take_trips(void)
{
    uint8_t before = board_lock();
    uint8_t trips = f.trips;

    f.trips = 0u;
    board_unlock(before);
    return trips;
}

fence_mode_t fence_mode(void)
{
    return f.mode;
}

bool fence_latched(void)
{
    return f.latched;
}

void fence_unlatch(void)
{
    uint8_t before = board_lock();

    if (!board_stop_loop_open() && ((f.trips & (TRIP_INPUT | TRIP_CAN)) == 0u)) {
        f.latched = false;
    }
    board_unlock(before);
}

bool fence_on(void)
{
    uint8_t before = board_lock();
    bool fit = (f.mode == FENCE_OFF) && !f.latched && (f.trips == 0u) && f.switch_on &&
               !board_stop_loop_open();

    if (fit) {
        f.mode = FENCE_ON;
        board_power(true);
        board_lamp(true);
    }
    board_unlock(before);
    return fit;
}

void fence_down(void)
{
    uint8_t before = board_lock();

    begin_down();
    board_unlock(before);
}

void fence_cut(void)
{
    uint8_t before = board_lock();

    cut();
    board_unlock(before);
}

void fence_heard(uint32_t echo)
{
    uint8_t before = board_lock();
    uint32_t now = board_now_ms();

    if (((int32_t)(echo - f.heard) > 0) && ((int32_t)(now - echo) >= 0)) {
        f.heard = echo;
    }
    board_unlock(before);
}

uint32_t fence_last_heard(void)
{
    uint8_t before = board_lock();
    uint32_t heard = f.heard;

    board_unlock(before);
    return heard;
}

void fence_listen_anew(void)
{
    uint8_t before = board_lock();

    if (f.mode == FENCE_OFF) { /* what is powered keeps the measure it has */
        f.heard = board_now_ms();
    }
    board_unlock(before);
}

void fence_drive(uint8_t wheel, uint16_t duty)
{
    uint8_t before = board_lock();

    if (f.mode == FENCE_ON) {
        f.duty[wheel] = duty;
    }
    board_unlock(before);
}

void fence_servo(uint8_t axis, uint16_t us)
{
    uint8_t before = board_lock();

    if ((f.mode == FENCE_ON) && (f.servo[axis] != us)) {
        f.servo[axis] = us;
        board_servo(axis, us);
    }
    board_unlock(before);
}

bool fence_release(uint32_t at, uint16_t open_ms)
{
    uint8_t before = board_lock();
    bool fit = (f.mode == FENCE_ON) && (f.trips == 0u) && (f.open_left == 0u);

    if (fit) {
        f.ready = false;
        f.release_at = at;
        f.open_ms = open_ms;
        f.release = RELEASE_WAITING;
    }
    board_unlock(before);
    return fit;
}

void fence_ready(bool ready)
{
    uint8_t before = board_lock();

    f.ready = ready && (f.mode == FENCE_ON) && (f.trips == 0u);
    board_unlock(before);
}

void fence_shut(void)
{
    uint8_t before = board_lock();

    shut_gate();
    board_unlock(before);
}

release_t fence_release_state(void)
{
    return f.release;
}

void fence_release_done(void)
{
    uint8_t before = board_lock();

    shut_gate();
    f.release = RELEASE_NONE;
    board_unlock(before);
}

uint32_t fence_opened_at(void)
{
    uint8_t before = board_lock();
    uint32_t at = f.opened_at;

    board_unlock(before);
    return at;
}

bool fence_ball_was_ready(void)
{
    return f.ball_was_ready;
}

uint32_t fence_shut_at(void)
{
    uint8_t before = board_lock();
    uint32_t at = f.shut_at;

    board_unlock(before);
    return at;
}

bool fence_take_ball(uint32_t *at)
{
    uint8_t before = board_lock();
    bool some = f.ball_count > 0u;

    if (some) {
        *at = f.balls[0];
        f.ball_count--;
        for (uint8_t i = 0u; i < f.ball_count; i++) {
            f.balls[i] = f.balls[i + 1u];
        }
    }
    board_unlock(before);
    return some;
}

bool fence_sensor_blocked(void)
{
    return f.blocked_ms >= SENSOR_BLOCKED_MS;
}

bool fence_switch_on(void)
{
    return f.switch_on;
}
