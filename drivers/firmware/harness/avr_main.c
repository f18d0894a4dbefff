/* Runs the compiled ATmega328P image under simavr, with the plant on its pins.
 *
 * What simavr 1.6 needs to be told (found by measurement):
 * - pulled-up inputs overwrite a driven level at every write to PORTx, so every level is both set
 *   as external and raised;
 * - a reset zeroes PINx and drops cycle timers, so the plant runs from our loop, and the reset
 *   hook puts the levels back;
 * - sleeping would sleep the host; the pace is our loop's business;
 * - the transmitter counts a parity bit that is not there, so the time of a byte is set by hand.
 */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "avr_adc.h"
#include "avr_eeprom.h"
#include "avr_extint.h"
#include "avr_ioport.h"
#include "avr_uart.h"
#include "cable.h"
#include "far_end.h"
#include "sim_avr.h"
#include "sim_elf.h"

DEFINE_FIFO(uint16_t, uart_fifo);

#define CLOCK_HZ 16000000u
#define CYCLES_PER_US (CLOCK_HZ / 1000000u)
#define EEPROM_BYTES 1024u
#define RECEIVER_DEPTH 2 /* bytes the real receiver holds before it loses one */
#define RAM_FIRST 0x100u
#define RAM_BYTES 0x800u
#define PAINT 0xA5u
#define LOOP_AT 0x7F00u

/* Data space addresses of the ATmega328P (data sheet, register summary). */
enum {
    PINB_AT = 0x23, DDRB_AT = 0x24, PORTB_AT = 0x25, PINC_AT = 0x26, PIND_AT = 0x29,
    DDRD_AT = 0x2A, PORTD_AT = 0x2B, TCCR0A_AT = 0x44, OCR0A_AT = 0x47, OCR0B_AT = 0x48,
    MCUSR_AT = 0x54, TIMSK2_AT = 0x70, TCCR1A_AT = 0x80, OCR1AL_AT = 0x88, OCR1BL_AT = 0x8A
};

enum { PORT_B, PORT_C, PORT_D, PORTS };

static avr_t *avr;
static avr_uart_t *uart;
static avr_irq_t *pin[PORTS][8];
static avr_irq_t *adc[8];
static uint8_t level[PORTS];
static uint8_t driven[PORTS];
static uint8_t sent[4096];
static size_t sent_count;
static uint8_t eeprom[EEPROM_BYTES];
static void (*reset_of_core)(avr_t *core);

static void drive_pin(int port, int bit, bool high)
{
    uint8_t mask = (uint8_t)(1u << bit);
    bool was = (level[port] & mask) != 0u;

    if (((driven[port] & mask) != 0u) && (was == high)) {
        return;
    }
    driven[port] |= mask;
    level[port] = high ? (uint8_t)(level[port] | mask) : (uint8_t)(level[port] & ~mask);
    avr_ioport_external_t outside = {.name = "BCD"[port], .mask = driven[port],
                                     .value = level[port]};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL("BCD"[port]), &outside);
    avr_raise_irq(pin[port][bit], high ? 1u : 0u);
}

static void after_reset(avr_t *core)
{
    if (reset_of_core != NULL) {
        reset_of_core(core);
    }
    core->data[PINB_AT] = level[PORT_B];
    core->data[PINC_AT] = level[PORT_C];
    core->data[PIND_AT] = level[PORT_D];
}

/* simavr would talk on standard output, which belongs to the console. */
static void log_line(avr_t *core, const int how_loud, const char *format, va_list rest)
{
    if (how_loud <= ((core == NULL) ? LOG_ERROR : core->log)) {
        (void)vfprintf(stderr, format, rest);
    }
}

static void no_sleep(avr_t *core, avr_cycle_count_t cycles)
{
    (void)core;
    (void)cycles;
}

static void byte_out(avr_irq_t *irq, uint32_t value, void *parameter)
{
    (void)irq;
    (void)parameter;
    if (sent_count < sizeof sent) {
        sent[sent_count] = (uint8_t)value;
        sent_count++;
    }
}

/* A step is a rise of the port's own level (a servo's pulses are the timer's); its direction stands at PB3. */
static int32_t steps[2];

