#include "plant.h"

#include <math.h>
#include <string.h>

#define FULL_RPS 80.0      /* a wheel at full duty, nothing in the way */
#define POWERED_TAU_S 0.40 /* first-order run-up of a motor under power */
#define COAST_TAU_S 2.5    /* run-down with the power gone */
#define TACH_PULSES 6.0    /* slots in a wheel's disc */
#define BALL_SAG 0.933
#define SECOND_S 0.300     /* open this long, a second ball follows */
#define ROLL_DOWN_S 0.250  /* the next ball's way to the gate */
#define BALL_M 0.0668      /* a ball's diameter: so long it blocks the sensor */
#define BEHIND_M 0.05      /* the second sensor, behind the first */
#define WHEEL_M 0.2        /* a wheel's diameter */
#define SLOWEST_MPS 1.0    /* pushed through by hand, the wheels standing */
#define STEPS_PER_DEG (8000.0 / 360.0)
#define FILL_PER_S 0.1     /* of a tank's pressure, while its compressor has power */
#define TAKEN_PER_S 1.0    /* while its valve is open */
#define TANK_LOW 0.98      /* between these its switch is closed */
#define TANK_HIGH 1.02
#define BLOWN_MPS 20.0     /* a ball of air, past the sensor */
#define ONE_BALL_S 0.060   /* a second ball on the gate is one ball's roll behind the first */

void plant_init(plant_t *plant)
{
    (void)memset(plant, 0, sizeof *plant);
    plant->hopper = 1000;
    plant->travel_s = 0.180;
    plant->behind_s = ONE_BALL_S;
    plant->chance = 1u;
    plant->tank_share = 1.0;
    plant->sense.supply_mv = 12600.0;
    plant->sense.motor_temp_c = 30.0;
    for (int axis = 0; axis < 2; axis++) {
        plant->axis_deg[axis] = 7.3; /* wherever it was left */
        plant->axis_least_deg[axis] = -40.0;
        plant->axis_most_deg[axis] = 60.0;
        plant->axis_edge_deg[axis] = -35.0;
    }
}

/* Uniform in [-1, 1): a linear congruential step is random enough for mechanical play. */
static double play(plant_t *plant)
{
    plant->chance = plant->chance * 1664525u + 1013904223u;
    return (double)(plant->chance >> 8) / 8388608.0 - 1.0;
}

static void wheel_step(plant_t *plant, const plant_drive_t *drive, int w, double dt_s)
{
    double duty = drive->power ? drive->duty[w] : 0.0;
    double goal = plant->stuck[w] ? 0.0 : duty * FULL_RPS;
    double tau = drive->power ? POWERED_TAU_S : COAST_TAU_S; /* the driver brakes at no duty */

    plant->rps[w] += (goal - plant->rps[w]) * dt_s / tau;
    if (plant->by_hand[w] > 0.0) {
        plant->rps[w] = plant->by_hand[w];
    }
    plant->phase[w] += plant->rps[w] * TACH_PULSES * 2.0 * dt_s;
    if (plant->phase[w] >= 1.0) {
        plant->phase[w] -= 1.0;
        if (!plant->tach_dead[w]) {
            plant->sense.tach[w] = !plant->sense.tach[w];
        }
    }
}

/* A servo runs at its own speed to where its pulse says, from wherever it was left. */
static void servo_step(plant_t *plant, const plant_drive_t *drive, int axis, double dt_s)
{
    double most_us = plant->servo_us_per_s[axis] * dt_s;
    double left_us = (double)drive->servo_us[axis] - plant->servo_at_us[axis];

    if (drive->servo_us[axis] == 0u) {
        return;
    }
    if ((plant->servo_us_per_s[axis] > 0.0) && (fabs(left_us) > most_us)) {
        left_us = (left_us < 0.0) ? -most_us : most_us;
    }
    plant->servo_at_us[axis] += left_us;
}

/* A stepping motor makes the steps it is told while its driver has power, but for those that it slips
 * and those that end at a stop. */
static void axis_step(plant_t *plant, const plant_drive_t *drive, int axis)
{
    int32_t told = drive->steps[axis] - plant->steps_seen[axis];

    plant->steps_seen[axis] = drive->steps[axis];
    if (drive->power && (told != 0)) {
        if (plant->axis_slips[axis] > 0.0) {
            plant->axis_slips[axis] -= 1.0;
        } else {
            plant->axis_deg[axis] += (double)told / STEPS_PER_DEG;
        }
    }
    if (plant->axis_deg[axis] > plant->axis_most_deg[axis]) {
        plant->axis_deg[axis] = plant->axis_most_deg[axis];
    }
    if (plant->axis_deg[axis] < plant->axis_least_deg[axis]) {
        plant->axis_deg[axis] = plant->axis_least_deg[axis];
    }
    bool covered = plant->axis_deg[axis] < plant->axis_edge_deg[axis];
    plant->sense.near[axis] = (covered && !plant->near_dead[axis]) || plant->near_stuck[axis];
}

