#include "motion/stepper.h"

#include "guard/fence.h"
#include "store/store.h"

#if STEPPERS != 0

#define TURN 36000          /* hundredths of a degree */
#define STEPS_PER_S (1000 / (int32_t)AXES_STEP_MS)
#define PART 256            /* of a step: speeds and places are counted in these */
#define FASTEST ((int32_t)STEPS_LEAD_MS * PART) /* more the fence does not make */
#define SETTLE_STEPS 5u     /* a tenth of a second until it has stopped swinging */
#define DOUBT_STEPS 2u      /* seen so often in a row, it is no bounce of a contact */

_Static_assert(STEPS_LEAD_MS == AXES_STEP_MS, "the fence spreads one step of this over the time to the next");

/* Homing always ends by coming slowly from the near side, so that play in the gears lies the same way. */
typedef enum {
    HOME_LOST,  /* nothing is known */
    HOME_LEAVE, /* near: out to the far side */
    HOME_COME,  /* far: back to the near side */
    HOME_EDGE,  /* near: step by step to the edge */
    HOME_FOUND
} home_t;

typedef struct {
    home_t home;
    fault_t fault;
    int32_t goal;    /* in parts of a step, as what follows */
    int32_t place;   /* where the fence is led to */
    int32_t speed;   /* parts a step of time; positive away from the near side */
    int32_t gone;    /* since this leg of homing began */
    uint8_t wait;
    uint8_t doubt;
} stepper_t;

static stepper_t axes[AXES];

static int32_t number(uint8_t axis, uint8_t which)
{
    uint8_t first = (axis == PAN) ? NUMBER_PAN_STEPS : NUMBER_TILT_STEPS;

    return store_number((uint8_t)(first + which));
}

/* Whole steps, to the nearest. Both figures are bounded by the store: no overflow. */
static int32_t steps_of(uint8_t axis, int32_t cdeg)
{
    int32_t steps = cdeg * number(axis, 0u);

    return (steps + ((steps < 0) ? -(TURN / 2) : (TURN / 2))) / TURN;
}

/* Parts that an amount a second makes in one step of time, rounded down, but one at least; 36000 / 256 is
 * 1125 / 8. In pieces, so that nothing overflows. */
static int32_t per_step(uint8_t axis, int32_t cdeg_per_s)
{
    int32_t steps = number(axis, 0u);
    int32_t whole = (cdeg_per_s / STEPS_PER_S) * steps;
    int32_t rest = (cdeg_per_s % STEPS_PER_S) * steps;
    int32_t parts = ((whole / 1125) * 8) + ((((whole % 1125) * STEPS_PER_S) + rest) * 8) / (1125 * STEPS_PER_S);

    return (parts < 1) ? 1 : parts;
}

static int32_t least(int32_t one, int32_t other)
{
    return (one < other) ? one : other;
}

static int32_t top_speed(uint8_t axis)
{
    return least(per_step(axis, store_number((axis == PAN) ? NUMBER_PAN_RATE : NUMBER_TILT_RATE)), FASTEST);
}

static int32_t start_speed(uint8_t axis)
{
    return least(per_step(axis, number(axis, STEPPER_START)), top_speed(axis));
}

static int32_t gain(uint8_t axis)
{
    int32_t parts = per_step(axis, number(axis, STEPPER_GAIN)) / STEPS_PER_S;

    return (parts < 1) ? 1 : least(parts, FASTEST);
}

/* ---- moving ---- */

/* The next speed towards something so far away, where positive means towards it. At the starting speed
 * it may begin, end and turn round at once; above, it changes by its gain alone. */
static int32_t next_speed(uint8_t axis, int32_t speed, int32_t left)
{
    int32_t start = start_speed(axis);
    int32_t more = gain(axis);

    if (speed < -start) {
        return speed + more; /* it runs the other way still */
    }
    if (speed < start) {
        return least(start, left);
    }
    int32_t braking = ((speed * speed) - (start * start)) / (2 * more);
    if ((braking + (2 * speed)) >= left) {
        return ((speed - more) < start) ? start : (speed - more);
    }
    return least(speed + more, top_speed(axis));
}

static int32_t rounded(int32_t parts)
{
    return (parts + ((parts < 0) ? -(PART / 2) : (PART / 2))) / PART;
}

static void lead(uint8_t axis)
{
    fence_lead(axis, (int16_t)rounded(axes[axis].place));
}

static void move(uint8_t axis)
{
    stepper_t *one = &axes[axis];
    int32_t left = one->goal - one->place;
    bool back = left < 0;
    int32_t speed = next_speed(axis, back ? -one->speed : one->speed, back ? -left : left);

    if ((left == 0) && (one->speed == 0)) {
        return;
    }
    if ((speed > (back ? -left : left)) && (speed <= (start_speed(axis) + gain(axis)))) {
        speed = back ? -left : left; /* the last stride; a faster one goes past, and comes back */
    }
    one->place += back ? -speed : speed;
    one->speed = (one->place == one->goal) ? 0 : (back ? -speed : speed);
    one->wait = SETTLE_STEPS;
    lead(axis);
}

/* ---- finding its place ---- */

static void fail(stepper_t *one, fault_t fault)
{
    one->fault = fault;
    one->home = HOME_LOST;
}

static void leg(stepper_t *one, home_t next)
{
    one->home = next;
    one->gone = 0;
}

static int32_t travel(uint8_t axis)
{
    return steps_of(axis, number(axis, STEPPER_TRAVEL)) * PART;
}

