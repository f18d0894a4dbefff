#include "inside.h"

#include <time.h>

inside_t inside;
seen_t seen;

/* Pacing: this instant of the image was this one of the wall. */
static struct {
    uint64_t us;
    uint64_t ns;
} base;

static uint64_t wall_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

void pace_anew(void)
{
    base.us = inside.now_us;
    base.ns = wall_ns();
}

uint64_t target_us(void)
{
    if (inside.pace > 0.0) {
        return base.us + (uint64_t)((double)(wall_ns() - base.ns) * 1e-3 * inside.pace);
    }
    return (inside.pace < 0.0) ? inside.run_until_us : inside.now_us + 1000u;
}
