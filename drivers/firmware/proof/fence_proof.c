/* The fence, proven by induction: from every state that satisfies the invariant, with every input, every call
 * leaves a state that satisfies it again, keeps the claims, and keeps the contract of proof.h. A
 * call touches what interrupts share within one locked section only, so what is proven of single
 * calls holds for every interleaving. The real sources are included: nothing is translated by hand.
 */
#define STEPPERS 3u /* both axes; of a launcher on servos that part is left out */
#include "guard/fence.c"
#include "guard/fence_gate.c"
#include "guard/fence_steps.c"
#include "proof.h"

/* ---- the board: outputs as last written, inputs as they stand during one call ---- */
static bool out_gate, out_power, out_lamp;
static uint8_t out_wheel[WHEELS];
static uint16_t out_servo[AXES];
static bool in_loop, in_arm, in_blocked, in_ready;

/* ---- what the prover watches beside the code ---- */
static uint8_t locked;   /* interrupts are shut out */
static uint8_t sections; /* times this call has shut them out */
static uint32_t clock; /* moves on with the tick only */
static bool capped; /* what the fence takes for the silence is less than it was */
static uint8_t off_run, on_run; /* the switch has read so for so many ticks, up to 21 */
static bool was_off;            /* off for 20 ticks since the start or since power was last on */
static bool was_turned;         /* and then on for 20, after it was asked for */
static bool ticked;             /* since the hardware watchdog was fed */
static bool offered;            /* a release that was taken and has not opened the gate yet */
static uint32_t offer_at;
static uint16_t open_ticks, open_most;
static bool beam_was_free; /* at some tick since the last ball */
static bool stepped[AXES];  /* in this call */

uint32_t board_now_ms(void) { return clock; }
bool board_stop_loop_open(void) { return in_loop; }
bool board_arm_switch(void) { return in_arm; }
bool board_ball_blocked(uint8_t sensor) { (void)sensor; return in_blocked; }
bool board_ball_ready(void) { return in_ready; }

uint8_t board_lock(void)
{
    uint8_t before = locked;

    sections += (locked == 0u) ? 1u : 0u;
    locked = 1u;
    return before;
}

void board_unlock(uint8_t before) { locked = before; }

void board_alive(void)
{
    claim(ticked); /* the watchdog learns that the main loop lives only after a tick */
    ticked = false;
}

void board_power(bool on) { claim(locked != 0u); out_power = on; }
void board_lamp(bool on) { claim(locked != 0u); out_lamp = on; }

void board_servo(uint8_t axis, uint16_t us)
{
    claim(locked != 0u);
    claim(us == 0u || f.mode == FENCE_ON);
    out_servo[axis] = us;
}

void board_step(uint8_t axis, bool forward)
{
    claim(locked != 0u);
    claim(f.mode == FENCE_ON);
    claim(!stepped[axis]); /* one a millisecond */
    claim(forward ? (axes[axis].at <= axes[axis].to) : (axes[axis].at >= axes[axis].to));
    stepped[axis] = true;
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    claim(locked != 0u);
    claim(f.mode != FENCE_DOWN || duty <= f.down_left); /* it runs down */
    claim(duty <= (f.duty[wheel] >> 8) + 1u);           /* never more than was asked for */
    out_wheel[wheel] = duty;
}

void board_gate(bool open)
{
    claim(locked != 0u);
    if (open) {
        claim(f.mode == FENCE_ON && f.trips == 0u && !f.latched);
        claim(!in_blocked); /* what passes will be seen */
        claim(offered);     /* one opening for one release */
        claim((uint32_t)(clock - offer_at) <= GRACE_MS);
        offered = false;
        open_ticks = 0u;
    }
    out_gate = open;
}

/* ---- the invariant ---- */

static bool all_off(void)
{
    return !out_gate & !out_power & !out_lamp & (out_wheel[0] == 0u) & (out_wheel[1] == 0u) &
           (out_servo[0] == 0u) & (out_servo[1] == 0u);
}

