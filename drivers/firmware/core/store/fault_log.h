/* The last faults and unclean starts, kept without power.
 *
 * A ring of rows behind the store's records. Each is written a byte at a time, and only while nothing
 * is powered; a supply that fails meanwhile leaves the row that was there, none, or the new one. What
 * puts a row here needs a person's arming or a start first, so that nobody can wear the memory out by
 * talking. Nothing reads it but LOG: no row changes what the launcher does.
 */
#ifndef FEEDSCRIPT_FAULT_LOG_H
#define FEEDSCRIPT_FAULT_LOG_H

#include <stdbool.h>
#include <stdint.h>

#define LOG_ROWS 32u
#define LOG_START 16u /* a start is told as this and its cause; what is below is a fault */

typedef struct {
    uint32_t boot;   /* the power-up in which it was */
    uint16_t second; /* since that power-up; stops at 65535 */
    uint8_t what;
    int16_t detail;  /* of a fault; what is larger stops at the ends */
} log_row_t;

void fault_log_begin(void);

/* Keeps a row in mind until there is time to write it. A third one that comes before is dropped. */
void fault_log_add(uint8_t what, int32_t detail);

/* Writes the next byte of what is waiting; to be called while nothing is powered. */
void fault_log_step(void);

uint8_t fault_log_kept(void);
/* The row that many back from the newest; false when there is none. */
bool fault_log_read(uint8_t back, log_row_t *row);

#endif
