/* The serial line of the ATmega328P. */
#ifndef FEEDSCRIPT_SERIAL_H
#define FEEDSCRIPT_SERIAL_H

void serial_begin(void); /* interrupts still shut out */

#endif