static void let_go(plant_t *plant, double behind_s)
{
    for (int i = 0; i < PLANT_FALLING; i++) {
        if (plant->falling_s[i] <= 0.0) {
            plant->falling_s[i] =
                (plant->travel_s / 2.0) + behind_s + plant->travel_jitter_s * play(plant);
            plant->hopper--;
            plant->settle_s = ROLL_DOWN_S;
            return;
        }
    }
}

/* Air is let out while the valve is open and made good by the compressor, which ends at the pressure. */
static void tank_step(plant_t *plant, const plant_drive_t *drive, double dt_s)
{
    double filled = (drive->power && !plant->tank_leaks && (plant->tank_share < 1.0)) ? FILL_PER_S : 0.0;

    plant->tank_share += (filled - (drive->gate ? TAKEN_PER_S : 0.0)) * dt_s;
    plant->sense.tach[0] = (plant->tank_share < TANK_LOW) || (plant->tank_share > TANK_HIGH);
}

/* The ball that lies before a valve is on its way with the opening. */
static void valve_step(plant_t *plant, bool open, double dt_s)
{
    if (!open) {
        plant->gate_open_s = 0.0;
        return;
    }
    if (plant->gate_open_s <= 0.0) {
        plant->opened_s = 0.0;
        if (plant->sense.ball_ready && !plant->jammed) {
            let_go(plant, plant->travel_s / 2.0);
        }
    }
    plant->gate_open_s += dt_s;
    plant->opened_s = plant->gate_open_s;
}

static void gate_step(plant_t *plant, bool open, double dt_s)
{
    if (!open) {
        plant->gate_open_s = 0.0;
        plant->released_this_opening = 0u;
        return;
    }
    plant->gate_open_s += dt_s;
    plant->opened_s = plant->gate_open_s;
    double due = (plant->released_this_opening == 0u) ? plant->travel_s / 2.0 : SECOND_S;
    bool again = plant->two_at_once && (plant->released_this_opening == 1u);
    if ((again || (plant->gate_open_s >= due)) && (plant->hopper > 0) && !plant->jammed &&
        (plant->released_this_opening < 2u)) {
        if (again || plant->sense.ball_ready) {
            let_go(plant, again ? plant->behind_s : 0.0);
            plant->released_this_opening++;
        }
    }
}

/* A ball comes at the mean speed of the two rims. */
static double blocked_s(const plant_t *plant)
{
    double speed_mps = 3.14159265 * WHEEL_M * (plant->rps[0] + plant->rps[1]) / 2.0;

    if (plant->valve) {
        speed_mps = BLOWN_MPS;
    }
    return BALL_M / ((speed_mps > SLOWEST_MPS) ? speed_mps : SLOWEST_MPS);
}

/* What the motors draw is in proportion to how far they are behind their duty. */
static void battery_step(plant_t *plant, const plant_drive_t *drive)
{
    double load = 0.0;

    if (plant->battery_mv <= 0.0) {
        return;
    }
    for (int w = 0; w < PLANT_WHEELS; w++) {
        double behind = drive->power ? drive->duty[w] - (plant->rps[w] / FULL_RPS) : 0.0;
        load += (behind > 0.0) ? behind / PLANT_WHEELS : 0.0;
    }
    plant->sense.supply_mv = plant->battery_mv - (load * plant->battery_sag_mv);
}

static void leave(plant_t *plant, const plant_drive_t *drive)
{
    plant_leave_t *row = &plant->leaves[plant->balls % PLANT_LEAVES];

    row->at_s = plant->now_s;
    row->open_s = plant->opened_s;
    plant->blocked_s = blocked_s(plant);
    plant->sensor_s = plant->blocked_s;
    plant->second_in_s = plant->blocked_s * (BEHIND_M / BALL_M);
    plant->stuck_ball = plant->sticks;
    for (int w = 0; w < PLANT_WHEELS; w++) {
        row->rpm[w] = plant->rps[w] * 60.0;
        plant->rps[w] *= BALL_SAG;
    }
    for (int axis = 0; axis < 2; axis++) {
        row->servo_us[axis] = drive->servo_us[axis];
        row->servo_at_us[axis] = plant->servo_at_us[axis];
        row->axis_deg[axis] = plant->axis_deg[axis];
    }
    plant->battery_mv -= (plant->battery_mv > 0.0) ? plant->battery_mv_per_ball : 0.0;
    plant->balls++;
}