/* The edge was passed by a stride, and the axis trails what it is led to by another; beside that there are the
 * play and what the sensor needs to change. */
static int32_t edge_most(uint8_t axis)
{
    return (2 * start_speed(axis)) + ((2 * steps_of(axis, number(axis, STEPPER_SLACK))) + 2) * PART;
}

static void creep(uint8_t axis, int32_t by)
{
    stepper_t *one = &axes[axis];
    int32_t most = (one->home == HOME_EDGE) ? edge_most(axis) : travel(axis);

    one->place += by;
    one->gone += (by < 0) ? -by : by;
    lead(axis);
    if (one->gone > most) {
        fail(one, FAULT_HOME);
    }
}

/* Home may lie outside of what the axis may be asked for: from there the way to a feed would be longer than the
 * whole range, which is what a host reckons with. */
static int32_t nearest_in_range(uint8_t axis)
{
    uint8_t first = (axis == PAN) ? NUMBER_PAN_LEAST : NUMBER_TILT_LEAST;
    int32_t nearest = store_number(first);
    int32_t furthest = store_number((uint8_t)(first + 1u));
    int32_t edge = number(axis, STEPPER_EDGE);

    nearest = (edge > nearest) ? edge : nearest;
    return steps_of(axis, least(nearest, furthest)) * PART;
}

static void find_edge(uint8_t axis)
{
    stepper_t *one = &axes[axis];

    one->home = HOME_FOUND;
    one->place = steps_of(axis, number(axis, STEPPER_EDGE)) * PART;
    one->goal = nearest_in_range(axis);
    one->speed = 0;
    one->wait = SETTLE_STEPS;
    one->doubt = 0u;
    fence_stand_at(axis, (int16_t)(one->place / PART));
}

static void seek(uint8_t axis, bool near)
{
    stepper_t *one = &axes[axis];

    switch (one->home) {
    case HOME_LOST:
        if (one->fault == FAULT_NONE) {
            one->place = 0;
            fence_stand_at(axis, 0);
            leg(one, near ? HOME_LEAVE : HOME_COME);
        }
        break;
    case HOME_LEAVE:
        if (near) {
            creep(axis, start_speed(axis));
        } else {
            leg(one, HOME_COME);
        }
        break;
    case HOME_COME:
        if (near) {
            leg(one, HOME_EDGE);
        } else {
            creep(axis, -start_speed(axis));
        }
        break;
    case HOME_EDGE:
        if (near) {
            creep(axis, PART);
        } else {
            find_edge(axis);
        }
        break;
    case HOME_FOUND:
    default:
        break;
    }
}

/* Near where it must be free, or free where it must be near: what was counted is not where it is. */
static void check(uint8_t axis, bool near)
{
    stepper_t *one = &axes[axis];
    int32_t beyond = (int32_t)fence_stepped(axis) - steps_of(axis, number(axis, STEPPER_EDGE));
    int32_t slack = steps_of(axis, number(axis, STEPPER_SLACK)) + 1;
    bool wrong = near ? (beyond > slack) : (beyond < -slack);

    one->doubt = wrong ? (uint8_t)(one->doubt + 1u) : 0u;
    if (one->doubt >= DOUBT_STEPS) {
        fail(one, FAULT_STEPS);
    }
}

/* ---- what axes.c asks ---- */

void stepper_rest(uint8_t axis)
{
    stepper_t *one = &axes[axis];

    one->home = HOME_LOST;
    one->fault = FAULT_NONE;
    one->speed = 0;
    one->wait = SETTLE_STEPS;
    one->doubt = 0u;
}

void stepper_target(uint8_t axis, int16_t cdeg)
{
    axes[axis].goal = steps_of(axis, cdeg) * PART;
}

void stepper_step(uint8_t axis)
{
    stepper_t *one = &axes[axis];
    bool near = board_axis_near(axis);

    if (one->home != HOME_FOUND) {
        seek(axis, near);
        return;
    }
    if (one->wait > 0u) {
        one->wait--;
    }
    move(axis);
    check(axis, near);
}

bool stepper_homed(uint8_t axis)
{
    return stepper_arrived(axis);
}

/* Away from the near side and back to it, then the edge, then into the range; and a look to begin and to end each. */
int32_t stepper_homing_ms(uint8_t axis)
{
    if ((number(axis, 0u) <= 0) || (number(axis, STEPPER_TRAVEL) <= 0) || (number(axis, STEPPER_START) <= 0)) {
        return UNSET;
    }
    int32_t strides = (travel(axis) / start_speed(axis)) + 2;
    int32_t steps = (edge_most(axis) / PART) + 2;
    int32_t away = nearest_in_range(axis) - (steps_of(axis, number(axis, STEPPER_EDGE)) * PART);
    int32_t back = (((away < 0) ? -away : away) / start_speed(axis)) + 2 + (int32_t)SETTLE_STEPS;

    return ((2 * strides) + steps + back + 2) * (int32_t)AXES_STEP_MS;
}

bool stepper_arrived(uint8_t axis)
{
    const stepper_t *one = &axes[axis];

    return (one->home == HOME_FOUND) && (one->place == one->goal) && (one->wait == 0u);
}

int16_t stepper_position(uint8_t axis)
{
    int32_t turn = number(axis, 0u);

    if (turn <= 0) {
        return 0; /* it has not been set up */
    }
    return (int16_t)(((int32_t)fence_stepped(axis) * TURN) / turn);
}

fault_t stepper_fault(uint8_t axis)
{
    return axes[axis].fault;
}

#endif