/* What the fence takes for the silence is the silence, unless that is longer than SILENT_MOST_MS. */
static bool time_holds(void)
{
    uint32_t age = clock - f.heard;

    return (age <= SILENT_MOST_MS) & IF(capped, age == SILENT_MOST_MS) &
           IF(f.mode == FENCE_ON, !capped & (age <= SILENCE_MS));
}

static bool is_silent(void)
{
    return capped | (clock - f.heard > SILENCE_MS);
}

static bool switch_holds(void)
{
    return (f.switch_ms < SWITCH_MS) & IF(f.switch_on, f.switch_ms == off_run) &
           IF(!f.switch_on, (f.switch_ms == on_run) & was_off) &
           IF(f.turned, f.switch_on & was_turned) & IF(f.ticked, ticked);
}

static bool gate_holds(void)
{
    bool waiting = gate.release == RELEASE_WAITING;

    return (gate.release <= RELEASE_MISSED) & (gate.ball_count <= BALLS_KEPT) &
           (gate.eyes[0].passed == gate.counted) & (gate.missed == 0u) &
           (out_gate == (gate.open_left > 0u)) & (open_most < JAM_MS) &
           IF(out_gate, (f.mode == FENCE_ON) & gate.eyes[0].beam_free & (open_ticks < open_most) &
                            (gate.open_left <= open_most - open_ticks)) &
           IF(beam_was_free, gate.eyes[0].beam_free) &
           IF(waiting | gate.ready, (f.mode == FENCE_ON) & (f.trips == 0u)) &
           IF(waiting, !out_gate & offered & (gate.release_at == offer_at) &
                           (gate.open_ms > 0u) & (gate.open_ms == open_most));
}

static bool modes_hold(void)
{
    return (locked == 0u) & (f.mode <= FENCE_DOWN) & IF(f.mode == FENCE_OFF, all_off()) &
           IF(f.mode == FENCE_DOWN, (f.down_left >= 1u) & (f.down_left <= RUN_DOWN_MS)) &
           IF(f.latched, f.mode == FENCE_OFF) & IF((f.trips & TRIPS_HARD) != 0u, f.latched) &
           IF(f.mode == FENCE_ON, (f.trips & TRIPS_STOP) == 0u);
}

/* Without power no step is wanted: none can be made by the power's coming on. */
static bool steps_hold(void)
{
    return IF(f.mode == FENCE_OFF, (axes[0].at == axes[0].to) & (axes[1].at == axes[1].to)) &
           (axes[0].pace <= STEPS_LEAD_MS) & (axes[1].pace <= STEPS_LEAD_MS) &
           (axes[0].part <= STEPS_LEAD_MS) & (axes[1].part <= STEPS_LEAD_MS);
}

static void claim_inv(void)
{
    claim(steps_hold());
    claim(modes_hold());
    claim(time_holds());
    claim(switch_holds());
    claim(gate_holds());
}

/* ---- one call ---- */
static view_t was;
static uint16_t left_before;
static uint16_t will[WHEELS];

static view_t look(void)
{
    const view_t view = {(uint8_t)f.mode, f.trips, (uint8_t)gate.release, f.latched};
    return view;
}

static void begin(void)
{
    suppose(modes_hold() & time_holds() & switch_holds() & gate_holds() & steps_hold());
    stepped[0] = stepped[1] = false;
    was = look();
    left_before = f.down_left;
    will[0] = f.duty[0];
    will[1] = f.duty[1];
    sections = 0u;
}

static void from_main(void)
{
    begin();
}

static void from_interrupt(void)
{
    begin();
    locked = 1u; /* the controller shuts interrupts out */
    sections = 1u;
}

/* `on`: this call may have turned power on. */
static void end(bool on)
{
    claim(sections <= 1u); /* one locked section, so nothing comes between */
    claim_inv();
    claim(on || was.mode == FENCE_ON || f.mode != FENCE_ON);
    claim(was.mode != FENCE_DOWN || f.mode == FENCE_OFF || /* what runs down is not driven */
          (f.duty[0] == will[0] && f.duty[1] == will[1]));
    reach();
}

static void end_of_interrupt(void)
{
    locked = 0u;
    claim(by_itself(was, look()));
    claim(!was.latched || (f.latched && all_off()));
    end(false);
}

static void end_of_looking(void)
{
    claim(same(was, look()));
    end(false);
}