static void balls_step(plant_t *plant, const plant_drive_t *drive, double dt_s)
{
    for (int i = 0; i < PLANT_FALLING; i++) {
        if (plant->falling_s[i] > 0.0) {
            plant->falling_s[i] -= dt_s;
            if (plant->falling_s[i] <= 0.0) {
                leave(plant, drive);
            }
        }
    }
    plant->sensor_s = (plant->sensor_s > dt_s) ? plant->sensor_s - dt_s : 0.0;
    plant->settle_s = (plant->settle_s > dt_s) ? plant->settle_s - dt_s : 0.0;
    plant->second_s = (plant->second_s > dt_s) ? plant->second_s - dt_s : 0.0;
    if (plant->second_in_s > 0.0) {
        plant->second_in_s -= dt_s;
        plant->second_s = (plant->second_in_s <= 0.0) ? plant->blocked_s : plant->second_s;
    }
    plant->sense.ball[0] = ((plant->sensor_s > 0.0) || plant->stuck_ball) && !plant->sensor_dead;
    plant->sense.ball[1] = (plant->second_s > 0.0) && !plant->second_dead;
    plant->sense.ball_ready = (plant->hopper > 0) && (plant->settle_s <= 0.0);
}

void plant_step(plant_t *plant, const plant_drive_t *drive, double dt_s)
{
    plant->now_s += dt_s;
    for (int w = 0; w < PLANT_WHEELS; w++) {
        wheel_step(plant, drive, w, dt_s);
    }
    for (int axis = 0; axis < 2; axis++) {
        servo_step(plant, drive, axis, dt_s);
        axis_step(plant, drive, axis);
    }
    battery_step(plant, drive);
    if (plant->valve) {
        tank_step(plant, drive, dt_s);
        valve_step(plant, drive->gate, dt_s);
    } else {
        gate_step(plant, drive->gate, dt_s);
    }
    balls_step(plant, drive, dt_s);
}

bool plant_set(plant_t *plant, const char *name, double value)
{
    bool on = value != 0.0;
    const struct {
        const char *name;
        bool *flag;
    } flags[] = {
        {"loop_open", &plant->sense.loop_open}, {"arm_switch", &plant->sense.arm_switch},
        {"jammed", &plant->jammed},             {"sensor_dead", &plant->sensor_dead},
        {"second_dead", &plant->second_dead},   {"sticks", &plant->sticks},
        {"two_at_once", &plant->two_at_once},   {"tach_dead_0", &plant->tach_dead[0]},
        {"tach_dead_1", &plant->tach_dead[1]},  {"stuck_0", &plant->stuck[0]},
        {"stuck_1", &plant->stuck[1]},          {"near_dead_0", &plant->near_dead[0]},
        {"near_dead_1", &plant->near_dead[1]},  {"near_stuck_0", &plant->near_stuck[0]},
        {"near_stuck_1", &plant->near_stuck[1]},
        {"valve", &plant->valve},               {"tank_leaks", &plant->tank_leaks},
#if PLANT_WHEELS > 2
        {"tach_dead_2", &plant->tach_dead[2]},  {"stuck_2", &plant->stuck[2]},
#endif
    };
    const struct {
        const char *name;
        double *number;
    } numbers[] = {
        {"supply_mv", &plant->sense.supply_mv},
        {"battery_mv", &plant->battery_mv},
        {"battery_mv_per_ball", &plant->battery_mv_per_ball},
        {"battery_sag_mv", &plant->battery_sag_mv},
        {"brown_out_mv", &plant->brown_out_mv},
        {"motor_temp_c", &plant->sense.motor_temp_c},
        {"travel_s", &plant->travel_s},
        {"behind_s", &plant->behind_s},
        {"by_hand_0", &plant->by_hand[0]},
        {"by_hand_1", &plant->by_hand[1]},
#if PLANT_WHEELS > 2
        {"by_hand_2", &plant->by_hand[2]},
#endif
        {"axis_deg_0", &plant->axis_deg[0]},
        {"axis_deg_1", &plant->axis_deg[1]},
        {"servo_at_us_0", &plant->servo_at_us[0]},
        {"servo_at_us_1", &plant->servo_at_us[1]},
        {"servo_us_per_s_0", &plant->servo_us_per_s[0]},
        {"servo_us_per_s_1", &plant->servo_us_per_s[1]},
        {"axis_edge_deg_0", &plant->axis_edge_deg[0]},
        {"axis_edge_deg_1", &plant->axis_edge_deg[1]},
        {"axis_slips_0", &plant->axis_slips[0]},
        {"axis_slips_1", &plant->axis_slips[1]},
        {"second_s", &plant->second_s},
        {"tank_share", &plant->tank_share},
        {"sensor_s", &plant->sensor_s}, /* something passes it for so long */
        {"travel_jitter_s", &plant->travel_jitter_s},
    };

    for (unsigned i = 0; i < sizeof flags / sizeof flags[0]; i++) {
        if (strcmp(name, flags[i].name) == 0) {
            *flags[i].flag = on;
            return true;
        }
    }
    for (unsigned i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        if (strcmp(name, numbers[i].name) == 0) {
            *numbers[i].number = value;
            return true;
        }
    }
    if (strcmp(name, "hopper") == 0) {
        plant->hopper = (int)value;
        return true;
    }
    return false;
}
