#include "flash.h"

#include <stdbool.h>
#include <stddef.h>

#include "guard/fence.h"
#include "registers.h"

#define WRITE_ENABLE 0x06u
#define PAGE_PROGRAM 0x02u
#define SECTOR_ERASE 0x20u
#define READ_STATUS 0x05u
#define BUSY 1u
#define LONGEST_US 1000000u /* common parts erase a sector in 400 ms at worst */

/* By hand: the interface would let go between two frames. */
static void select_chip(bool on)
{
    REG(QSPI_SS_CTRL) = (REG(QSPI_SS_CTRL) & ~0x300uL) | (on ? 0x200uL : 0x300uL);
}

static uint8_t swap(uint8_t out)
{
    REG(SSI_DR0) = out;
    while ((REG(SSI_SR) & SSI_SR_RECEIVED) == 0u) {
    }
    return (uint8_t)REG(SSI_DR0);
}

static void enable_writing(void)
{
    select_chip(true);
    (void)swap(WRITE_ENABLE);
    select_chip(false);
}

static void send(uint8_t command, uint32_t at, const uint8_t *bytes, size_t count)
{
    select_chip(true);
    (void)swap(command);
    (void)swap((uint8_t)(at >> 16));
    (void)swap((uint8_t)(at >> 8));
    (void)swap((uint8_t)at);
    for (size_t i = 0u; i < count; i++) {
        (void)swap(bytes[i]);
    }
    select_chip(false);
}

static bool busy(void)
{
    select_chip(true);
    (void)swap(READ_STATUS);
    uint8_t status = swap(0u);
    select_chip(false);
    return (status & BUSY) != 0u;
}

static void wait(void)
{
    uint32_t began = REG(TIMER_RAWL);

    while (busy()) {
        if ((REG(TIMER_RAWL) - began) < LONGEST_US) {
            fence_alive();
        }
    }
}

static void by_bytes(void)
{
    REG(SSI_ENR) = 0u;
    REG(SSI_CTRLR0) = 0x00070000u; /* frames of 8 bits, both ways */
    REG(SSI_SER) = 1u;
    REG(SSI_ENR) = 1u;
}

/* As boot.S has it. */
static void as_memory(void)
{
    REG(SSI_ENR) = 0u;
    REG(SSI_CTRLR0) = 0x001F0300u;
    REG(SSI_CTRLR1) = 0u;
    REG(SSI_SPI_CTRLR0) = 0x03000218u;
    REG(SSI_ENR) = 1u;
    REG(XIP_FLUSH) = 1u;
    (void)REG(XIP_FLUSH); /* until the cache is empty */
}

static void change(uint8_t command, uint32_t at, const uint8_t *bytes, size_t count)
{
    by_bytes();
    enable_writing();
    send(command, at, bytes, count);
    wait();
    as_memory();
}

void flash_erase(uint32_t at)
{
    change(SECTOR_ERASE, at, NULL, 0u);
}

void flash_program(uint32_t at, const uint32_t *words, uint32_t count)
{
    change(PAGE_PROGRAM, at, (const uint8_t *)words, count * sizeof *words);
}

uint32_t flash_word(uint32_t at)
{
    return REG(XIP_BASE + at);
}
