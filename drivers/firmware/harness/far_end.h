/* A firmware image, its mechanics and a pseudo-terminal for each link, kept in step with each other.
 *
 * The image is reached through image_t, so the same loop, plant and console serve the
 * compiled AVR image under simavr and the native image. Commands come on standard input, one a
 * line; each is answered with one line of JSON on standard output; end of input ends the process.
 */
#ifndef FEEDSCRIPT_FAR_END_H
#define FEEDSCRIPT_FAR_END_H

#include <stdbool.h>

#include "image.h"

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
bool far_end_load_memory(const image_t *board, const far_end_options_t *options);

/* Runs until standard input ends. Returns the exit code of the process. */
int far_end_run(const image_t *board, const far_end_options_t *options);

#endif
