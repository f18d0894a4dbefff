/* What throws: wheels held at a speed (drives.c: tachometer, controller, and the check that a speed has
 * settled), or a tank of air behind the gate's valve (tank.c: whether it is at its pressure). */
#ifndef FEEDSCRIPT_DRIVES_H
#define FEEDSCRIPT_DRIVES_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"
#include "wire/wire.h"

#define DRIVES_STEP_MS 20u

void drives_begin(void);

/* What each wheel shall do, in rpm, or how long the valve shall open, in ms; `ceiling` is never asked for and, measured, is a fault. */
void drives_target(uint8_t wheel, uint16_t rpm);
void drives_ceiling(uint8_t wheel, uint16_t rpm);

/* Forgets every target: the wheels are not powered any more. */
void drives_rest(void);

/* Measures, and drives towards the targets while the fence is on. Every DRIVES_STEP_MS. */
void drives_step(uint32_t now);

uint16_t drives_measured(uint8_t wheel); /* rpm; of a valve its ms, 0 while the tank is not at its pressure */
bool drives_settled(void);

/* A ball slows wheels, and is felt so where the sensor did not see it; a tank empties without one too. */
#define DRIVES_FEEL_BALLS (VALVE == 0u)

/* What is wrong with a wheel, and with which: above ceiling and tolerance; driven hard without one
 * pulse (its tachometer is dead, or it stands); fallen from a speed that it held; or too long short of
 * its target. A tank has the last alone. */
fault_t drives_fault(uint8_t *wheel);

#endif
