#include "fake_board.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "guard/fence.h"
#include "launcher.h"
#include "wire/crc16.h"

fake_t fake;
static bool uncommitted; /* something was written since the last commit */
static uint32_t boot_ms;
static uint16_t pulse_count[WHEELS];
static uint32_t pulse_stamp[WHEELS];
static uint32_t pulse_part[WHEELS];
bool fake_tick_in_loop;
static bool turning; /* a millisecond is due */

static void pass_millisecond(void);

uint32_t board_now_ms(void)
{
    return fake.now_ms - boot_ms;
}

uint8_t board_start_cause(void)
{
    return fake.cause;
}

/* On a real board the millisecond may fall anywhere into the main loop. The loop has read its clock
 * when it first shuts interrupts out. */
uint8_t board_lock(void)
{
    if (fake_tick_in_loop && turning) {
        turning = false;
        pass_millisecond();
    }
    return 0u;
}

void board_unlock(uint8_t before)
{
    (void)before;
}

const link_kind_t board_links[LINKS] = {
    LINK_CABLE,
#if LINKS == 2u
    LINK_RADIO,
#endif
};

bool board_read(uint8_t link, uint8_t *byte)
{
    fake_wire_t *wire = &fake.wires[link];

    if (wire->in_tail == wire->in_head) {
        return false;
    }
    *byte = wire->in[wire->in_tail % sizeof wire->in];
    wire->in_tail++;
    return true;
}

uint8_t board_write_room(uint8_t link)
{
    fake_wire_t *wire = &fake.wires[link];
    size_t half = sizeof wire->out / 2u;

    if (wire->out_count > half) { /* nobody looked: what is oldest goes */
        wire->out_count -= half / 2u;
        (void)memmove(wire->out, wire->out + (half / 2u), wire->out_count);
    }
    return wire->stuck ? 0u : 127u;
}

void board_write(uint8_t link, uint8_t byte)
{
    fake_wire_t *wire = &fake.wires[link];

    if (wire->stuck || (wire->out_count >= (sizeof wire->out - 1u))) {
        abort(); /* the core wrote without looking for room */
    }
    wire->out[wire->out_count] = (char)byte;
    wire->out_count++;
}

void board_power(bool on)
{
    fake.power = on;
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    if (wheel >= WHEELS) {
        abort();
    }
    fake.duty[wheel] = duty;
}

void board_gate(bool open)
{
    if (open && !fake.gate) {
        fake.gate_openings++;
    }
    fake.gate = open;
}

void board_servo(uint8_t axis, uint16_t us)
{
    if ((axis >= AXES) || ((us != 0u) && ((us < 500u) || (us > 2500u)))) {
        abort(); /* past any servo's stops */
    }
    fake.servo_us[axis] = us;
}

void board_step(uint8_t axis, bool forward)
{
    if (fake.power) {
        fake.axis_at[axis] += forward ? 1 : -1;
        fake.stepped_ms = fake.now_ms;
    }
}

void board_lamp(bool on)
{
    (void)on;
}

const sensor_t board_sensors[] = {
#if LACKS < 2
    {SENSES_BALL, 0u},
#endif
#if SENSORS > 1
    {SENSES_BALL, 1u},
#endif
#if VALVE != 0
    {SENSES_TANK, 0u},
#else
    {SENSES_WHEEL, 0u},
#endif
#if WHEELS > 1
    {SENSES_WHEEL, 1u},
#endif
    {SENSES_HOME, 0u},
    {SENSES_HOME, 1u},
#if LACKS == 0
    {SENSES_GATE, 0u},
    {SENSES_SUPPLY, 0u},
    {SENSES_TEMPERATURE, 0u},
    {SENSES_TEMPERATURE, 5u}, /* parts need not follow each other */
#endif
    {SENSES_END, 0u},
};

bool board_stop_loop_open(void)
{
    return fake.loop_open;
}

bool board_arm_switch(void)
{
    return fake.arm_switch;
}

bool board_ball_blocked(uint8_t sensor)
{
    return (sensor == 0u) ? fake.ball_blocked : fake.second_blocked;
}

bool board_ball_ready(void)
{
    return fake.ball_ready;
}

bool board_tank_ready(void)
{
    return fake.tank_ready;
}

bool board_axis_near(uint8_t axis)
{
    return !fake.near_dead && (fake.near_stuck || (fake.axis_at[axis] < fake.axis_edge));
}

bool board_setup_jumper(void)
{
    return fake.jumper;
}

void board_tach(uint8_t wheel, uint16_t *pulses, uint32_t *stamp)
{
    *pulses = pulse_count[wheel];
    *stamp = pulse_stamp[wheel];
}

