/* The serial line: two rings of bytes and the interrupts that fill and empty them. A byte that stops
 * acts in the receive interrupt, before any ring (fence_byte). */
#include "serial.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "board.h"
#include "guard/fence.h"

#ifndef BAUD
#define BAUD 115200uL
#endif
#define UBRR_VALUE (((F_CPU + (BAUD * 4uL)) / (BAUD * 8uL)) - 1uL) /* double speed */

#define RING 128u /* a power of two */

typedef struct {
    uint8_t bytes[RING];
    uint8_t head;
    uint8_t tail;
} ring_t;

static volatile ring_t coming;
static volatile ring_t going;

ISR(USART_RX_vect)
{
    uint8_t byte = UDR0;
    uint8_t next = (uint8_t)((coming.head + 1u) & (RING - 1u));

    if (fence_byte(byte)) {
        return;
    }
    if (next != coming.tail) { /* a full ring loses the byte; the line's check finds out */
        coming.bytes[coming.head] = byte;
        coming.head = next;
    }
}

ISR(USART_UDRE_vect)
{
    if (going.tail == going.head) {
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
    } else {
        UDR0 = going.bytes[going.tail];
        going.tail = (uint8_t)((going.tail + 1u) & (RING - 1u));
    }
}

const link_kind_t board_links[LINKS] = {LINK_CABLE};

bool board_read(uint8_t link, uint8_t *byte)
{
    (void)link;
    if (coming.tail == coming.head) {
        return false;
    }
    *byte = coming.bytes[coming.tail];
    coming.tail = (uint8_t)((coming.tail + 1u) & (RING - 1u));
    return true;
}

uint8_t board_write_room(uint8_t link)
{
    (void)link;
    return (uint8_t)(((uint8_t)(going.tail - going.head) - 1u) & (RING - 1u));
}

void board_write(uint8_t link, uint8_t byte)
{
    uint8_t before;

    (void)link;
    going.bytes[going.head] = byte;
    going.head = (uint8_t)((going.head + 1u) & (RING - 1u));
    before = board_lock();
    UCSR0B |= _BV(UDRIE0);
    board_unlock(before);
}

void serial_begin(void)
{
    UCSR0A = _BV(U2X0);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UBRR0 = (uint16_t)UBRR_VALUE;
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}
