/* Runs a program for the ATmega1280 under simavr, as fast as it goes, with nothing on its pins: what it
 * sends by its serial line goes to standard output.
 *
 * usage: run_avr IMAGE */
#include <stdio.h>

#include "avr_uart.h"
#include "sim_avr.h"
#include "sim_elf.h"

static void sent(struct avr_irq_t *irq, uint32_t value, void *unused)
{
    (void)irq;
    (void)unused;
    (void)putchar((int)value);
    if (value == (uint32_t)'\n') {
        (void)fflush(stdout);
    }
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

int main(int argc, char **argv)
{
    elf_firmware_t image = {0};
    avr_t *avr = avr_make_mcu_by_name("atmega1280");
    uint32_t flags = 0u;

    if ((argc != 2) || (avr == NULL) || (elf_read_firmware(argv[1], &image) != 0)) {
        (void)fputs("usage: run_avr IMAGE\n", stderr);
        return 2;
    }
    image.frequency = 16000000u;
    avr_init(avr);
    avr_load_firmware(avr, &image);
    avr->sleep = no_sleep;
    (void)avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags); /* it would print by itself */
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), sent, NULL);
    int state = cpu_Running;
    while ((state != cpu_Done) && (state != cpu_Crashed)) {
        state = avr_run(avr);
    }
    return (state == cpu_Done) ? 0 : 1;
}
