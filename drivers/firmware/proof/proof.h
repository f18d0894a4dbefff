/* What the prover answers, and the contract of the fence.
 *
 * fence_proof.c proves that the real fence keeps the contract; callers_proof.c supposes it of the
 * fence and proves its callers. So the two proofs meet in this file.
 */
#ifndef FEEDSCRIPT_PROOF_H
#define FEEDSCRIPT_PROOF_H

#include <stdbool.h>
#include <stdint.h>

#include "guard/fence.h"
#include "wire/wire.h"

/* Any value at all; an assumption; an obligation; a place that must be reachable. */
uint8_t any_u8(void);
uint16_t any_u16(void);
uint32_t any_u32(void);
void suppose(bool holds);
void claim_at(bool holds, uint16_t line);
void reach(void);
#define claim(holds) claim_at((holds), __LINE__)
#define IF(premise, then) (!(premise) | (then)) /* no branch: the solver likes it better */

static bool any_bool(void)
{
    return (any_u8() & 1u) != 0u;
}

/* The fence as its callers can see it. */
typedef struct {
    uint8_t mode;
    uint8_t trips;
    uint8_t release;
    bool latched;
} view_t;

#define TRIPS_HARD (TRIP_INPUT | TRIP_EMERGENCY)
#define TRIPS_STOP (TRIPS_HARD | TRIP_STOP | TRIP_SILENCE | TRIP_SWITCH)

static bool same(view_t a, view_t b)
{
    return (a.mode == b.mode) & (a.trips == b.trips) & (a.release == b.release) &
           (a.latched == b.latched);
}

/* What any number of interrupts may do between two calls. */
static bool by_itself(view_t was, view_t is)
{
    return ((was.trips & (uint8_t)~is.trips) == 0u) & IF(was.latched, is.latched) &
           (is.mode <= FENCE_DOWN) & IF(was.mode != FENCE_ON, is.mode != FENCE_ON) &
           IF(was.mode == FENCE_OFF, is.mode == FENCE_OFF) &
           IF((was.mode == FENCE_ON) & (is.mode != FENCE_ON), (is.trips & TRIPS_STOP) != 0u) &
           (is.release <= RELEASE_MISSED) &
           IF(was.release != RELEASE_WAITING, is.release == was.release) &
           IF((was.release == RELEASE_WAITING) & (is.release == RELEASE_NONE), is.trips != 0u);
}

/* Calls. Each relates the view before and after, and what came back. */
static bool takes_trips(view_t was, view_t is, uint8_t taken)
{
    bool right = taken == was.trips;

    was.trips = 0u;
    return right & same(was, is);
}

static bool turns_on(view_t was, view_t is, bool done)
{
    bool fit = (was.mode == FENCE_OFF) & !was.latched & (was.trips == 0u);
    bool refused = same(was, is);

    was.mode = FENCE_ON;
    return done ? (fit & same(was, is)) : refused;
}

static bool shuts(view_t was, view_t is)
{
    was.release = (was.release == RELEASE_WAITING) ? RELEASE_NONE : was.release;
    return same(was, is);
}

static bool goes_down(view_t was, view_t is)
{
    was.mode = (was.mode == FENCE_ON) ? FENCE_DOWN : was.mode;
    return shuts(was, is);
}

static bool cuts(view_t was, view_t is)
{
    was.mode = FENCE_OFF;
    was.latched = true;
    return shuts(was, is);
}

static bool unlatches(view_t was, view_t is)
{
    bool refused = same(was, is);
    bool fit = (was.trips & TRIPS_HARD) == 0u;

    was.latched = false;
    return refused | (fit & same(was, is));
}

static bool releases(view_t was, view_t is, bool done)
{
    bool clear = (was.mode == FENCE_ON) & (was.trips == 0u);
    bool refused = same(was, is);

    was.release = RELEASE_WAITING;
    return done ? (clear & same(was, is)) : refused;
}

static bool is_done(view_t was, view_t is)
{
    was.release = RELEASE_NONE;
    return same(was, is);
}

#endif
