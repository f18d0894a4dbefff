/* CRC-16/IBM-3740: polynomial 0x1021, initial value 0xFFFF, not reflected, no final xor. */
#ifndef FEEDSCRIPT_CRC16_H
#define FEEDSCRIPT_CRC16_H

#include <stdint.h>

#define CRC16_START 0xFFFFu

uint16_t crc16(uint16_t crc, uint8_t byte);

#endif
