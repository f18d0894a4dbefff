/* The cable between each pseudo-terminal and the image's link, and what a test does to it. */
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
/* "radio_" before the name: the second link's. False: there is no such fault. */
bool cable_set(const char *name, double value);
unsigned cable_queued(uint8_t link);
const cable_counts_t *cable_counts(uint8_t link);

#endif
