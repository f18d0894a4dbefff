/* What the launcher remembers without power: boot count, limits, profile hash, key.
 *
 * Every record carries a CRC. A record whose check fails reads as unset, and spoiled limits are a
 * fault: an unknown limit is never taken for "no limit".
 */
#ifndef FEEDSCRIPT_STORE_H
#define FEEDSCRIPT_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"

#define STEPPER_NUMBERS 6u /* of each axis; room for all as soon as one is led by a stepping motor */
#define STEPPERS_NUMBERS ((STEPPERS == 0u) ? 0u : (2u * STEPPER_NUMBERS))
#define STORE_LOG_AT (208u + (4u * STEPPERS_NUMBERS)) /* 256 bytes, behind the records: fault_log.c */
#define STORE_NAME_AT (STORE_LOG_AT + 256u)           /* behind them */
#define STORE_BYTES (STORE_NAME_AT + 48u)
#define UNSET INT32_MIN

/* Numbers of the wire (protocol.md, section 7). */
#define NUMBER_DRIVE_1 1u
#define NUMBER_PAN_LEAST 4u
#define NUMBER_TILT_LEAST 6u
#define NUMBER_ROLL_LEAST 8u
#define NUMBER_INTERVAL 10u
#define NUMBER_SETTLE 12u
#define NUMBER_LEAD 13u
#define NUMBER_CLEAR 14u
#define NUMBER_PAN_RATE 15u
#define NUMBER_TILT_RATE 16u
#define RATE_LEAST 30 /* hundredths of a degree a second: a slower axis is waited for by nobody */
#define NUMBER_HOLD 17u
#define NUMBER_LEAST_MV 18u
#define NUMBER_MOST_C 19u
#define NUMBER_KEY_NEEDED 20u
#define NUMBER_LAST_NEEDED 17u
#define NUMBER_LAST 20u
#define NUMBER_OWN 21u /* tells this launcher from every other of its build */
/* This board's own. */
#define NUMBER_BOARD 64u
#define NUMBER_PULSES 64u   /* tachometer pulses a turn */
#define NUMBER_FULL_RPM 65u /* a wheel's speed at full duty */
#define NUMBER_FILL_MS 65u  /* of a tank: the longest it takes from empty to its pressure */
#define NUMBER_GATE_MS 66u  /* the gate stays open this long if no ball is seen */
#define NUMBER_PAN_US 67u   /* servo pulse at 0 degrees, and what 90 degrees add to it */
#define NUMBER_PAN_SPAN 68u
#define NUMBER_TILT_US 69u
#define NUMBER_TILT_SPAN 70u
#define NUMBER_SERVO_LEAST 71u
#define NUMBER_SERVO_MOST 72u
#define NUMBER_SERVOS_LAST 72u
/* Of an axis that a stepping motor leads; the same for tilt behind those for pan. */
#define NUMBER_PAN_STEPS 73u /* steps a whole turn of the axis */
#define NUMBER_TILT_STEPS (NUMBER_PAN_STEPS + STEPPER_NUMBERS)
#define STEPPER_EDGE 1u   /* after it: where the home sensor's edge lies */
#define STEPPER_TRAVEL 2u /* from stop to stop */
#define STEPPER_START 3u  /* the rate at which it may start and stand still at once */
#define STEPPER_GAIN 4u   /* acceleration above that */
#define STEPPER_SLACK 5u  /* so near to the edge the sensor may show either */
#define NUMBER_BOARD_LAST (NUMBER_SERVOS_LAST + STEPPERS_NUMBERS)
#define NUMBER_VOLTAGE 100u
#define NUMBER_TEMPERATURE 101u
#define NUMBER_HOMING 102u
#define NUMBER_FIRMWARE 110u

#define FIRMWARE_VERSION 100 /* 0.1.0: ten thousands, hundreds and ones */

/* Loads everything and counts this power-up. */
void store_begin(void);

uint32_t store_boot(void);   /* power-ups so far, this one included; never twice the same */
bool store_spoiled(void);    /* the limits failed their check */

bool store_knows(uint32_t number);      /* can it be set? */
int32_t store_number(uint8_t number);   /* UNSET when it is not */
bool store_allows(uint8_t number, int32_t value); /* makes sense at all; UNSET does */
/* Setting one of 1 to 20 forgets the profile's hash: storing that anew makes the set valid. */
void store_set(uint8_t number, int32_t value);
/* All that arming needs: numbers 1 to 17, the board's own, and a profile's hash. If not, `missing`
 * is the first number that is not set, or 0 for the hash. */
bool store_complete(uint8_t *missing);

void store_hash(uint8_t *bytes);        /* 32; all zero when none */
void store_set_hash(const uint8_t *bytes);

int32_t store_own(void);                /* UNSET until it is first set up */
void store_set_own(int32_t number);

/* What people call it: up to 32 characters, zeros behind them; false when it has none. */
#define NAME_BYTES 32u
bool store_name(uint8_t *bytes);
void store_set_name(const uint8_t *bytes);

bool store_key(uint8_t *bytes);         /* 32; false when none */
void store_set_key(const uint8_t *bytes);
void store_forget_key(void);

#endif
