/* A firmware image as the harness sees it: the compiled AVR image under simavr, or the native one. */
#ifndef FEEDSCRIPT_IMAGE_H
#define FEEDSCRIPT_IMAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "plant.h"

#define IMAGE_LINKS 2u /* the most of them */

/* What the loop needs of an image. Every time is in microseconds of the image's own clock. */
typedef struct {
    uint8_t links; /* 1: a cable; 2: a radio beside it */
    void (*advance)(uint32_t us);                /* run the image on */
    void (*inputs)(const plant_sense_t *sense);  /* put the plant's switches on the pins */
    void (*outputs)(plant_drive_t *drive);       /* read what the pins really do */
    bool (*receive)(uint8_t link, uint8_t byte); /* a byte arrives; false: overrun, lost */
    size_t (*transmit)(uint8_t link, uint8_t *into, size_t most); /* what it has sent since */
    void (*reset)(void);                         /* as the reset pin */
    bool (*brown_out)(void);                     /* as a dip of the supply; false: not modelled */
    bool (*hang)(void);                          /* the main loop never returns; the same */
    bool (*lose_tick)(void);                     /* the millisecond never comes again; the same */
    size_t (*memory)(uint8_t **bytes);           /* the non-volatile memory, to load or save */
    int (*stack_most)(void);                     /* deepest stack in bytes; -1: not measured */
} image_t;

#endif
