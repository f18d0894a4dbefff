/* The last fence: with fence_gate.c and fence_steps.c the only code that touches a powered output.
 *
 * It lives in interrupts, so it holds while the main loop is busy, late or stuck: the emergency
 * stop, the stop characters, the silence limit, the arming switch, the run-down of the drives, the
 * moment a gate opens and the moment it must shut. The main loop asks; the fence may refuse.
 */
#ifndef FEEDSCRIPT_FENCE_H
#define FEEDSCRIPT_FENCE_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"
#include "guard/fence_gate.h" /* a board and the main loop see one fence */
#include "guard/fence_steps.h"

typedef enum {
    FENCE_OFF,  /* no power on anything */
    FENCE_ON,   /* drives, axes and gate may be powered */
    FENCE_DOWN  /* gate shut, drives running down, power off at the end */
} fence_mode_t;

/* What the fence did by itself since the main loop last asked. */
#define TRIP_INPUT 0x01u   /* emergency stop loop */
#define TRIP_EMERGENCY 0x02u /* emergency stop character */
#define TRIP_STOP 0x04u    /* stop character */
#define TRIP_HOLD 0x08u    /* hold character */
#define TRIP_SILENCE 0x10u
#define TRIP_SWITCH 0x20u

void fence_begin(void);

/* From the board's interrupts. */
void fence_tick(void);            /* every millisecond */
bool fence_byte(uint8_t byte);    /* true: a stop character, taken out of the stream */

/* From the main loop. */
uint8_t fence_take_trips(void);
fence_mode_t fence_mode(void);
bool fence_latched(void);
void fence_unlatch(void);         /* refused while the loop is open */
/* False: latched, tripped, still running down, the host silent, or the arming switch not turned from
 * off to on since fence_listen_anew() or since power was last on. */
bool fence_on(void);
void fence_down(void);            /* category 1 */
void fence_cut(void);             /* category 0, latched */
void fence_heard(uint32_t echo);  /* the host has heard our clock at this moment */
uint32_t fence_last_heard(void);
void fence_listen_anew(void);     /* silence is measured from now on, and the switch is to be turned */

void fence_drive(uint8_t wheel, uint16_t duty); /* 0 to 65535 is full */
void fence_servo(uint8_t axis, uint16_t us);
#if STEPPERS != 0
void fence_lead(uint8_t axis, int16_t to); /* in steps, spread over STEPS_LEAD_MS from now */
#endif

/* Opens the gate at `at` for `open_ms` (1 ms to JAM_MS) if ready by then and the ball sensor is
 * free; false when the fence is not on or the gate is open. */
bool fence_release(uint32_t at, uint16_t open_ms);
void fence_ready(bool ready);
bool fence_switch_on(void);       /* debounced */

/* The main loop lives: feeds the hardware watchdog, if the tick has lived since as well. */
void fence_alive(void);

#endif
