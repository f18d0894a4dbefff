#include "guard/fence.h"

#include "wire/wire.h"

#define SWITCH_MS 20u
#define SILENT_MOST_MS 60000u /* what is silent for longer counts as silent for so long */

static volatile struct {
    fence_mode_t mode;
    uint8_t trips;
    bool latched;
    bool ticked; /* since the hardware watchdog was fed */
    uint16_t down_left;
    uint32_t heard; /* never in the future, never older than SILENT_MOST_MS at a tick */
    uint16_t duty[WHEELS];
    uint8_t remainder[WHEELS];
    uint16_t servo[AXES];
    /* arming switch */
    uint8_t switch_ms;
    bool switch_on;
    bool turned; /* from off to on since it was last asked for, and nothing has come of it yet */
} f;

/* ---- in interrupts, or with interrupts shut out ---- */

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
#if STEPPERS != 0
    steps_halt();
#endif
    board_power(false);
    board_lamp(false);
    f.mode = FENCE_OFF;
    f.down_left = 0u;
}

static void cut(void)
{
    gate_shut();
    outputs_off();
    f.latched = true;
}

static void begin_down(void)
{
    gate_shut();
    if (f.mode == FENCE_ON) {
        f.mode = FENCE_DOWN;
        f.down_left = RUN_DOWN_MS;
    }
}

static void trip(uint8_t what)
{
    f.trips |= what;
    if ((what & (TRIP_INPUT | TRIP_EMERGENCY)) != 0u) {
        cut();
    } else if (what == TRIP_HOLD) {
        gate_shut();
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
        f.turned = on;
        if (!on && (f.mode == FENCE_ON)) {
            trip(TRIP_SWITCH);
        }
    }
}

/* The age of what was heard is unsigned and bounded: a silence of weeks must not come round to be
 * the future, nor one of months to be new. */
static void watch_silence(uint32_t now)
{
    uint32_t silent = now - f.heard;

    if ((f.mode == FENCE_ON) && (silent > SILENCE_MS)) {
        trip(TRIP_SILENCE);
    }
    if (silent > SILENT_MOST_MS) {
        f.heard = now - SILENT_MOST_MS;
    }
}

void fence_tick(void)
{
    uint32_t now = board_now_ms();

    f.ticked = true;
    if (board_stop_loop_open()) {
        trip(TRIP_INPUT);
    }
    watch_silence(now);
    watch_switch();
    gate_watch_sensors();
    gate_tick(now, f.mode == FENCE_ON);
    if (f.mode == FENCE_DOWN) {
        f.down_left--;
        if (f.down_left == 0u) {
            outputs_off();
        }
    }
#if STEPPERS != 0
    if (f.mode == FENCE_ON) {
        steps_tick();
    }
#endif
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
        trip(TRIP_EMERGENCY);
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

static bool is_clear(void)
{
    return (f.mode == FENCE_ON) && (f.trips == 0u);
}

/* ---- from the main loop ---- */

void fence_begin(void)
{
    uint8_t before = board_lock();

    f.trips = 0u;
    f.latched = false;
    f.ticked = false;
    f.heard = board_now_ms();
    f.switch_ms = 0u;
    f.switch_on = true; /* a switch that is on at power-up must be seen off first */
    f.turned = false;
    for (uint8_t w = 0u; w < WHEELS; w++) {
        f.remainder[w] = 0u;
    }
    gate_begin();
#if STEPPERS != 0
    steps_begin();
#endif
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
    uint8_t before = board_lock();
    fence_mode_t mode = f.mode;

    board_unlock(before);
    return mode;
}

bool fence_latched(void)
{
    uint8_t before = board_lock();
    bool latched = f.latched;

    board_unlock(before);
    return latched;
}

void fence_unlatch(void)
{
    uint8_t before = board_lock();

    if (!board_stop_loop_open() && ((f.trips & (TRIP_INPUT | TRIP_EMERGENCY)) == 0u)) {
        f.latched = false;
    }
    board_unlock(before);
}

bool fence_on(void)
{
    uint8_t before = board_lock();
    bool fit = (f.mode == FENCE_OFF) && !f.latched && (f.trips == 0u) && f.turned &&
               !board_stop_loop_open() && ((board_now_ms() - f.heard) <= SILENCE_MS);

    if (fit) {
        f.turned = false; /* one turn of the switch, one arming */
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

    if ((now - echo) < (now - f.heard)) { /* newer; one of the future seems ages old */
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
        f.turned = false;
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

#if STEPPERS != 0
void fence_lead(uint8_t axis, int16_t to)
{
    uint8_t before = board_lock();

    if (f.mode == FENCE_ON) {
        steps_lead(axis, to);
    }
    board_unlock(before);
}
#endif

bool fence_release(uint32_t at, uint16_t open_ms)
{
    uint8_t before = board_lock();
    bool kept = is_clear() && gate_keep(at, open_ms);

    board_unlock(before);
    return kept;
}

void fence_ready(bool ready)
{
    uint8_t before = board_lock();

    gate_ready(ready && is_clear());
    board_unlock(before);
}

bool fence_switch_on(void)
{
    uint8_t before = board_lock();
    bool on = f.switch_on;

    board_unlock(before);
    return on;
}

void fence_alive(void)
{
    uint8_t before = board_lock();

    if (f.ticked) {
        f.ticked = false;
        board_alive();
    }
    board_unlock(before);
}
