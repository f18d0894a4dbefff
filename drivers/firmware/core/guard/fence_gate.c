/* The gate: when it opens, when it must shut, and the sensor that sees what passed. */
#include "guard/fence_gate.h"

#include "board.h"
#include "moment.h"
#include "wire/wire.h"

#define SENSOR_BLOCKED_MS 500u
#define BALLS_KEPT 4u

static volatile struct {
    release_t release;
    uint32_t release_at;
    uint16_t open_ms;
    uint16_t open_left;
    uint32_t opened_at;
    uint32_t shut_at;
    bool ready;
    bool ball_was_ready;
    /* ball sensor */
    uint32_t balls[BALLS_KEPT];
    uint8_t ball_count;
    bool beam_free; /* seen free since the last ball: the next edge is another one */
    uint16_t blocked_ms;
} gate;

/* ---- in interrupts, or with interrupts shut out ---- */

void gate_begin(void)
{
    gate.release = RELEASE_NONE;
    gate.open_left = 0u;
    gate.ready = false;
    gate.ball_count = 0u;
    gate.beam_free = true;
    gate.blocked_ms = 0u;
    gate.opened_at = 0u;
    gate.shut_at = 0u;
    gate.ball_was_ready = false;
    gate_shut();
}

void gate_shut(void)
{
    board_gate(false);
    if (gate.open_left > 0u) {
        gate.open_left = 0u;
        gate.shut_at = board_now_ms();
    }
    gate.ready = false;
    if (gate.release == RELEASE_WAITING) {
        gate.release = RELEASE_NONE;
    }
}

void gate_tick(uint32_t now, bool on)
{
    if (gate.open_left > 0u) {
        gate.open_left--;
        if (gate.open_left == 0u) {
            board_gate(false);
            gate.shut_at = now;
        }
    }
    if ((gate.release != RELEASE_WAITING) || !on) {
        return;
    }
    int32_t past = moment_past(now, gate.release_at);
    if (past < 0) {
        return;
    }
    if (past > (int32_t)GRACE_MS) {
        gate.release = RELEASE_MISSED;
    } else if (gate.ready && (gate.blocked_ms == 0u)) { /* what passes now must be seen */
        gate.release = RELEASE_OPENED;
        gate.opened_at = now;
        gate.ball_was_ready = board_ball_ready();
        gate.open_left = gate.open_ms;
        board_gate(true);
    } else {
        /* not ready, or the mouth not free yet: the grace is for this */
    }
}

void gate_watch_sensor(void)
{
    if (!board_ball_blocked()) {
        gate.beam_free = true;
        gate.blocked_ms = 0u;
    } else if (gate.blocked_ms < SENSOR_BLOCKED_MS) {
        gate.blocked_ms++;
    } else {
        /* blocked for long: it stays so until it is free */
    }
}

void fence_ball(void)
{
    if (!gate.beam_free) {
        return; /* an edge of the ball that stands in the beam */
    }
    gate.beam_free = false;
    if (gate.ball_count < BALLS_KEPT) {
        gate.balls[gate.ball_count] = board_now_ms();
        gate.ball_count++;
    }
    if (gate.open_left > 0u) {
        gate.open_left = 0u;
        gate.shut_at = board_now_ms();
        board_gate(false);
    }
}

bool gate_keep(uint32_t at, uint16_t open_ms)
{
    bool fit = (gate.open_left == 0u) && (open_ms > 0u) && (open_ms < JAM_MS);

    if (fit) {
        gate.ready = false;
        gate.release_at = at;
        gate.open_ms = open_ms;
        gate.release = RELEASE_WAITING;
    }
    return fit;
}

void gate_ready(bool ready)
{
    gate.ready = ready;
}

/* ---- from the main loop ---- */

void fence_shut(void)
{
    uint8_t before = board_lock();

    gate_shut();
    board_unlock(before);
}

release_t fence_release_state(void)
{
    uint8_t before = board_lock();
    release_t release = gate.release;

    board_unlock(before);
    return release;
}

void fence_release_done(void)
{
    uint8_t before = board_lock();

    gate_shut();
    gate.release = RELEASE_NONE;
    board_unlock(before);
}

uint32_t fence_opened_at(void)
{
    uint8_t before = board_lock();
    uint32_t at = gate.opened_at;

    board_unlock(before);
    return at;
}

bool fence_ball_was_ready(void)
{
    uint8_t before = board_lock();
    bool ready = gate.ball_was_ready;

    board_unlock(before);
    return ready;
}

uint32_t fence_shut_at(void)
{
    uint8_t before = board_lock();
    uint32_t at = gate.shut_at;

    board_unlock(before);
    return at;
}

bool fence_take_ball(uint32_t *at)
{
    uint8_t before = board_lock();
    bool some = gate.ball_count > 0u;

    if (some) {
        *at = gate.balls[0];
        gate.ball_count--;
        for (uint8_t i = 0u; i < gate.ball_count; i++) {
            gate.balls[i] = gate.balls[i + 1u];
        }
    }
    board_unlock(before);
    return some;
}

bool fence_sensor_blocked(void)
{
    uint8_t before = board_lock();
    bool blocked = gate.blocked_ms >= SENSOR_BLOCKED_MS;

    board_unlock(before);
    return blocked;
}