static void step_out(avr_irq_t *irq, uint32_t value, void *parameter)
{
    const int *axis = parameter;

    (void)irq;
    if (((value & 1u) != 0u) && ((avr->data[DDRB_AT] & avr->data[PORTB_AT] & (2u << *axis)) != 0u)) {
        steps[*axis] += ((avr->data[PORTB_AT] & 0x08u) != 0u) ? 1 : -1;
    }
}

/* ---- what the loop asks ---- */

static void advance(uint32_t us)
{
    avr_cycle_count_t until = avr->cycle + (avr_cycle_count_t)us * CYCLES_PER_US;
    static avr_cycle_count_t over; /* an instruction may end a little late: repaid next time */

    until -= over;
    while (avr->cycle < until) {
        int state = avr_run(avr);
        if ((state == cpu_Done) || (state == cpu_Crashed)) {
            (void)fputs("the image has stopped\n", stderr);
            exit(1);
        }
    }
    over = avr->cycle - until;
    if (uart->cycles_per_byte != 0u) {
        uart->cycles_per_byte = (avr_cycle_count_t)CABLE_BYTE_US * CYCLES_PER_US;
    }
}

static void inputs(const plant_sense_t *sense)
{
    drive_pin(PORT_D, 2, sense->tach[0]);
    drive_pin(PORT_D, 3, sense->tach[1]);
    drive_pin(PORT_D, 4, !sense->ball[0]);
    drive_pin(PORT_C, 0, sense->loop_open);
    drive_pin(PORT_C, 1, !sense->arm_switch);
    drive_pin(PORT_C, 2, !sense->ball_ready);
    drive_pin(PORT_C, 3, true);
    /* The home sensor of the one axis that steps, or a second ball sensor: never both are built. */
    drive_pin(PORT_B, 4, !(sense->near[0] || sense->near[1] || sense->ball[1]));
    avr_raise_irq(adc[4], (uint32_t)(sense->supply_mv / 4.0));
    avr_raise_irq(adc[5], (uint32_t)(sense->motor_temp_c * 10.0));
}

/* The level that the motor's driver sees: the timer's duty, or the port's own level; a pin that
 * is no output is pulled down on the board. */
static double wheel_duty(int bit, uint8_t connected, uint8_t compare)
{
    const uint8_t *data = avr->data;

    if ((data[DDRD_AT] & (1u << bit)) == 0u) {
        return 0.0;
    }
    if (connected != 0u) {
        return (double)compare / 255.0;
    }
    return ((data[PORTD_AT] & (1u << bit)) != 0u) ? 1.0 : 0.0;
}

static uint16_t servo(uint8_t connected, uint8_t compare_at)
{
    const uint8_t *data = avr->data;

    if (connected == 0u) {
        return 0u;
    }
    return (uint16_t)((data[compare_at] | (data[compare_at + 1] << 8)) / 2);
}

static void outputs(plant_drive_t *drive)
{
    const uint8_t *data = avr->data;
    uint8_t wheels = data[TCCR0A_AT];
    uint8_t servos = data[TCCR1A_AT];

    drive->duty[0] = wheel_duty(6, wheels & 0xC0u, data[OCR0A_AT]);
    drive->duty[1] = wheel_duty(5, wheels & 0x30u, data[OCR0B_AT]);
    drive->power = (data[DDRD_AT] & data[PORTD_AT] & 0x80u) != 0u;
    drive->gate = (data[DDRB_AT] & data[PORTB_AT] & 0x01u) != 0u;
    drive->servo_us[0] = servo(servos & 0xC0u, OCR1AL_AT);
    drive->servo_us[1] = servo(servos & 0x30u, OCR1BL_AT);
    drive->steps[0] = steps[0];
    drive->steps[1] = steps[1];
}

static bool receive(uint8_t link, uint8_t byte)
{
    (void)link;
    if (uart_fifo_get_read_size(&uart->input) > RECEIVER_DEPTH) {
        return false;
    }
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), byte);
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

static void start_with(uint8_t flag)
{
    avr_reset(avr);
    avr->data[MCUSR_AT] = flag;
}

static void reset(void)
{
    start_with(0x02u); /* EXTRF */
}

static bool brown_out(void)
{
    start_with(0x04u); /* BORF */
    return true;
}

