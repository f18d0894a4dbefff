/* The gate: when it opens, when it must shut, and the sensors that see what passed. */
#include "guard/fence_gate.h"

#include "board.h"
#include "moment.h"
#include "wire/wire.h"

#define SENSOR_BLOCKED_MS 500u
#define BALLS_KEPT 4u
#define PASSAGE_MS 100u /* all sensors free for so long: what passed has passed them all */

static volatile struct {
    release_t release;
    uint32_t release_at;
    uint16_t open_ms;
    uint16_t open_left;
    uint32_t opened_at;
    uint32_t shut_at;
    bool ready;
    bool ball_was_ready;
    uint32_t balls[BALLS_KEPT];
    uint8_t ball_count;
    uint8_t counted;  /* balls that some sensor has seen, modulo 256 */
    uint8_t quiet_ms; /* all of them free */
    uint8_t missed;   /* a bit for each sensor that did not see one */
    struct {
        bool beam_free; /* seen free since its last ball: the next edge is another one */
        uint8_t passed; /* balls that it has seen, modulo 256 */
        uint16_t blocked_ms;
    } eyes[SENSORS];
} gate;

/* ---- in interrupts, or with interrupts shut out ---- */

void gate_begin(void)
{
    gate.release = RELEASE_NONE;
    gate.open_left = 0u;
    gate.ready = false;
    gate.ball_count = 0u;
    gate.counted = 0u;
    gate.quiet_ms = 0u;
    gate.missed = 0u;
    for (uint8_t i = 0u; i < SENSORS; i++) {
        gate.eyes[i].beam_free = true;
        gate.eyes[i].passed = 0u;
        gate.eyes[i].blocked_ms = 0u;
    }
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

static bool mouth_free(void)
{
    for (uint8_t i = 0u; i < SENSORS; i++) {
        if (gate.eyes[i].blocked_ms != 0u) {
            return false;
        }
    }
    return true;
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
    } else if (gate.ready && mouth_free()) { /* what passes now must be seen */
        gate.release = RELEASE_OPENED;
        gate.opened_at = now;
        gate.ball_was_ready = board_ball_ready();
        gate.open_left = gate.open_ms;
        board_gate(true);
    } else {
        /* not ready, or the mouth not free yet: the grace is for this */
    }
}

static void watch(uint8_t i)
{
    if (!board_ball_blocked(i)) {
        gate.eyes[i].beam_free = true;
        gate.eyes[i].blocked_ms = 0u;
    } else if (gate.eyes[i].blocked_ms < SENSOR_BLOCKED_MS) {
        gate.eyes[i].blocked_ms++;
    } else {
        /* blocked for long: it stays so until it is free */
    }
}

/* Whoever has seen fewer than were counted by now has missed one. */
static void compare(void)
{
    for (uint8_t i = 0u; i < SENSORS; i++) {
        if (gate.eyes[i].passed != gate.counted) {
            gate.missed = (uint8_t)(gate.missed | (1u << i));
            gate.eyes[i].passed = gate.counted;
        }
    }
}

void gate_watch_sensors(void)
{
    for (uint8_t i = 0u; i < SENSORS; i++) {
        watch(i);
    }
    if (!mouth_free()) {
        gate.quiet_ms = 0u;
    } else if (gate.quiet_ms < PASSAGE_MS) {
        gate.quiet_ms++;
    } else {
        compare();
    }
}

/* A ball counts when the first of the sensors sees it: none has seen so many before. */
void fence_ball(uint8_t sensor)
{
    if (!gate.eyes[sensor].beam_free) {
        return; /* an edge of the ball that stands in the beam */
    }
    gate.eyes[sensor].beam_free = false;
    gate.eyes[sensor].passed++;
    gate.quiet_ms = 0u;
    if ((uint8_t)(gate.eyes[sensor].passed - gate.counted) != 1u) {
        return; /* another one has told of it */
    }
    gate.counted = gate.eyes[sensor].passed;
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

uint8_t fence_sensor_blocked(void)
{
    uint8_t before = board_lock();
    uint8_t which = 0u;

    for (uint8_t i = 0u; i < SENSORS; i++) {
        if ((which == 0u) && (gate.eyes[i].blocked_ms >= SENSOR_BLOCKED_MS)) {
            which = (uint8_t)(i + 1u);
        }
    }
    board_unlock(before);
    return which;
}

uint8_t fence_take_missed(void)
{
    uint8_t before = board_lock();
    uint8_t which = 0u;

    for (uint8_t i = 0u; i < SENSORS; i++) {
        if ((which == 0u) && ((gate.missed & (1u << i)) != 0u)) {
            which = (uint8_t)(i + 1u);
            gate.missed = (uint8_t)(gate.missed & ~(1u << i));
        }
    }
    board_unlock(before);
    return which;
}
