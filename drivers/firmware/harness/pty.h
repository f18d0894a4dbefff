/* The far end of a serial cable as a pseudo-terminal. */
#ifndef FEEDSCRIPT_PTY_H
#define FEEDSCRIPT_PTY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

/* Opens one, raw from the first byte, and keeps its near side open so that a closing host does
 * not hang it up. Returns the descriptor of the far side, or -1; the name goes into `name`. */
int pty_open(char *name, size_t size);

/* Reads what has come; 0 when nothing has. */
size_t pty_read(int far_side, uint8_t *into, size_t most);

/* Writes what fits; the rest is lost, as on a cable that nobody reads. Returns what was lost. */
size_t pty_write(int far_side, const uint8_t *bytes, size_t count);

#endif
