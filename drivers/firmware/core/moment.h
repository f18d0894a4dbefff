/* Moments of the 32-bit clock wrap: only how far one is past another means anything. */
#ifndef FEEDSCRIPT_MOMENT_H
#define FEEDSCRIPT_MOMENT_H

#include <stdint.h>

/* Signed, because an interrupt may stamp a moment after the main loop has read its clock: what has
 * just begun must not seem to lie an age back.
 *
 * Milliseconds by which `now` is past `then`; negative while `then` is still to come. */
static inline int32_t moment_past(uint32_t now, uint32_t then)
{
    return (int32_t)(uint32_t)(now - then);
}

#endif
