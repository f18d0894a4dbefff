#include "motion/drives.h"

#include "guard/fence.h"
#include "store/store.h"

#if VALVE == 0

#define SETTLED_STEPS 5u                      /* within tolerance this often, without a break */
#define STANDSTILL_MS 250u                    /* no pulse for so long: the wheel stands */
#define DEAD_STEPS 25u                        /* driven hard for 0.5 s, and not one pulse */
#define DEAD_DUTY 12000u
#define FAST_STEPS 3u
#define FALLEN_STEPS 50u /* for a second */
#define FALLEN_SHARE 8 /* short by more than an eighth: a ball takes less, and it is soon made good */
#define REACH_STEPS (REACH_MS / DRIVES_STEP_MS)
#define FULL_DUTY 65000
#define RPM_MOST 60000uL

typedef struct {
    uint16_t target;
    uint16_t ceiling;
    uint16_t rpm;
    uint16_t pulses; /* as last read */
    uint32_t stamp;
    uint32_t last_pulse_ms;
    int32_t integral; /* duty the error has gathered */
    uint16_t duty;
    uint8_t settled;
    uint8_t dead;
    uint8_t fast;
    uint8_t fallen;
    bool held; /* it has held this target */
    uint16_t seeking; /* steps since the target was last held */
} wheel_t;

static wheel_t wheels[WHEELS];

void drives_begin(void)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        wheel_t *wheel = &wheels[w];
        wheel->rpm = 0u;
        board_tach(w, &wheel->pulses, &wheel->stamp);
        wheel->last_pulse_ms = board_now_ms();
        wheel->ceiling = 0u;
    }
    drives_rest();
}

void drives_rest(void)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        wheel_t *wheel = &wheels[w];
        wheel->target = 0u;
        wheel->integral = 0;
        wheel->duty = 0u;
        wheel->settled = 0u;
        wheel->dead = 0u;
        wheel->fast = 0u;
        wheel->fallen = 0u;
        wheel->held = false;
        wheel->seeking = 0u;
    }
}

void drives_target(uint8_t wheel, uint16_t rpm)
{
    if (wheels[wheel].target != rpm) {
        wheels[wheel].target = rpm;
        wheels[wheel].settled = 0u;
        wheels[wheel].seeking = 0u;
        wheels[wheel].held = false;
        wheels[wheel].fallen = 0u;
        wheels[wheel].integral = 0;
    }
}

void drives_ceiling(uint8_t wheel, uint16_t rpm)
{
    wheels[wheel].ceiling = rpm;
}

uint16_t drives_measured(uint8_t wheel)
{
    return wheels[wheel].rpm;
}

/* `one` is the speed at one pulse a tick. What is past all measure reads as the most, never as less. */
static uint32_t rpm_of(uint16_t seen, uint32_t ticks, uint32_t one)
{
    if (seen > (UINT32_MAX / one)) {
        return RPM_MOST;
    }
    uint32_t rpm = (one * seen) / ticks;
    return (rpm > RPM_MOST) ? RPM_MOST : rpm;
}

/* Mean speed over the pulses since the last look, smoothed by a quarter of the past. */
static void measure(wheel_t *wheel, uint8_t w, uint32_t now)
{
    uint16_t pulses;
    uint32_t stamp;
    uint32_t per_turn = (uint32_t)store_number(NUMBER_PULSES);

    board_tach(w, &pulses, &stamp);
    uint16_t seen = (uint16_t)(pulses - wheel->pulses);
    uint32_t ticks = stamp - wheel->stamp;
    bool standing = (now - wheel->last_pulse_ms) > STANDSTILL_MS;

    if (seen == 0u) {
        if (standing) {
            wheel->rpm = 0u;
        }
        return;
    }
    wheel->pulses = pulses;
    wheel->stamp = stamp;
    wheel->last_pulse_ms = now;
    if (standing || (ticks == 0u) || (per_turn == 0u)) {
        return; /* the first pulse after a rest has no interval yet */
    }
    uint32_t rpm = rpm_of(seen, ticks, (60uL * TACH_HZ) / per_turn);
    wheel->rpm = (uint16_t)((((uint32_t)wheel->rpm) + (3u * rpm)) / 4u);
}

