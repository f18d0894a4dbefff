/* Why a command is refused. */
#ifndef FEEDSCRIPT_REFUSAL_H
#define FEEDSCRIPT_REFUSAL_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/wire.h"

/* `detail` counts only if `has_detail`. */
typedef struct {
    no_t code;
    bool has_detail;
    uint32_t detail;
} refusal_t;

refusal_t fine(void);
refusal_t no(no_t code);
refusal_t no_with(no_t code, uint32_t detail);

#endif
