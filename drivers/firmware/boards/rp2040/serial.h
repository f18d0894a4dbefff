/* The serial lines of this board. */
#ifndef FEEDSCRIPT_SERIAL_H
#define FEEDSCRIPT_SERIAL_H

void serial_begin(void);
void serial_interrupt_0(void);
void serial_interrupt_1(void);

#endif