static int32_t within(int32_t value, int32_t least, int32_t most)
{
    if (value < least) {
        return least;
    }
    return (value > most) ? most : value;
}

/* Feed-forward from the wheel's speed at full duty, proportional and integral action on the rest.
 * The duty never exceeds the target's feed-forward by more than a quarter of full duty, so a
 * dead tachometer cannot run a wheel away before it is found out. */
static uint16_t control(wheel_t *wheel)
{
    int32_t full = store_number(NUMBER_FULL_RPM);

    if ((wheel->target == 0u) || (full <= 0)) {
        wheel->integral = 0;
        return 0u;
    }
    int32_t gain = FULL_DUTY / full; /* duty of one rpm */
    int32_t ahead = ((int32_t)wheel->target * gain);
    int32_t error = (int32_t)wheel->target - (int32_t)wheel->rpm;
    int32_t push = within(error * gain * 3, -FULL_DUTY, FULL_DUTY);
    int32_t most = within(ahead + (FULL_DUTY / 4), 0, FULL_DUTY);
    int32_t duty = ahead + push + wheel->integral;

    if ((duty > 0) && (duty < most)) { /* no winding up against a stop */
        int32_t gathered = wheel->integral + ((error * gain) / 8);
        wheel->integral = within(gathered, -(FULL_DUTY / 8), FULL_DUTY / 8);
    }
    return (uint16_t)within(duty, 0, most);
}

/* Steps in a row, up to a most. */
static void count(uint8_t *steps, bool goes_on, uint8_t most)
{
    if (!goes_on) {
        *steps = 0u;
    } else if (*steps < most) {
        (*steps)++;
    } else {
        /* long enough */
    }
}

static void judge(wheel_t *wheel)
{
    int32_t tolerance = store_number(NUMBER_SETTLE);
    int32_t error = (int32_t)wheel->target - (int32_t)wheel->rpm;
    bool near = (error <= tolerance) && (error >= -tolerance);

    if (!near) {
        wheel->settled = 0u;
        if (wheel->seeking < REACH_STEPS) {
            wheel->seeking++;
        }
    } else if (wheel->settled < SETTLED_STEPS) {
        wheel->settled++;
    } else {
        wheel->seeking = 0u;
        wheel->held = true;
    }
    bool fallen = wheel->held && (error > tolerance) &&
                  (error > ((int32_t)wheel->target / FALLEN_SHARE));
    count(&wheel->dead, (wheel->duty > DEAD_DUTY) && (wheel->rpm == 0u), DEAD_STEPS);
    count(&wheel->fast, (int32_t)wheel->rpm > ((int32_t)wheel->ceiling + tolerance), FAST_STEPS);
    count(&wheel->fallen, fallen, FALLEN_STEPS);
}

void drives_step(uint32_t now)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        wheel_t *wheel = &wheels[w];
        measure(wheel, w, now);
        if (fence_mode() == FENCE_ON) {
            wheel->duty = control(wheel);
            fence_drive(w, wheel->duty);
            judge(wheel);
        }
    }
}

bool drives_settled(void)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        if (wheels[w].settled < SETTLED_STEPS) {
            return false;
        }
    }
    return true;
}

static fault_t fault_of(const wheel_t *wheel)
{
    if (wheel->fast >= FAST_STEPS) {
        return FAULT_CEILING;
    }
    if (wheel->dead >= DEAD_STEPS) {
        return FAULT_SILENT;
    }
    if (wheel->fallen >= FALLEN_STEPS) {
        return FAULT_LOST_SPEED;
    }
    return (wheel->seeking >= REACH_STEPS) ? FAULT_DRIVE : FAULT_NONE;
}

fault_t drives_fault(uint8_t *wheel)
{
    fault_t fault = FAULT_NONE;

    for (uint8_t w = 0u; (w < WHEELS) && (fault == FAULT_NONE); w++) {
        fault = fault_of(&wheels[w]);
        *wheel = w;
    }
    return fault;
}

#endif
