#include "launcher.h"

#include "board.h"
#include "commands/commands.h"
#include "commands/dialogue.h"
#include "feeding/events.h"
#include "feeding/feeder.h"
#include "feeding/feeding.h"
#include "feeding/memory.h"
#include "feeding/state.h"
#include "guard/fence.h"
#include "link/link.h"
#include "motion/axes.h"
#include "motion/drives.h"
#include "sensing/sensors.h"
#include "store/fault_log.h"
#include "store/store.h"

#define FAULT_STEPS 25u /* half a second of a low voltage before it counts */

static uint32_t last_step;
static uint8_t cause_steps;

void launcher_begin(void)
{
    fence_begin();
    store_begin();
    events_begin();
    memory_begin();
    state_begin();
    feeder_begin();
    drives_begin();
    axes_begin();
    commands_begin();
    link_begin();
    dialogue_begin();
    last_step = board_now_ms();
    cause_steps = 0u;
    fault_log_begin();
    event_put(EVENT_BOOT, last_step, store_boot(), (int32_t)board_start_cause());
    if (board_start_cause() != CAUSE_POWER) {
        fault_log_add((uint8_t)(LOG_START + board_start_cause()), 0);
    }
    if (store_spoiled()) {
        event_put(EVENT_FAULT, last_step, (uint32_t)FAULT_LIMITS, 0);
        fault_log_add((uint8_t)FAULT_LIMITS, 0);
    }
}

static int32_t detail_of(fault_t cause)
{
    if (cause == FAULT_VOLTAGE) {
        return sensors_supply_mv();
    }
    if (cause == FAULT_SENSOR) {
        return state_sensor_detail(fence_sensor_blocked(), SENSOR_BLOCKED);
    }
    return (cause == FAULT_TEMPERATURE) ? sensors_temperature_c() : 0;
}

/* Faults that are measured, looked for while anything may be powered. */
static void supervise(void)
{
    uint8_t wheel = 0u;
    uint8_t axis = 0u;
    fault_t drive = drives_fault(&wheel);
    fault_t led = axes_fault(&axis);
    fault_t cause = state_cause_present();

    if (drive != FAULT_NONE) {
        state_fault(drive, (int32_t)wheel + 1);
        return;
    }
    if (led != FAULT_NONE) {
        state_fault(led, (int32_t)axis + 1);
        return;
    }
    cause_steps = (cause == FAULT_NONE) ? 0u : (uint8_t)(cause_steps + 1u);
    if (cause_steps >= FAULT_STEPS) {
        cause_steps = 0u;
        state_fault(cause, detail_of(cause));
    }
}

static void step(uint32_t now)
{
    drives_step(now);
    if (fence_mode() == FENCE_ON) {
        axes_step();
        supervise();
    }
}

void launcher_poll(void)
{
    uint32_t now = board_now_ms();

    fence_alive();
    state_follow(now);
    dialogue_read();
    if ((now - last_step) >= DRIVES_STEP_MS) {
        last_step += DRIVES_STEP_MS;
        if ((now - last_step) >= DRIVES_STEP_MS) {
            last_step = now; /* late by more than a step: do not catch up */
        }
        step(now);
    }
    feeding_step(now);
    if ((fence_mode() == FENCE_OFF) && feeder_clear()) {
        fault_log_step();
    }
    dialogue_write();
}
