#include "wire/crc16.h"

uint16_t crc16(uint16_t crc, uint8_t byte)
{
    uint16_t sum = (uint16_t)(crc ^ (uint16_t)((uint16_t)byte << 8));

    for (uint8_t bit = 0u; bit < 8u; bit++) {
        if ((sum & 0x8000u) != 0u) {
            sum = (uint16_t)((uint16_t)(sum << 1) ^ 0x1021u);
        } else {
            sum = (uint16_t)(sum << 1);
        }
    }
    return sum;
}
