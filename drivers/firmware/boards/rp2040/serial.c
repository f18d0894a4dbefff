/* The links: UART0 is the cable's, UART1 a radio module's; each with its FIFOs and a ring of bytes each
 * way. A byte that stops acts in the receive interrupt, before any ring (fence_byte). */
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

_Static_assert(LINKS == 2u, "the chip has two UARTs");
const link_kind_t board_links[LINKS] = {LINK_CABLE, LINK_RADIO};

typedef struct {
    uint8_t bytes[RING];
    uint8_t head;
    uint8_t tail;
} ring_t;

static volatile ring_t comings[LINKS];
static volatile ring_t goings[LINKS];

static uint8_t next(uint8_t at)
{
    return (uint8_t)((at + 1u) & (RING - 1u));
}

static void fill_fifo(uint8_t link)
{
    volatile ring_t *going = &goings[link];

    while ((going->tail != going->head) && ((REG(UART_FR(link)) & UART_FR_FULL) == 0u)) {
        REG(UART_DR(link)) = going->bytes[going->tail];
        going->tail = next(going->tail);
    }
}

static void arrived(uint8_t link, uint8_t byte)
{
    volatile ring_t *coming = &comings[link];

    if (fence_byte(byte) || (next(coming->head) == coming->tail)) {
        return; /* a full ring loses the byte; the line's check finds out */
    }
    coming->bytes[coming->head] = byte;
    coming->head = next(coming->head);
}

static void interrupt(uint8_t link)
{
    while ((REG(UART_FR(link)) & UART_FR_EMPTY) == 0u) {
        arrived(link, (uint8_t)REG(UART_DR(link)));
    }
    REG(UART_ICR(link)) = 0x7F0u;
    fill_fifo(link);
}

void serial_interrupt_0(void)
{
    interrupt(0u);
}

void serial_interrupt_1(void)
{
    interrupt(1u);
}

bool board_read(uint8_t link, uint8_t *byte)
{
    volatile ring_t *coming = &comings[link];

    if (coming->tail == coming->head) {
        return false;
    }
    *byte = coming->bytes[coming->tail];
    coming->tail = next(coming->tail);
    return true;
}

uint8_t board_write_room(uint8_t link)
{
    return (uint8_t)(((uint8_t)(goings[link].tail - goings[link].head) - 1u) & (RING - 1u));
}

void board_write(uint8_t link, uint8_t byte)
{
    volatile ring_t *going = &goings[link];
    uint8_t before = board_lock();

    going->bytes[going->head] = byte;
    going->head = next(going->head);
    fill_fifo(link);
    board_unlock(before);
}

void serial_begin(void)
{
    for (uint8_t link = 0u; link < LINKS; link++) {
        REG(UART_IBRD(link)) = DIVISOR >> 6;
        REG(UART_FBRD(link)) = DIVISOR & 63u;
        REG(UART_LCR(link)) = 0x70u;  /* 8N1, FIFOs */
        REG(UART_IFLS(link)) = 0u;    /* speaks up at four bytes, or when the line has rested */
        REG(UART_IMSC(link)) = 0x70u; /* receive, its timeout, transmit */
        REG(UART_CR(link)) = 0x301u;
    }
}
