/* Feeding: what the balls do, and what that makes of the launcher's state. */
#ifndef FEEDSCRIPT_FEEDING_H
#define FEEDSCRIPT_FEEDING_H

#include <stdint.h>

void feeding_step(uint32_t now);

#endif
