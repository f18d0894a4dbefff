/* The serial line: UART0 with its FIFOs, and a ring of bytes each way. A byte that stops acts in the
 * receive interrupt, before any ring (fence_byte). */
#include "serial.h"

#include "board.h"
#include "guard/fence.h"
#include "registers.h"

#define CLOCK_HZ 12000000u
#ifndef BAUD
#define BAUD 115200u
#endif
#define DIVISOR (((CLOCK_HZ * 4u) + (BAUD / 2u)) / BAUD) /* in 64ths */

#define RING 128u /* a power of two */

typedef struct {
    uint8_t bytes[RING];
    uint8_t head;
    uint8_t tail;
} ring_t;

static volatile ring_t coming;
static volatile ring_t going;

static uint8_t next(uint8_t at)
{
    return (uint8_t)((at + 1u) & (RING - 1u));
}

static void fill_fifo(void)
{
    while ((going.tail != going.head) && ((REG(UART_FR) & UART_FR_FULL) == 0u)) {
        REG(UART_DR) = going.bytes[going.tail];
        going.tail = next(going.tail);
    }
}

static void arrived(uint8_t byte)
{
    if (fence_byte(byte) || (next(coming.head) == coming.tail)) {
        return; /* a full ring loses the byte; the line's check finds out */
    }
    coming.bytes[coming.head] = byte;
    coming.head = next(coming.head);
}

void serial_interrupt(void)
{
    while ((REG(UART_FR) & UART_FR_EMPTY) == 0u) {
        arrived((uint8_t)REG(UART_DR));
    }
    REG(UART_ICR) = 0x7F0u;
    fill_fifo();
}

bool board_read(uint8_t *byte)
{
    if (coming.tail == coming.head) {
        return false;
    }
    *byte = coming.bytes[coming.tail];
    coming.tail = next(coming.tail);
    return true;
}

uint8_t board_write_room(void)
{
    return (uint8_t)(((uint8_t)(going.tail - going.head) - 1u) & (RING - 1u));
}

void board_write(uint8_t byte)
{
    uint8_t before = board_lock();

    going.bytes[going.head] = byte;
    going.head = next(going.head);
    fill_fifo();
    board_unlock(before);
}

void serial_begin(void)
{
    REG(UART_IBRD) = DIVISOR >> 6;
    REG(UART_FBRD) = DIVISOR & 63u;
    REG(UART_LCR) = 0x70u;  /* 8N1, FIFOs */
    REG(UART_IFLS) = 0u;    /* speaks up at four bytes, or when the line has rested */
    REG(UART_IMSC) = 0x70u; /* receive, its timeout, transmit */
    REG(UART_CR) = 0x301u;
}
