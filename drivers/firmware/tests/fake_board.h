/* A board of variables, for tests of the core in one process and in virtual time. */
#ifndef FEEDSCRIPT_FAKE_BOARD_H
#define FEEDSCRIPT_FAKE_BOARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "board.h"
#include "store/store.h"

/* What goes over one link. */
typedef struct {
    bool stuck; /* nobody takes what is sent */
    uint8_t in[4096];
    size_t in_head, in_tail;
    char out[8192];
    size_t out_count;
} fake_wire_t;

#ifndef LACKS /* 1: every sensor that a launcher can do without; 2: its ball sensor too */
#define LACKS 0
#endif

typedef struct {
    uint32_t now_ms;
    /* outputs */
    bool power;
    bool gate;
    uint8_t duty[WHEELS];
    uint16_t servo_us[AXES];
    unsigned gate_openings;
    unsigned fed; /* how often the hardware watchdog was */
    /* inputs */
    bool loop_open, arm_switch, ball_blocked, second_blocked, ball_ready, jumper, tank_ready;
    bool wheels_follow; /* the tachometers show what the targets ask, without inertia */
    uint16_t follow_rpm[WHEELS];
    int32_t supply_mv, temperature_c, second_c;
    /* axes on stepping motors */
    int32_t axis_at[AXES]; /* where they are, in steps from anywhere */
    int32_t axis_edge;     /* below it the home sensor is covered */
    bool near_dead, near_stuck;
    uint32_t stepped_ms;   /* when the last step was made */
    uint8_t cause;
    /* memory */
    uint8_t store[STORE_BYTES];
    unsigned writes;      /* so far */
    unsigned writes_most; /* the supply fails with the next one; 0: it does not */
    uint8_t link; /* by which the test speaks and hears */
    fake_wire_t wires[LINKS];
} fake_t;

extern fake_t fake;
extern bool fake_tick_in_loop; /* the millisecond comes after the loop has read its clock */

void fake_reset(void);             /* everything as from the factory, memory erased */
void fake_restart(uint8_t cause);  /* as a reset: memory and clock of the world stay */
void fake_run(uint32_t ms);        /* ticks and polls */
void fake_tick(uint32_t ms);       /* ticks alone: the main loop hangs */
void fake_bytes(const uint8_t *bytes, size_t count); /* as from the receive interrupt */
void fake_line(const char *body);  /* a plain line with its CRC */
void fake_ball(void);              /* one ball passes the sensor */

/* What was sent since the last call; ends with NUL. */
const char *fake_sent(void);

#endif
