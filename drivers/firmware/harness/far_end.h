/* A firmware image, its mechanics and a pseudo-terminal, kept in step with each other.
 *
 * The image is reached through far_end_board_t, so the same loop, plant and console serve the
 * compiled AVR image under simavr and the native image. Commands come on standard input, one a
 * line; each is answered with one line of JSON on standard output; end of input ends the process.
 */
#ifndef FEEDSCRIPT_FAR_END_H
#define FEEDSCRIPT_FAR_END_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "plant.h"

#define FAR_END_BYTE_US 87u /* start, eight data and stop bits at 115,200 a second */

/* What the loop needs of an image. Every time is in microseconds of the image's own clock. */
typedef struct {
    void (*advance)(uint32_t us);                /* run the image on */
    void (*inputs)(const plant_sense_t *sense);  /* put the plant's switches on the pins */
    void (*outputs)(plant_drive_t *drive);       /* read what the pins really do */
    bool (*receive)(uint8_t byte);               /* a byte arrives; false: overrun, lost */
    size_t (*transmit)(uint8_t *into, size_t most); /* bytes the image has sent since */
    void (*reset)(void);                         /* as the reset pin */
    bool (*brown_out)(void);                     /* as a dip of the supply; false: not modelled */
    bool (*hang)(void);                          /* the main loop never returns; the same */
    bool (*lose_tick)(void);                     /* the millisecond never comes again; the same */
    size_t (*memory)(uint8_t **bytes);           /* the non-volatile memory, to load or save */
    int (*stack_most)(void);                     /* deepest stack in bytes; -1: not measured */
} far_end_board_t;

typedef struct {
    const char *link_path;   /* symbolic link to make to the pseudo-terminal, or NULL */
    const char *memory_path; /* non-volatile memory, loaded at the start, or NULL */
    double pace;             /* 1 real time, 0 as fast as it goes, negative only on "run" */
} far_end_options_t;

/* Reads --link, --memory and --pace; returns the first argument that is none of them, or NULL. */
const char *far_end_arguments(int count, char **words, far_end_options_t *options);

/* The plant, for an image that starts the loop. */
plant_t *far_end_plant(void);

/* Loads the non-volatile memory; call before the image starts. False when it cannot be read. */
bool far_end_load_memory(const far_end_board_t *board, const far_end_options_t *options);

/* Runs until standard input ends. Returns the exit code of the process. */
int far_end_run(const far_end_board_t *board, const far_end_options_t *options);

#endif
