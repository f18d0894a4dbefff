/* Whether the sensors of a table suffice for a launcher to throw: built with -DROWS=… for each table
 * (tests/firmware/test_sensor_table.py). */
#include <stdio.h>

#include "sensing/sensors.h"

const sensor_t board_sensors[] = {ROWS {SENSES_END, 0u}};

int32_t board_supply_mv(void)
{
    return 12000;
}

int32_t board_temperature_c(uint8_t part)
{
    return -10 - (int32_t)part;
}

int main(void)
{
    (void)printf("%d %X %d %d\n", sensors_suffice() ? 1 : 0, (unsigned)sensors_capabilities(),
                 (int)sensors_supply_mv(), (int)sensors_temperature_c());
    return 0;
}
