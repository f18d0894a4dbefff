/* The same core as an ordinary process: pins are variables, interrupts are calls between polls,
 * and the mechanics of harness/plant.c hang on the pins. It speaks on a pseudo-terminal for each link.
 */
#include "board.h"

#include <stdio.h>
#include <string.h>

#include "far_end.h"
#include "guard/fence.h"
#include "launcher.h"
#include "store/store.h"

#define RING 128u

static struct {
    uint8_t bytes[RING];
    uint8_t head, tail;
} coming[LINKS];

static struct {
    uint8_t bytes[4096];
    size_t count;
} going[LINKS];

static uint64_t now_us;
static uint8_t cause = CAUSE_POWER;
static plant_drive_t pins;
static plant_sense_t switches;
static uint16_t pulses[WHEELS];
static uint32_t stamps[WHEELS];
static uint8_t memory[STORE_BYTES];
static uint64_t boot_us; /* the clock of the launcher begins anew at every start */

uint32_t board_now_ms(void)
{
    return (uint32_t)((now_us - boot_us) / 1000u);
}

uint8_t board_start_cause(void)
{
    return cause;
}

uint8_t board_lock(void)
{
    return 0u; /* nothing interrupts: what is an interrupt elsewhere is called between polls */
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
const sensor_t board_sensors[] = {
    {SENSES_BALL, 0u},
#if SENSORS > 1
    {SENSES_BALL, 1u},
#endif
    {SENSES_GATE, 0u},
#if VALVE != 0
    {SENSES_TANK, 0u},
#else
    {SENSES_WHEEL, 0u},
#endif
#if WHEELS > 1
    {SENSES_WHEEL, 1u},
#endif
#if WHEELS > 2
    {SENSES_WHEEL, 2u},
#endif
    {SENSES_HOME, 0u},
    {SENSES_HOME, 1u},
    {SENSES_SUPPLY, 0u},
    {SENSES_TEMPERATURE, 0u},
    {SENSES_END, 0u},
};
_Static_assert(SENSORS <= PLANT_SENSORS, "the mechanics have two");
_Static_assert(LINKS <= IMAGE_LINKS, "the harness has ends for two");

bool board_read(uint8_t link, uint8_t *byte)
{
    if (coming[link].tail == coming[link].head) {
        return false;
    }
    *byte = coming[link].bytes[coming[link].tail];
    coming[link].tail = (uint8_t)((coming[link].tail + 1u) % RING);
    return true;
}

uint8_t board_write_room(uint8_t link)
{
    size_t room = sizeof going[link].bytes - going[link].count;

    return (room > (RING - 1u)) ? (uint8_t)(RING - 1u) : (uint8_t)room;
}

void board_write(uint8_t link, uint8_t byte)
{
    if (going[link].count < sizeof going[link].bytes) {
        going[link].bytes[going[link].count] = byte;
        going[link].count++;
    }
}

void board_power(bool on)
{
    pins.power = on;
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    pins.duty[wheel] = (double)duty / 255.0;
}

void board_gate(bool open)
{
    pins.gate = open;
}

void board_servo(uint8_t axis, uint16_t us)
{
    pins.servo_us[axis] = us;
}

void board_step(uint8_t axis, bool forward)
{
    pins.steps[axis] += forward ? 1 : -1;
}

void board_lamp(bool on)
{
    (void)on;
}

bool board_stop_loop_open(void)
{
    return switches.loop_open;
}

bool board_arm_switch(void)
{
    return switches.arm_switch;
}

bool board_ball_blocked(uint8_t sensor)
{
    return switches.ball[sensor];
}

bool board_ball_ready(void)
{
    return switches.ball_ready;
}

/* As the pin of the first tachometer: low while the switch is closed. */
bool board_tank_ready(void)
{
    return !switches.tach[0];
}

bool board_axis_near(uint8_t axis)
{
    return switches.near[axis];
}

bool board_setup_jumper(void)
{
    return false;
}

void board_tach(uint8_t wheel, uint16_t *count, uint32_t *stamp)
{
    *count = pulses[wheel];
    *stamp = stamps[wheel];
}

int32_t board_supply_mv(void)
{
    return (int32_t)switches.supply_mv;
}

int32_t board_temperature_c(uint8_t part)
{
    (void)part; /* there is one */
    return (int32_t)switches.motor_temp_c;
}

uint8_t board_store_read(uint16_t at)
{
    return memory[at];
}

void board_store_write(uint16_t at, uint8_t value)
{
    memory[at] = value;
}

void board_store_commit(void)
{
    /* every byte was kept when it was written */
}

void board_alive(void)
{
    /* an ordinary process has no hardware watchdog */
}

/* ---- what the loop of harness/far_end.c asks ---- */

static void advance(uint32_t us)
{
    uint64_t before = (now_us - boot_us) / 1000u;

    now_us += us;
    if (((now_us - boot_us) / 1000u) != before) {
        fence_tick();
    }
    launcher_poll();
}

static void inputs(const plant_sense_t *sense)
{
    plant_sense_t before = switches;

    for (uint8_t w = 0u; w < WHEELS; w++) {
        if (switches.tach[w] && !sense->tach[w]) {
            pulses[w]++;
            stamps[w] = (uint32_t)(now_us / (1000000u / TACH_HZ));
        }
    }
    switches = *sense;
    for (uint8_t sensor = 0u; sensor < SENSORS; sensor++) {
        if (sense->ball[sensor] && !before.ball[sensor]) {
            fence_ball(sensor);
        }
    }
}

static void outputs(plant_drive_t *drive)
{
    *drive = pins;
}

static bool receive(uint8_t link, uint8_t byte)
{
    uint8_t next = (uint8_t)((coming[link].head + 1u) % RING);

    if (fence_byte(byte)) {
        return true;
    }
    if (next == coming[link].tail) {
        return false;
    }
    coming[link].bytes[coming[link].head] = byte;
    coming[link].head = next;
    return true;
}

static size_t transmit(uint8_t link, uint8_t *into, size_t most)
{
    size_t count = (going[link].count < most) ? going[link].count : most;

    (void)memcpy(into, going[link].bytes, count);
    (void)memmove(going[link].bytes, going[link].bytes + count, going[link].count - count);
    going[link].count -= count;
    return count;
}

static void start(uint8_t why)
{
    cause = why;
    boot_us = now_us;
    for (uint8_t link = 0u; link < LINKS; link++) {
        coming[link].head = 0u;
        coming[link].tail = 0u;
        going[link].count = 0u;
    }
    launcher_begin();
}

static void reset(void)
{
    start(CAUSE_RESET);
}

static bool brown_out(void)
{
    start(CAUSE_BROWN_OUT);
    return true;
}

static bool hang(void)
{
    return false; /* a process has no hardware watchdog that could help */
}

static bool lose_tick(void)
{
    return false; /* here the tick is the process itself */
}

static size_t memory_bytes(uint8_t **bytes)
{
    *bytes = memory;
    return sizeof memory;
}

static int stack_most(void)
{
    return -1;
}

int main(int argc, char **argv)
{
    const image_t board = {LINKS, advance, inputs, outputs, receive, transmit,
                                   reset, brown_out, hang, lose_tick, memory_bytes, stack_most};
    far_end_options_t options;

    if (far_end_arguments(argc, argv, &options) != NULL) {
        (void)fputs("usage: launcher [--link PATH] [--memory FILE] [--pace P]\n", stderr);
        return 2;
    }
    (void)memset(memory, 0xFF, sizeof memory);
    if (!far_end_load_memory(&board, &options)) {
        (void)fputs("the memory file cannot be read\n", stderr);
        return 3;
    }
    plant_init(far_end_plant());
    switches = far_end_plant()->sense;
    start(CAUSE_POWER);
    return far_end_run(&board, &options);
}
