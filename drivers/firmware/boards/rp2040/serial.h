/* The serial line of this board. */
#ifndef FEEDSCRIPT_SERIAL_H
#define FEEDSCRIPT_SERIAL_H

void serial_begin(void);
void serial_interrupt(void);

#endif
