/* The invented controller, played: its registers on the mechanics of harness/plant.c, its interrupts as calls
 * between turns of the main loop, its watchdog, its flash. */
#include "chip.h"

#include <stdio.h>
#include <string.h>

#include "far_end.h"

#define SENT 4096u
#define BYTE_US 87u

chip_t chip;

static uint8_t sent[SENT];
static size_t sent_count;
static uint32_t sending_us; /* until the byte has gone */
static uint32_t part_us;    /* of the millisecond */
static bool hung, tickless;
static plant_sense_t before;

/* ---- the part's own works ---- */

static void start(uint8_t cause)
{
    chip.cause = cause;
    chip.drive = 0u;
    chip.masked = false;
    chip.can_send = true;
    chip.dog = 0u;
    (void)memset(chip.level, 0, sizeof chip.level);
    (void)memset(chip.pulse, 0, sizeof chip.pulse);
    hung = false;
    tickless = false;
    firmware_start();
}

void chip_send(uint8_t byte)
{
    chip.can_send = false;
    sending_us = BYTE_US;
    if (sent_count < SENT) {
        sent[sent_count] = byte;
        sent_count++;
    }
}

void chip_erase(uint8_t sector)
{
    (void)memset(chip.flash[sector], 0xFF, FLASH_SECTOR);
}

void chip_program(uint8_t sector, uint16_t at, uint8_t value)
{
    chip.flash[sector][at] &= value;
}

static void millisecond(void)
{
    if (!tickless) {
        on_millisecond();
    }
    if (chip.dog > 0u) {
        chip.dog--;
        if (chip.dog == 0u) {
            start(CAUSE_DOG);
        }
    }
}

/* ---- what the loop of harness/far_end.c asks ---- */

static void advance(uint32_t us)
{
    chip.ticks += us;
    sending_us = (sending_us > us) ? sending_us - us : 0u;
    if (!chip.can_send && (sending_us == 0u)) {
        chip.can_send = true;
        on_sent();
    }
    part_us += us;
    while (part_us >= 1000u) {
        part_us -= 1000u;
        millisecond();
    }
    if (!hung) {
        firmware_loop();
    }
}

static uint8_t levels(const plant_sense_t *sense)
{
    return (uint8_t)((sense->ball[0] ? 0u : IN_BALL) | (sense->loop_open ? IN_LOOP : 0u) |
                     (sense->arm_switch ? 0u : IN_SWITCH) | (sense->ball_ready ? 0u : IN_READY) |
                     IN_JUMPER);
}

static void inputs(const plant_sense_t *sense)
{
    chip.in = levels(sense);
    chip.analog[0] = (uint16_t)((sense->supply_mv * 4096.0 / 24000.0) + 0.5);
    chip.analog[1] = (uint16_t)((sense->motor_temp_c * 4096.0 / 250.0) + 0.5);
    for (uint8_t w = 0u; w < PLANT_WHEELS; w++) {
        if (before.tach[w] && !sense->tach[w]) {
            on_tach(w);
        }
    }
    if (sense->ball[0] != before.ball[0]) {
        on_ball_edge();
    }
    before = *sense;
}

static void outputs(plant_drive_t *drive)
{
    uint8_t out = chip.out & chip.drive;

    drive->power = (out & OUT_CONTACTOR) != 0u;
    drive->gate = (out & OUT_GATE) != 0u;
    for (size_t i = 0u; i < PLANT_WHEELS; i++) {
        drive->duty[i] = chip.level[i] / 1000.0;
        drive->servo_us[i] = (uint16_t)(chip.pulse[i] * 2u);
    }
}

static bool receive(uint8_t link, uint8_t byte)
{
    (void)link;
    chip.received = byte;
    on_receive();
    return true;
}

static size_t transmit(uint8_t link, uint8_t *into, size_t most)
{
    (void)link;
    size_t count = (sent_count < most) ? sent_count : most;

    (void)memcpy(into, sent, count);
    (void)memmove(sent, sent + count, sent_count - count);
    sent_count -= count;
    return count;
}

static void reset(void)
{
    start(CAUSE_PIN);
}

static bool brown_out(void)
{
    start(CAUSE_SAG);
    return true;
}

static bool hang(void)
{
    hung = true;
    return true;
}

static bool lose_tick(void)
{
    tickless = true;
    return true;
}

static size_t memory(uint8_t **bytes)
{
    *bytes = &chip.flash[0][0];
    return sizeof chip.flash;
}

static int stack_most(void)
{
    return -1;
}

int main(int argc, char **argv)
{
    const image_t board = {1u, advance, inputs, outputs, receive, transmit, reset,
                           brown_out, hang, lose_tick, memory, stack_most};
    far_end_options_t options;

    if (far_end_arguments(argc, argv, &options) != NULL) {
        return 2;
    }
    (void)memset(chip.flash, 0xFF, sizeof chip.flash);
    if (!far_end_load_memory(&board, &options)) {
        return 3;
    }
    plant_init(far_end_plant());
    before = far_end_plant()->sense;
    chip.in = levels(&before);
    start(CAUSE_COLD);
    return far_end_run(&board, &options);
}
