/* A board that is not there yet: copy this folder, and fill in what the guide beside it asks of each
 * function (boards/README.md). As it stands every input reads as the safe thing and no output goes
 * on: it compiles, it never arms, and `feedscript board-check` says what is missing. */
#include "board.h"

#include "guard/fence.h"
#include "launcher.h"
#include "store/store.h"

static volatile uint32_t milliseconds;
static uint8_t stored[STORE_BYTES]; /* as long as the power lasts: yours must outlast it */

/* ---- interrupts ---- */

void tick_interrupt(void); /* every millisecond, by a timer */
void tick_interrupt(void)
{
    milliseconds++;
    fence_tick();
}

void receive_interrupt(uint8_t byte); /* for every byte of a link */
void receive_interrupt(uint8_t byte)
{
    if (!fence_byte(byte)) {
        /* into a ring of 128 bytes or more, which board_read() empties */
    }
}

void ball_interrupt(void); /* at every edge of the ball sensor */
void ball_interrupt(void)
{
    if (board_ball_blocked(0u)) {
        fence_ball(0u);
    }
}

/* ---- time, locks, start ---- */

uint32_t board_now_ms(void)
{
    return milliseconds; /* one read must see all four bytes of one moment */
}

uint8_t board_start_cause(void)
{
    return CAUSE_POWER;
}

uint8_t board_lock(void)
{
    return 0u; /* interrupts off; what it returns says whether they were on */
}

void board_unlock(uint8_t before)
{
    (void)before;
}

void board_alive(void)
{
    /* feeds the hardware watchdog */
}

/* ---- the links ---- */

/* One row each, cable or radio; a board with more is built with -DLINKS=2u. */
const link_kind_t board_links[LINKS] = {LINK_CABLE};

bool board_read(uint8_t link, uint8_t *byte)
{
    (void)link;
    (void)byte;
    return false;
}

uint8_t board_write_room(uint8_t link)
{
    (void)link;
    return 0u;
}

void board_write(uint8_t link, uint8_t byte)
{
    (void)link;
    (void)byte;
}

/* ---- outputs ---- */

void board_power(bool on)
{
    (void)on;
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    (void)wheel;
    (void)duty;
}

void board_gate(bool open)
{
    (void)open;
}

void board_servo(uint8_t axis, uint16_t us)
{
    (void)axis;
    (void)us;
}

void board_step(uint8_t axis, bool forward)
{
    (void)axis;
    (void)forward;
}

void board_lamp(bool on)
{
    (void)on;
}

/* ---- inputs ---- */

/* A row each, as soon as its function below is there: {SENSES_BALL, 0u}, {SENSES_WHEEL, 0u}. Without one
 * for the mouth and for each wheel it never arms. */
const sensor_t board_sensors[] = {{SENSES_END, 0u}};

bool board_stop_loop_open(void)
{
    return true;
}

bool board_arm_switch(void)
{
    return false;
}

bool board_ball_blocked(uint8_t sensor)
{
    (void)sensor;
    return true;
}

bool board_ball_ready(void)
{
    return false;
}

bool board_tank_ready(void)
{
    return false;
}

bool board_axis_near(uint8_t axis)
{
    (void)axis;
    return false;
}

bool board_setup_jumper(void)
{
    return false;
}

void board_tach(uint8_t wheel, uint16_t *pulses, uint32_t *stamp)
{
    (void)wheel;
    *pulses = 0u;
    *stamp = 0u;
}

int32_t board_supply_mv(void)
{
    return 0;
}

int32_t board_temperature_c(uint8_t part)
{
    (void)part;
    return 0;
}

/* ---- what is kept ---- */

uint8_t board_store_read(uint16_t at)
{
    return stored[at];
}

void board_store_write(uint16_t at, uint8_t value)
{
    stored[at] = value;
}

void board_store_commit(void)
{
    /* returns when what was written is kept */
}

/* ---- start ---- */

int main(void)
{
    /* pins low before they are outputs, clocks, timers, the line, the watchdog */
    launcher_begin();
    /* interrupts on */
    for (;;) {
        launcher_poll();
    }
}
