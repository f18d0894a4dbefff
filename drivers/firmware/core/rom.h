/* Constants that stay in flash on a controller whose memories are apart. */
#ifndef FEEDSCRIPT_ROM_H
#define FEEDSCRIPT_ROM_H

#include <stdint.h>

#ifdef __AVR__
#include <avr/pgmspace.h>
#define ROM PROGMEM
#define rom_byte(at) pgm_read_byte(at)
#define rom_word(at) pgm_read_word(at)
#define rom_long(at) pgm_read_dword(at)
#else
#define ROM
#define rom_byte(at) (*(const uint8_t *)(at))
#define rom_word(at) (*(const uint16_t *)(at))
#define rom_long(at) (*(const uint32_t *)(at))
#endif

#endif
