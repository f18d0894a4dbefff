#include "feeding/state.h"

#include "feeding/events.h"
#include "feeding/feeder.h"
#include "guard/fence.h"
#include "moment.h"
#include "motion/axes.h"
#include "motion/drives.h"
#include "sensing/sensors.h"
#include "store/fault_log.h"
#include "store/store.h"

static state_t state;
static reason_t why;
static fault_t fault;
static uint32_t since;      /* when the state was entered */
static bool switch_was_on;  /* seen on since the emergency stop */

void state_begin(void)
{
    state = STATE_SAFE;
    why = REASON_POWER_UP;
    fault = FAULT_NONE;
    since = board_now_ms();
}

state_t state_now(void)
{
    return state;
}

reason_t state_reason(void)
{
    return why;
}

fault_t state_fault_now(void)
{
    return fault;
}

static void enter(state_t to, reason_t reason)
{
    switch (to) {
    case STATE_AWAITING_ARM:
        fence_listen_anew();
        break;
    case STATE_HELD:
        fence_shut();
        feeder_flush(reason);
        break;
    case STATE_STOPPING:
    case STATE_FAULT:
        fence_down();
        feeder_flush(reason);
        break;
    case STATE_STOPPED:
        switch_was_on = fence_switch_on();
        fence_cut();
        feeder_flush(reason);
        break;
    case STATE_SAFE:
        fault = FAULT_NONE;
        break;
    case STATE_ARMED:
    default:
        break;
    }
}

void state_go(state_t to, reason_t reason)
{
    if ((to == state) || ((state == STATE_STOPPED) && (to != STATE_SAFE))) {
        return;
    }
    state = to;
    why = reason;
    since = board_now_ms();
    event_put(EVENT_STATE, since, (uint32_t)to, (int32_t)reason);
    enter(to, reason);
}

void state_fault(fault_t what, int32_t detail)
{
    event_put(EVENT_FAULT, board_now_ms(), (uint32_t)what, detail);
    if ((state != STATE_FAULT) && (state != STATE_STOPPED)) {
        fault = what;
        fault_log_add((uint8_t)what, detail);
        state_go(STATE_FAULT, REASON_FAULT);
    }
}

int32_t state_sensor_detail(uint8_t sensor, int32_t what)
{
    return (SENSORS > 1u) ? (((int32_t)sensor * SENSOR_NUMBER) + what) : what;
}

fault_t state_cause_present(void)
{
    int32_t least_mv = store_number(NUMBER_LEAST_MV);
    int32_t most_c = store_number(NUMBER_MOST_C);

    if (store_spoiled()) {
        return FAULT_LIMITS;
    }
    if ((least_mv != UNSET) && (!sensors_have(SENSES_SUPPLY) || (sensors_supply_mv() < least_mv))) {
        return FAULT_VOLTAGE; /* a limit of what nobody measures is no limit */
    }
    if ((most_c != UNSET) && (!sensors_have(SENSES_TEMPERATURE) || (sensors_temperature_c() > most_c))) {
        return FAULT_TEMPERATURE;
    }
    if (fence_sensor_blocked() != 0u) {
        return FAULT_SENSOR;
    }
    return FAULT_NONE;
}

bool state_end_fault(reason_t reason)
{
    if (state == STATE_FAULT) {
        if (state_cause_present() != FAULT_NONE) {
            return false;
        }
        state_go((fence_mode() == FENCE_DOWN) ? STATE_STOPPING : STATE_SAFE, reason);
    }
    return true;
}

void state_make_safe(reason_t reason)
{
    switch (state) {
    case STATE_ARMED:
    case STATE_HELD:
        state_go(STATE_STOPPING, reason);
        break;
    case STATE_AWAITING_ARM:
        state_go((fence_mode() == FENCE_OFF) ? STATE_SAFE : STATE_STOPPING, reason);
        break;
    case STATE_SAFE:
    case STATE_STOPPING:
    case STATE_STOPPED:
    case STATE_FAULT:
    default:
        break;
    }
}

static void follow_trips(void)
{
    uint8_t trips = fence_take_trips();

    if ((trips & TRIP_INPUT) != 0u) {
        state_go(STATE_STOPPED, REASON_EMERGENCY);
    } else if ((trips & TRIP_EMERGENCY) != 0u) {
        state_go(STATE_STOPPED, REASON_CHARACTER);
    } else if ((trips & TRIP_STOP) != 0u) {
        state_make_safe(REASON_CHARACTER);
    } else if ((trips & TRIP_SILENCE) != 0u) {
        state_make_safe(REASON_SILENCE);
    } else if ((trips & TRIP_SWITCH) != 0u) {
        state_make_safe(REASON_SWITCH);
    } else if (((trips & TRIP_HOLD) != 0u) && (state == STATE_ARMED)) {
        state_go(STATE_HELD, REASON_CHARACTER);
    } else {
        /* nothing happened, or the hold of what is not armed */
    }
}

/* Between the person's act and *armed* the axes find their place: with power, and no drive asked for. */
static void follow_arming(uint32_t now)
{
    if (fence_on() || (fence_mode() != FENCE_OFF)) { /* the person has turned the switch since */
        if (fence_mode() != FENCE_ON) {
            return;
        }
        if (axes_homed()) {
            state_go(STATE_ARMED, REASON_PERSON);
        } else if (why != REASON_HOMING) {
            why = REASON_HOMING; /* the state is the same: people are told that nobody is waited for */
            event_put(EVENT_STATE, now, (uint32_t)state, (int32_t)why);
        } else {
            /* they look on */
        }
    } else if (moment_past(now, fence_last_heard()) > (int32_t)SILENCE_MS) {
        state_go(STATE_SAFE, REASON_SILENCE);
    } else if (moment_past(now, since) > (int32_t)PERSON_MS) {
        state_go(STATE_SAFE, REASON_NOBODY);
    } else {
        /* still waiting for the person */
    }
}

/* Reset of the emergency stop: its input released, then the arming switch turned off. */
static void follow_reset(void)
{
    if (board_stop_loop_open()) {
        switch_was_on = fence_switch_on();
        return;
    }
    if (fence_switch_on()) {
        switch_was_on = true;
    } else if (switch_was_on) {
        fence_unlatch();
        if (!fence_latched()) {
            state_go(STATE_SAFE, REASON_PERSON);
        }
    } else {
        /* it was off when the stop came: the person turns it on and off */
    }
}

static int32_t hold_limit(void)
{
    int32_t stored = store_number(NUMBER_HOLD);

    return ((stored < 0) || (stored > (int32_t)HOLD_MOST_MS)) ? (int32_t)HOLD_MOST_MS : stored;
}

void state_follow(uint32_t now)
{
    follow_trips();
    switch (state) {
    case STATE_AWAITING_ARM:
        follow_arming(now);
        break;
    case STATE_HELD:
        if (moment_past(now, since) > hold_limit()) {
            state_go(STATE_STOPPING, REASON_HOLD_LIMIT);
        }
        break;
    case STATE_STOPPING:
        if (fence_mode() == FENCE_OFF) {
            state_go(STATE_SAFE, REASON_POWER_OFF);
        }
        break;
    case STATE_STOPPED:
        follow_reset();
        break;
    case STATE_SAFE:
    case STATE_ARMED:
    case STATE_FAULT:
    default:
        break;
    }
    if (fence_mode() != FENCE_ON) {
        drives_rest();
        axes_rest();
    }
}
