/* The gate's side of the fence: the one release that is kept, and the ball sensor. For fence.c. */
#ifndef FEEDSCRIPT_FENCE_GATE_H
#define FEEDSCRIPT_FENCE_GATE_H

#include <stdbool.h>
#include <stdint.h>

/* All in interrupts, or with interrupts shut out. */
void gate_begin(void);
void gate_shut(void);                   /* a release that waits is forgotten */
void gate_tick(uint32_t now, bool on);  /* `on`: the fence lets the gate open */
void gate_watch_sensor(void);

/* From fence.c, the same way: drives and gate may be powered, and nothing has tripped. */
bool fence_is_clear(void);

#endif
