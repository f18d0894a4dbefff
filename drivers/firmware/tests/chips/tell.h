/* How a program for tests says something from within a chip, or from an ordinary process. */
#ifndef FEEDSCRIPT_TELL_H
#define FEEDSCRIPT_TELL_H

#include <stdint.h>

void tell_number(uint32_t number); /* eight hexadecimal digits and LF */
void tell_end(void);               /* and nothing is told any more */

#endif
