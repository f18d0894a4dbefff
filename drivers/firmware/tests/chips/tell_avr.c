/* By the serial line, which the simulator reads. */
#include "tell.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "wire/text.h"

static void send(uint8_t byte)
{
    UCSR0B = _BV(TXEN0);
    while ((UCSR0A & _BV(UDRE0)) == 0u) {
    }
    UDR0 = byte;
}

void tell_number(uint32_t number)
{
    for (uint8_t shift = 32u; shift > 0u; shift = (uint8_t)(shift - 4u)) {
        send((uint8_t)hex_digit((uint8_t)((number >> (shift - 4u)) & 15u)));
    }
    send((uint8_t)'\n');
}

/* Asleep with interrupts off: the simulator ends there. */
void tell_end(void)
{
    cli();
    SMCR = _BV(SE);
    sleep_cpu();
}