int32_t board_supply_mv(void)
{
    return fake.supply_mv;
}

int32_t board_temperature_c(uint8_t part)
{
    return (part == 0u) ? fake.temperature_c : fake.second_c;
}

uint8_t board_store_read(uint16_t at)
{
    if (at >= STORE_BYTES) {
        abort();
    }
    return fake.store[at];
}

void board_store_write(uint16_t at, uint8_t value)
{
    if (at >= STORE_BYTES) {
        abort();
    }
    fake.writes++;
    if ((fake.writes_most > 0u) && (fake.writes > fake.writes_most)) {
        uncommitted = false; /* nobody is there any more to commit it */
        return;
    }
    fake.store[at] = value;
    uncommitted = true;
}

void board_store_commit(void)
{
    uncommitted = false;
}

void board_alive(void)
{
    fake.fed++;
}

/* ---- for the tests ---- */

void fake_restart(uint8_t cause)
{
    if (uncommitted) {
        abort(); /* a board that keeps nothing before its commit has lost it now */
    }
    fake.cause = cause;
    for (uint8_t link = 0u; link < LINKS; link++) {
        fake.wires[link].in_head = 0u;
        fake.wires[link].in_tail = 0u;
        fake.wires[link].out_count = 0u;
    }
    boot_ms = fake.now_ms;
    launcher_begin();
}

void fake_reset(void)
{
    (void)memset(&fake, 0, offsetof(fake_t, wires));
    for (uint8_t link = 0u; link < LINKS; link++) {
        fake.wires[link].stuck = false;
    }
    (void)memset(fake.store, 0xFF, sizeof fake.store);
    uncommitted = false;
    (void)memset(pulse_count, 0, sizeof pulse_count);
    (void)memset(pulse_stamp, 0, sizeof pulse_stamp);
    (void)memset(pulse_part, 0, sizeof pulse_part);
    fake.ball_ready = true;
    fake.tank_ready = true;
    fake.wheels_follow = true;
    fake.supply_mv = 12000;
    fake.temperature_c = 25;
    fake.second_c = 24;
    fake_restart(CAUSE_POWER);
}

/* Six pulses a turn: rpm / 10 pulses a second, each stamped where it falls within the ms. */
static void turn_wheels(void)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        uint32_t per_ms = fake.power ? fake.follow_rpm[w] : 0u; /* pulses a ms, times 10,000 */
        uint32_t before = pulse_part[w];
        pulse_part[w] += per_ms;
        while (pulse_part[w] >= 10000u) {
            uint32_t into = (10000u - before) * 250u / per_ms;
            pulse_part[w] -= 10000u;
            before = 0u;
            pulse_count[w]++;
            pulse_stamp[w] = fake.now_ms * 250u + into;
        }
    }
}

static void pass_millisecond(void)
{
    if (fake.wheels_follow) {
        turn_wheels();
    }
    fake.now_ms++;
    fence_tick();
}

void fake_tick(uint32_t ms)
{
    for (uint32_t i = 0u; i < ms; i++) {
        pass_millisecond();
    }
}

void fake_run(uint32_t ms)
{
    for (uint32_t i = 0u; i < ms; i++) {
        turning = fake_tick_in_loop;
        if (!turning) {
            pass_millisecond();
        }
        launcher_poll();
    }
}

void fake_bytes(const uint8_t *bytes, size_t count)
{
    fake_wire_t *wire = &fake.wires[fake.link];

    for (size_t i = 0u; i < count; i++) {
        if (!fence_byte(bytes[i]) && ((wire->in_head - wire->in_tail) < sizeof wire->in)) {
            wire->in[wire->in_head % sizeof wire->in] = bytes[i];
            wire->in_head++;
        }
    }
}

void fake_line(const char *body)
{
    char line[160];
    uint16_t crc = CRC16_START;

    for (const char *at = body; *at != '\0'; at++) {
        crc = crc16(crc, (uint8_t)*at);
    }
    int length = snprintf(line, sizeof line, "%s*%04X\n", body, (unsigned)crc);
    fake_bytes((const uint8_t *)line, (size_t)length);
}

void fake_ball(void)
{
    fake.ball_blocked = true;
    fence_ball(0u);
    fake_run(5u);
    fake.ball_blocked = false;
    fake_run(40u);
}

const char *fake_sent(void)
{
    static char sent[sizeof fake.wires[0].out];
    fake_wire_t *wire = &fake.wires[fake.link];

    (void)memcpy(sent, wire->out, wire->out_count);
    sent[wire->out_count] = '\0';
    wire->out_count = 0u;
    return sent;
}
