/* What the loop, the cable and the console of the harness share. */
#ifndef FEEDSCRIPT_INSIDE_H
#define FEEDSCRIPT_INSIDE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "far_end.h"
#include "plant.h"

typedef struct {
    const far_end_board_t *board;
    plant_t plant;
    plant_drive_t drive;
    int far_side; /* of the pseudo-terminal */
    double pace;
    uint64_t now_us;
    uint64_t run_until_us; /* when only "run" moves time */
} inside_t;

/* What the pins have shown: since when each group of outputs has been off without a break; 0 while
 * it is on. */
typedef struct {
    uint64_t wheels_us, gate_us, power_us, servos_us;
    uint64_t gate_opened_us;
    unsigned gate_openings, resets;
    double most_duty[PLANT_WHEELS];
} seen_t;

extern inside_t inside;
extern seen_t seen;

void pace_anew(void); /* from here on one second of the image is one of the wall, times the pace */

/* The cable between the pseudo-terminal and the image, and what a test does to it. */
typedef struct {
    unsigned taken; /* bytes read from the pseudo-terminal */
    unsigned received, sent, overruns, lost;
    uint64_t last_byte_us;
} cable_counts_t;

void cable_take(void);     /* what the host has written */
void cable_to_image(void); /* each byte at its time */
void cable_to_host(void);
bool cable_set(const char *name, double value); /* false: the cable has no such fault */
unsigned cable_queued(void);
const cable_counts_t *cable_counts(void);

/* Reads and obeys what stands on standard input; false at its end. */
bool console_read(void);
void console_report(void);
void console_say(const char *format, ...) __attribute__((format(printf, 1, 2)));

#endif
