/* The cable between the pseudo-terminal and the image, and what a test does to it. */
#ifndef FEEDSCRIPT_CABLE_H
#define FEEDSCRIPT_CABLE_H

#include <stdbool.h>
#include <stdint.h>

#define CABLE_BYTE_US 87u /* start, eight data and stop bits at 115,200 a second */

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

#endif
