/* What the loop, the cable and the console of the harness share: image, plant and time. */
#ifndef FEEDSCRIPT_INSIDE_H
#define FEEDSCRIPT_INSIDE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "image.h"
#include "plant.h"

typedef struct {
    const image_t *board;
    plant_t plant;
    plant_drive_t drive;
    int far_side[IMAGE_LINKS]; /* of the pseudo-terminals */
    double pace;
    uint64_t now_us;
    uint64_t run_until_us; /* when only "run" moves time */
} inside_t;

/* What the pins have shown: since when each group of outputs has been off without a break; 0 while
 * it is on. */
typedef struct {
    uint64_t wheels_us, gate_us, power_us, servos_us;
    uint64_t gate_opened_us;
    uint64_t last_step_us; /* of a stepping motor */
    unsigned gate_openings, resets;
    double most_duty[PLANT_WHEELS];
} seen_t;

extern inside_t inside;
extern seen_t seen;

void pace_anew(void);      /* from here on one second of the image is one of the wall, times the pace */
uint64_t target_us(void);  /* the moment that the image should have reached by now */

#endif
