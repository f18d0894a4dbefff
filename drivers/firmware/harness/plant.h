/* The mechanics that a board drives, as far as the firmware can feel them: two wheels with
 * inertia and tachometers, a gate that lets one ball down, a ball sensor at the mouth, switches,
 * battery and motor temperature. Host-side only, so plain doubles will do.
 *
 * The constants are invented for an invented launcher. The loss of wheel speed when a ball passes
 * follows conservation of momentum with slip: w' = w / (1 + m r^2 / (2 I)) with m = 57.7 g,
 * r = 0.1 m, I = 0.004 kg m^2 for one wheel, which gives 0.933.
 */
#ifndef FEEDSCRIPT_PLANT_H
#define FEEDSCRIPT_PLANT_H

#include <stdbool.h>
#include <stdint.h>

#ifndef PLANT_WHEELS
#define PLANT_WHEELS 2
#endif
#define PLANT_LEAVES 256
#define PLANT_SENSORS 2
#define PLANT_FALLING 4

/* What the board's outputs do to the mechanics. */
typedef struct {
    double duty[PLANT_WHEELS]; /* 0 to 1, as the motor's driver sees it */
    bool power;                /* contactor of the motors' supply */
    bool gate;
    uint16_t servo_us[2]; /* pan, tilt; 0 when no pulse is sent */
    int32_t steps[2];     /* told to stepping motors so far, those back taken off */
} plant_drive_t;

/* One ball passing the sensor. */
typedef struct {
    double at_s;
    double open_s; /* so long the gate has been open for it */
    double rpm[PLANT_WHEELS];
    uint16_t servo_us[2];
    double servo_at_us[2]; /* where the servos stood, by the pulse that leads there */
    double axis_deg[2];
} plant_leave_t;

/* What the board's inputs see. */
typedef struct {
    bool tach[PLANT_WHEELS];
    bool ball[PLANT_SENSORS]; /* a ball blocks a sensor at the mouth, the first one or one behind it */
    bool ball_ready; /* a ball rests on the gate */
    bool loop_open;  /* emergency stop loop interrupted */
    bool arm_switch;
    bool near[2]; /* an axis's home sensor is covered */
    double supply_mv;
    double motor_temp_c;
} plant_sense_t;

typedef struct {
    double now_s;
    double rps[PLANT_WHEELS];
    double phase[PLANT_WHEELS];
    double gate_open_s;
    double opened_s; /* how long the gate was open, the last time */
    double settle_s; /* until the next ball has rolled down to the gate */
    double falling_s[PLANT_FALLING];
    double sensor_s;
    double blocked_s;   /* the last ball blocked a sensor for so long */
    double second_in_s; /* until the same ball comes to the second sensor */
    double second_s;    /* it blocks it for so long */
    bool stuck_ball;
    unsigned released_this_opening;
    unsigned balls;
    plant_leave_t leaves[PLANT_LEAVES];
    /* what a test may set */
    int hopper;
    bool jammed;
    bool tach_dead[PLANT_WHEELS];
    bool stuck[PLANT_WHEELS];
    double by_hand[PLANT_WHEELS]; /* turns a second; 0: nobody turns it */
    bool sensor_dead;
    bool second_dead;
    bool valve;        /* the gate is the valve of a tank of air, whose switch is where the first tachometer was */
    double tank_share; /* of the tank's pressure */
    bool tank_leaks;   /* it is not filled again */
    bool sticks; /* a ball stays in the mouth, before the sensor */
    bool two_at_once;
    double behind_s;   /* then the second comes so much later than the first */
    double travel_s; /* from the gate's opening to the sensor; half of it the ball stays on it */
    double travel_jitter_s;
    double servo_at_us[2];    /* where a servo stands, by the pulse that leads there */
    double servo_us_per_s[2]; /* how fast it runs; 0: at once */
    /* axes on stepping motors: 8,000 steps a turn, stops at both ends */
    double axis_deg[2];
    double axis_least_deg[2], axis_most_deg[2];
    double axis_edge_deg[2]; /* below it the sensor is covered */
    double axis_slips[2];    /* so many steps it will not make */
    bool near_dead[2];       /* its sensor shows nothing */
    bool near_stuck[2];      /* or is always covered */
    int32_t steps_seen[2];
    /* the battery; without one (0) the supply is what a test sets */
    double battery_mv;          /* with nothing drawn from it */
    double battery_mv_per_ball; /* that each ball takes out of it */
    double battery_sag_mv;      /* while both motors draw their most */
    double brown_out_mv;        /* below it the controller restarts; 0: never */
    uint32_t chance;
    plant_sense_t sense;
} plant_t;

void plant_init(plant_t *plant);

/* Moves the mechanics on by dt_s under what the outputs do. */
void plant_step(plant_t *plant, const plant_drive_t *drive, double dt_s);

/* Sets one of the things a test may set, by name; false when there is no such name. */
bool plant_set(plant_t *plant, const char *name, double value);

#endif