/* From here on the main program is one instruction that jumps to itself, in flash that the image
 * does not use; interrupts still run, and only the hardware watchdog ends it. */
static bool hang(void)
{
    avr->flash[LOOP_AT] = 0xFFu; /* rjmp .-2 */
    avr->flash[LOOP_AT + 1u] = 0xCFu;
    avr->pc = LOOP_AT;
    avr->state = cpu_Running;
    return true;
}

/* The tick's interrupt is shut out for good, by a stray write to its mask for instance. */
static bool lose_tick(void)
{
    avr->data[TIMSK2_AT] = 0u;
    return true;
}

static size_t memory(uint8_t **bytes)
{
    if (avr != NULL) {
        avr_eeprom_desc_t all = {.ee = eeprom, .offset = 0, .size = EEPROM_BYTES};
        avr_ioctl(avr, AVR_IOCTL_EEPROM_GET, &all);
    }
    *bytes = eeprom;
    return sizeof eeprom;
}

/* RAM is painted at the start; the lowest byte of the stack is the first that lost its paint,
 * looked for upwards from the end of the variables. */
static unsigned variables_end;

static int stack_most(void)
{
    unsigned at = variables_end;

    while ((at < (RAM_FIRST + RAM_BYTES)) && (avr->data[at] == PAINT)) {
        at++;
    }
    return (int)(RAM_FIRST + RAM_BYTES - at);
}

/* ---- start ---- */

static void attach(void)
{
    uint32_t no_flags = 0u;

    for (avr_io_t *io = avr->io_port; io != NULL; io = io->next) {
        if (strcmp(io->kind, "uart") == 0) {
            uart = (avr_uart_t *)io;
        }
    }
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &no_flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            byte_out, NULL);
    for (int port = 0; port < PORTS; port++) {
        for (int bit = 0; bit < 8; bit++) {
            pin[port][bit] =
                avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ("BCD"[port]), bit);
        }
    }
    static int axes[2] = {0, 1};
    for (int axis = 0; axis < 2; axis++) {
        avr_irq_register_notify(pin[PORT_B][1 + axis], step_out, &axes[axis]);
    }
    for (int channel = 0; channel < 8; channel++) {
        adc[channel] = avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + channel);
    }
    for (int line = 0; line < 2; line++) {
        avr_extint_set_strict_lvl_trig(avr, (uint8_t)line, 0u);
    }
    reset_of_core = avr->reset;
    avr->reset = after_reset;
}

static bool load(const char *path)
{
    elf_firmware_t image;

    avr_global_logger_set(log_line);
    (void)memset(&image, 0, sizeof image);
    if (elf_read_firmware(path, &image) < 0) {
        return false;
    }
    avr = avr_make_mcu_by_name("atmega328p");
    if (avr == NULL) {
        return false;
    }
    avr_init(avr);
    avr_load_firmware(avr, &image);
    avr->frequency = CLOCK_HZ;
    avr->vcc = 5000u;
    avr->avcc = 5000u;
    avr->aref = 5000u;
    avr->log = LOG_ERROR;
    avr->sleep = no_sleep;
    (void)memset(avr->data + RAM_FIRST, PAINT, RAM_BYTES);
    variables_end = RAM_FIRST + image.datasize + image.bsssize + 16u;
    return true;
}

int main(int argc, char **argv)
{
    const image_t board = {1u, advance, inputs, outputs, receive, transmit,
                                   reset, brown_out, hang, lose_tick, memory, stack_most};
    far_end_options_t options;
    const char *image = far_end_arguments(argc, argv, &options);

    if (image == NULL) {
        (void)fputs("usage: avr [--link PATH] [--memory FILE] [--pace P] IMAGE\n", stderr);
        return 2;
    }
    (void)memset(eeprom, 0xFF, sizeof eeprom);
    if (!far_end_load_memory(&board, &options) || !load(image)) {
        (void)fputs("the image or the memory file cannot be read\n", stderr);
        return 3;
    }
    avr_eeprom_desc_t all = {.ee = eeprom, .offset = 0, .size = EEPROM_BYTES};
    avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &all);
    plant_init(far_end_plant());
    attach();
    return far_end_run(&board, &options);
}
