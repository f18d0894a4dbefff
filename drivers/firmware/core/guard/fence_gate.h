/* The gate's side of the fence: the one release that is kept, and the ball sensors. It knows nothing of
 * power and stops: fence.c says whether the gate may open. */
#ifndef FEEDSCRIPT_FENCE_GATE_H
#define FEEDSCRIPT_FENCE_GATE_H

#include <stdbool.h>
#include <stdint.h>

/* The one feed whose moment the fence keeps. */
typedef enum { RELEASE_NONE, RELEASE_WAITING, RELEASE_OPENED, RELEASE_MISSED } release_t;

/* From fence.c, in interrupts or with interrupts shut out. */
void gate_begin(void);
void gate_shut(void);                   /* a release that waits is forgotten */
void gate_tick(uint32_t now, bool on);  /* `on`: the fence lets the gate open */
void gate_watch_sensors(void);
/* False, and nothing is kept, when the gate is open or the time is not from 1 ms to JAM_MS. */
bool gate_keep(uint32_t at, uint16_t open_ms);
void gate_ready(bool ready);

/* From the board's interrupt: something came before a ball sensor. */
void fence_ball(uint8_t sensor);

/* From the main loop. */
void fence_shut(void);            /* gate shut, release forgotten unless it has opened */
release_t fence_release_state(void);
void fence_release_done(void);
uint32_t fence_opened_at(void);
bool fence_ball_was_ready(void);  /* when the gate opened */
uint32_t fence_shut_at(void);
bool fence_take_ball(uint32_t *at);
/* Each of them is a sensor's number from 1 on, or 0. */
uint8_t fence_sensor_blocked(void);
uint8_t fence_take_missed(void);  /* it did not see a ball that another one saw */

#endif
