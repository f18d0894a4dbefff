/* The launcher's state: what it is, and the one way to change it. */
#ifndef FEEDSCRIPT_STATE_H
#define FEEDSCRIPT_STATE_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/wire.h"

void state_begin(void);
state_t state_now(void);
reason_t state_reason(void);

/* Enters a state with all that belongs to it, and says so. Entering the present one does nothing;
 * from STOPPED only SAFE can be entered. */
void state_go(state_t to, reason_t reason);

/* FAULT event, then state FAULT (an emergency stop stays an emergency stop). */
void state_fault(fault_t fault, int32_t detail);
int32_t state_sensor_detail(uint8_t sensor, int32_t what); /* told apart where there are several */
fault_t state_fault_now(void);

/* A fault whose cause can be measured and is there at this moment, or FAULT_NONE. */
fault_t state_cause_present(void);

/* Ends a fault whose cause is gone; false while the cause is there. */
bool state_end_fault(reason_t reason);

/* Category 1 stop from wherever it is, as DISARM, STOP 1, OPEN and the stop character ask. */
void state_make_safe(reason_t reason);

/* What the fence did by itself, then the person's acts and the limits of time. */
void state_follow(uint32_t now);

#endif
