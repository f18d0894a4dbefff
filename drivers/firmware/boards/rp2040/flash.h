/* The flash chip that the program came from, spoken to while the program runs from SRAM. */
#ifndef FEEDSCRIPT_FLASH_H
#define FEEDSCRIPT_FLASH_H

#include <stdint.h>

#define FLASH_SECTOR 4096u
#define FLASH_PAGE_WORDS 64u

/* Offsets are from the flash's beginning. Each waits until the chip is done; a chip that never is
 * leaves the rest to the watchdog. */
void flash_erase(uint32_t at); /* one sector, to ones */
/* Ones to zeros, within one page. */
void flash_program(uint32_t at, const uint32_t *words, uint32_t count);
uint32_t flash_word(uint32_t at);

#endif
