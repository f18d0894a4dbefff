/* What the portable core needs of a board. One folder under boards/ answers it.
 *
 * A board calls back into the core from its interrupts: fence_tick() once a millisecond,
 * fence_byte() for every byte received on any link, fence_ball() for every edge that leaves a ball sensor blocked.
 * Functions marked [interrupt] are called from there too and must be safe for it.
 */
#ifndef FEEDSCRIPT_BOARD_H
#define FEEDSCRIPT_BOARD_H

#include <stdbool.h>
#include <stdint.h>

/* How many of each this launcher has. Another one is built with -DWHEELS=1u or 3u, -DAXES=1u; what
 * it lacks takes 0 alone, and its third wheel is told among the capabilities. */
#ifndef VALVE
#define VALVE 0u /* 1: air from a tank in place of wheels; the gate is its valve, open for as long as each feed says */
#endif
#ifndef WHEELS
#define WHEELS ((VALVE == 0u) ? 2u : 1u)
#endif
#ifndef AXES
#define AXES 2u /* pan, tilt; 1: pan alone */
#endif
/* Which axes a stepping motor leads, a bit each: 1 pan, 2 tilt. All others are servos. */
#ifndef STEPPERS
#define STEPPERS 0u
#endif
/* Ball sensors at the mouth, one behind the other: each ball passes them all. */
#ifndef SENSORS
#define SENSORS 1u
#endif
/* Links that lines come by. */
#ifndef LINKS
#define LINKS 1u
#endif
_Static_assert((WHEELS >= 1u) && (WHEELS <= 3u), "the wire carries three drives");
_Static_assert((VALVE == 0u) || (WHEELS == 1u), "a valve is the one drive that there is");
_Static_assert((AXES >= 1u) && (AXES <= 2u), "pan, or pan and tilt");
_Static_assert(STEPPERS < (1u << AXES), "a bit for each axis that there is");
_Static_assert((SENSORS >= 1u) && (SENSORS <= 4u), "a detail of their fault tells which");
_Static_assert((LINKS >= 1u) && (LINKS <= 8u), "each takes 120 bytes of RAM in the core alone");

/* Causes of a start, as the BOOT event reports them. */
#define CAUSE_POWER 0u
#define CAUSE_RESET 1u
#define CAUSE_BROWN_OUT 2u
#define CAUSE_WATCHDOG 3u

uint32_t board_now_ms(void); /* [interrupt] milliseconds since the start, wraps */
uint8_t board_start_cause(void);

/* Shuts interrupts out; what it returned goes back to board_unlock. Nests. */
uint8_t board_lock(void);
void board_unlock(uint8_t before);

/* The links, each declared what it is. A person has plugged a cable in; whoever is near may speak on a
 * radio, which is never a cable, whatever number 20 and the jumper say. */
typedef enum { LINK_CABLE, LINK_RADIO } link_kind_t;
extern const link_kind_t board_links[LINKS];

bool board_read(uint8_t link, uint8_t *byte); /* false: nothing waiting */
uint8_t board_write_room(uint8_t link);
void board_write(uint8_t link, uint8_t byte); /* only while there is room */

/* Outputs. Only fence.c, fence_gate.c and fence_steps.c call these. [interrupt] */
void board_power(bool on);                   /* contactor of the motors' supply */
void board_wheel(uint8_t wheel, uint8_t duty); /* 0 must truly be off */
void board_gate(bool open);
void board_servo(uint8_t axis, uint16_t us); /* 0: no pulse */
void board_step(uint8_t axis, bool forward); /* one step; asked of stepping motors only */
void board_lamp(bool on);

/* Sensors, each declared what it is, in a table that ends with a row of SENSES_END. The functions below are
 * asked of those in it alone; sensing/sensors.h says what a launcher does without one. */
#define SENSES_END 0u
#define SENSES_BALL 1u        /* a ball at the mouth; part: 0 the first of SENSORS */
#define SENSES_GATE 2u        /* a ball that rests on the gate */
#define SENSES_WHEEL 3u       /* turns of a wheel; part: 0 wheel 1 */
#define SENSES_TANK 4u        /* pressure of a valve's tank */
#define SENSES_HOME 5u        /* home of a stepping motor's axis; part: 0 pan */
#define SENSES_SUPPLY 6u      /* voltage */
#define SENSES_TEMPERATURE 7u /* of a motor; part: 0 to 7, whatever tells it from others */
typedef struct {
    uint8_t senses;
    uint8_t part;
} sensor_t;
extern const sensor_t board_sensors[]; /* ROM (rom.h) */

/* Inputs. */
bool board_stop_loop_open(void); /* [interrupt] a broken wire counts as pressed */
bool board_arm_switch(void);     /* [interrupt] */
bool board_ball_blocked(uint8_t sensor); /* [interrupt] something stands before it */
bool board_ball_ready(void);     /* [interrupt] a ball rests on the gate; false where nothing senses it */
bool board_tank_ready(void);     /* its pressure is neither too low nor too high; asked of a valve's tank only */
bool board_axis_near(uint8_t axis); /* its home sensor is covered; asked of stepping motors only */
bool board_setup_jumper(void);   /* fitted: a cable is one, whatever is stored */

#define TACH_HZ 250000uL /* resolution of tachometer stamps */
/* Pulses so far, and the stamp of the latest one. */
void board_tach(uint8_t wheel, uint16_t *pulses, uint32_t *stamp);

int32_t board_supply_mv(void);
int32_t board_temperature_c(uint8_t part);

/* Non-volatile memory, at least STORE_BYTES of it. Writing may take milliseconds a byte. What was
 * written must be kept when commit returns; a board that can keeps all of it at once or nothing. A
 * board that waits long for its flash calls fence_alive() meanwhile. */
uint8_t board_store_read(uint16_t at);
void board_store_write(uint16_t at, uint8_t value);
void board_store_commit(void);

/* Feeds the hardware watchdog. Only fence_alive() calls this. */
void board_alive(void);

#endif
