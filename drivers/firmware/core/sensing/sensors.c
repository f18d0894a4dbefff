#include "sensing/sensors.h"

#include "rom.h"
#include "wire/wire.h"

#define PARTS_MOST 8u
#define ALL(count) ((uint8_t)((1u << (count)) - 1u))

/* The parts of a kind that are there, a bit each. */
static uint8_t parts_of(uint8_t senses)
{
    uint8_t parts = 0u;

    for (const sensor_t *row = board_sensors; rom_byte(&row->senses) != SENSES_END; row++) {
        if (rom_byte(&row->senses) == senses) {
            parts = (uint8_t)(parts | (1u << (rom_byte(&row->part) % PARTS_MOST)));
        }
    }
    return parts;
}

bool sensors_have(uint8_t senses)
{
    return parts_of(senses) != 0u;
}

static bool has_all(uint8_t senses, uint8_t parts)
{
    return (parts_of(senses) & parts) == parts;
}

bool sensors_suffice(void)
{
    bool throws = (VALVE == 0u) ? has_all(SENSES_WHEEL, ALL(WHEELS)) : sensors_have(SENSES_TANK);

    return throws && has_all(SENSES_BALL, ALL(SENSORS)) && has_all(SENSES_HOME, STEPPERS);
}

static uint16_t told(uint8_t senses, uint16_t capability)
{
    return sensors_have(senses) ? capability : 0u;
}

uint16_t sensors_capabilities(void)
{
    return (uint16_t)(told(SENSES_BALL, CAP_BALL_SENSOR) | told(SENSES_SUPPLY, CAP_VOLTAGE) |
                      told(SENSES_TEMPERATURE, CAP_TEMPERATURE) | told(SENSES_WHEEL, CAP_FEEDBACK));
}

int32_t sensors_supply_mv(void)
{
    return sensors_have(SENSES_SUPPLY) ? board_supply_mv() : NOT_SENSED;
}

int32_t sensors_temperature_c(void)
{
    uint8_t parts = parts_of(SENSES_TEMPERATURE);
    int32_t hottest = INT32_MIN;

    for (uint8_t part = 0u; part < PARTS_MOST; part++) {
        if ((parts & (1u << part)) != 0u) {
            int32_t one = board_temperature_c(part);
            hottest = (one > hottest) ? one : hottest;
        }
    }
    return (parts == 0u) ? NOT_SENSED : hottest;
}