/* ---- from the board's interrupts ---- */

void prove_begin(void) /* from any memory at all */
{
    suppose(locked == 0u);
    capped = false;
    off_run = on_run = 0u;
    was_off = was_turned = ticked = offered = beam_was_free = false;
    open_most = 0u;
    sections = 0u;
    stepped[0] = stepped[1] = false;
    fence_begin();
    claim_inv();
    claim(sections == 1u && all_off() && f.mode == FENCE_OFF && !f.turned);
    reach();
}

static void watch_inputs(void)
{
    off_run = in_arm ? 0u : (uint8_t)((off_run < 21u) ? off_run + 1u : 21u);
    on_run = in_arm ? (uint8_t)((on_run < 21u) ? on_run + 1u : 21u) : 0u;
    was_off = was_off || off_run >= SWITCH_MS;
    was_turned = was_turned || (was_off && on_run == SWITCH_MS);
    beam_was_free = beam_was_free || !in_blocked;
    ticked = true;
    capped |= clock - f.heard > SILENT_MOST_MS;
    open_ticks += out_gate ? 1u : 0u;
}

void prove_tick(void)
{
    from_interrupt();
    uint32_t passed = any_u32();

    suppose(passed < 0x80000000u); /* two ticks are less than 24 days apart */
    clock += passed;
    bool silent = is_silent();
    watch_inputs();
    fence_tick();
    claim(!in_loop || (f.latched && all_off()));
    claim(!silent || (f.mode != FENCE_ON && !out_gate));
    claim(was.mode != FENCE_DOWN || f.mode == FENCE_OFF || f.down_left < left_before);
    claim(!out_gate || open_ticks < JAM_MS);
    end_of_interrupt();
}

void prove_byte(void)
{
    uint8_t byte = any_u8();

    from_interrupt();
    bool taken = fence_byte(byte);
    claim(taken == (byte == BYTE_EMERGENCY || byte == BYTE_STOP || byte == BYTE_HOLD));
    claim(byte != BYTE_EMERGENCY || (f.latched && all_off()));
    claim(!taken || (!out_gate && gate.release != RELEASE_WAITING && f.trips != 0u));
    claim(byte != BYTE_STOP || f.mode != FENCE_ON);
    end_of_interrupt();
}

void prove_ball(void)
{
    from_interrupt();
    uint8_t count = gate.ball_count;
    bool another = beam_was_free;
    fence_ball(0u);
    beam_was_free = false;
    claim(!out_gate);
    claim(!another || gate.ball_count > count || count == BALLS_KEPT); /* each one is counted */
    claim(gate.ball_count == count || gate.balls[count] == clock);
    end_of_interrupt();
}

/* Any number of interrupts together is still what one may do. */
void prove_by_itself(void)
{
    const view_t a = {any_u8(), any_u8(), any_u8(), any_bool()};
    const view_t b = {any_u8(), any_u8(), any_u8(), any_bool()};
    const view_t c = {any_u8(), any_u8(), any_u8(), any_bool()};

    claim(a.mode > FENCE_DOWN || a.release > RELEASE_MISSED || by_itself(a, a));
    claim(!by_itself(a, b) || !by_itself(b, c) || by_itself(a, c));
    reach();
}

/* ---- from the main loop ---- */

void prove_on(void)
{
    from_main();
    bool silent = is_silent();
    bool done = fence_on();
    claim(!done || (was_turned && !in_loop && !silent));
    claim(turns_on(was, look(), done));
    if (done) {
        was_turned = was_off = false;
    }
    end(done);
}

void prove_unlatch(void)
{
    from_main();
    fence_unlatch();
    claim(unlatches(was, look()));
    claim(f.latched == was.latched || !in_loop);
    end(false);
}

void prove_heard(void)
{
    uint32_t echo = any_u32();

    from_main();
    uint32_t before = f.heard;
    fence_heard(echo);
    claim(f.heard == before || f.heard == echo);
    if (f.heard != before) {
        claim((uint32_t)(clock - echo) < (uint32_t)(clock - before)); /* newer than it had */
        capped = false;
    }
    end_of_looking();
}

void prove_listen(void)
{
    from_main();
    fence_listen_anew();
    if (was.mode == FENCE_OFF) {
        capped = false;
        was_turned = false;
    }
    end_of_looking();
}

void prove_release(void)
{
    uint32_t at = any_u32();
    uint16_t open_ms = any_u16();

    from_main();
    bool done = fence_release(at, open_ms);
    claim(releases(was, look(), done));
    claim(!done || (open_ms > 0u && open_ms < JAM_MS));
    if (done) {
        offered = true;
        offer_at = at;
        open_most = open_ms;
    }
    end(false);
}

void prove_drive(void)
{
    uint8_t wheel = any_u8();

    suppose(wheel < WHEELS);
    from_main();
    fence_drive(wheel, any_u16());
    claim(was.mode == FENCE_ON || (f.duty[0] == will[0] && f.duty[1] == will[1]));
    end_of_looking();
}

void prove_servo(void)
{
    uint8_t axis = any_u8();

    suppose(axis < AXES);
    from_main();
    fence_servo(axis, any_u16());
    end_of_looking();
}

void prove_lead(void)
{
    uint8_t axis = any_u8();
    int16_t to = (int16_t)any_u16();

    suppose(axis < AXES);
    from_main();
    int16_t wanted = axes[axis].to;
    fence_lead(axis, to);
    claim(axes[axis].to == ((was.mode == FENCE_ON) ? to : wanted));
    end_of_looking();
}

void prove_stand_at(void)
{
    uint8_t axis = any_u8();
    int16_t at = (int16_t)any_u16();

    suppose(axis < AXES);
    from_main();
    fence_stand_at(axis, at);
    claim(axes[axis].at == at && axes[axis].to == at);
    end_of_looking();
}

void prove_stepped(void)
{
    uint8_t axis = any_u8();

    suppose(axis < AXES);
    from_main();
    claim(fence_stepped(axis) == axes[axis].at);
    end_of_looking();
}

void prove_take_ball(void)
{
    uint32_t at;

    from_main();
    uint8_t count = gate.ball_count;
    uint32_t first = gate.balls[0];
    bool some = fence_take_ball(&at);
    claim(some == (count > 0u) && (!some || (at == first && gate.ball_count == count - 1u)));
    end_of_looking();
}

void prove_take_trips(void)
{
    from_main();
    uint8_t taken = fence_take_trips();
    claim(takes_trips(was, look(), taken));
    end(false);
}

void prove_down(void)
{
    from_main();
    fence_down();
    claim(!out_gate && goes_down(was, look()));
    end(false);
}

void prove_cut(void)
{
    from_main();
    fence_cut();
    claim(all_off() && cuts(was, look()));
    end(false);
}

void prove_shut(void)
{
    from_main();
    fence_shut();
    claim(!out_gate && shuts(was, look()));
    end(false);
}

void prove_done(void)
{
    from_main();
    fence_release_done();
    claim(!out_gate && is_done(was, look()));
    end(false);
}

void prove_ready(void)
{
    from_main();
    fence_ready(any_bool());
    end_of_looking();
}

void prove_alive(void)
{
    from_main();
    fence_alive();
    end_of_looking();
}

/* Each question is a call of its own: something may come between two of them. */
#define ASKS(name, question)       \
    void prove_##name(void)        \
    {                              \
        from_main();               \
        bool right = question;     \
        claim(right);              \
        end_of_looking();          \
    }

ASKS(mode, fence_mode() == was.mode)
ASKS(latched, fence_latched() == was.latched)
ASKS(last_heard, fence_last_heard() == f.heard)
ASKS(release_state, fence_release_state() == was.release)
ASKS(opened_at, fence_opened_at() == gate.opened_at)
ASKS(shut_at, fence_shut_at() == gate.shut_at)
ASKS(was_ready, fence_ball_was_ready() == gate.ball_was_ready)
ASKS(blocked, fence_sensor_blocked() == ((gate.eyes[0].blocked_ms >= SENSOR_BLOCKED_MS) ? 1u : 0u))
ASKS(missed, fence_take_missed() == 0u) /* there is none that could have seen it */
ASKS(switch, fence_switch_on() == f.switch_on)
