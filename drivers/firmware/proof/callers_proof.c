/* The fence's callers, proven by induction as the fence is: state.c, feeder.c, feeding.c and
 * obey_feeding.c as they stand, over a fence of which nothing is known but its contract (proof.h, which fence_proof.c
 * proves of the real one). Before every call any number of interrupts may have come. What else the
 * callers ask may answer anything.
 */
#include "feeding/feeder.c"
#include "feeding/feeding.c"
#include "commands/obey_feeding.c"
#include "feeding/state.c"

#include "proof.h"

/* ---- what the prover watches beside the code ---- */
static uint8_t locked;  /* the callers share nothing with interrupts: see fence_proof.c */
static view_t v;        /* the fence */
static uint32_t highest;
static uint32_t followed; /* one feed, whichever: each is proven so */
static bool was_released; /* it has had a release */
static bool turned_on;    /* fence_on has said yes since the person was last asked for */

static view_t any_view(void)
{
    const view_t view = {any_u8(), any_u8(), any_u8(), any_bool()};
    return view;
}

/* Interrupts come, then the call does what the contract lets it do. */
static view_t interrupts(void)
{
    view_t after = any_view();

    suppose(by_itself(v, after));
    v = after;
    return any_view();
}

static void take(bool kept, view_t next)
{
    suppose(kept);
    v = next;
}

fence_mode_t fence_mode(void) { (void)interrupts(); return (fence_mode_t)v.mode; }
bool fence_latched(void) { (void)interrupts(); return v.latched; }
release_t fence_release_state(void) { (void)interrupts(); return (release_t)v.release; }

uint8_t fence_take_trips(void)
{
    view_t next = interrupts();
    uint8_t taken = any_u8();

    take(takes_trips(v, next, taken), next);
    return taken;
}

bool fence_on(void)
{
    view_t next = interrupts();
    bool done = any_bool();

    claim(state == STATE_AWAITING_ARM); /* power comes on for nothing else */
    take(turns_on(v, next, done), next);
    turned_on |= done;
    return done;
}

void fence_unlatch(void)
{
    view_t next = interrupts();

    claim(state == STATE_STOPPED);
    take(unlatches(v, next), next);
}

void fence_down(void) { view_t next = interrupts(); take(goes_down(v, next), next); }
void fence_cut(void) { view_t next = interrupts(); take(cuts(v, next), next); }
void fence_shut(void) { view_t next = interrupts(); take(shuts(v, next), next); }
void fence_release_done(void) { view_t next = interrupts(); take(is_done(v, next), next); }
void fence_listen_anew(void) { (void)interrupts(); }

void fence_ready(bool ready)
{
    (void)interrupts();
    claim(!ready || state == STATE_ARMED);
}

bool fence_release(uint32_t at, uint16_t open_ms)
{
    view_t next = interrupts();
    bool done = any_bool();
    bool its = count > 0u && queue[0].id == followed;

    (void)at;
    claim(state == STATE_ARMED && count > 0u); /* no feed unless armed */
    claim(!its || !was_released);              /* one release a feed */
    claim(open_ms > 0u && open_ms < JAM_MS);
    take(releases(v, next, done), next);
    was_released |= done & its;
    return done;
}

bool fence_switch_on(void) { return any_bool(); }
uint8_t fence_sensor_blocked(void) { return any_u8(); }
uint8_t fence_take_missed(void) { return any_u8(); }
bool fence_ball_was_ready(void) { return any_bool(); }
uint32_t fence_last_heard(void) { return any_u32(); }
uint32_t fence_opened_at(void) { return any_u32(); }
uint32_t fence_shut_at(void) { return any_u32(); }

/* Balls of three at most come at one look: every further one is looked at alike. */
static uint8_t balls;
bool fence_take_ball(uint32_t *at)
{
    bool some = any_bool() & (balls < 3u);

    balls++;
    *at = any_u32();
    return some;
}

/* ---- everything else answers anything ---- */
uint32_t board_now_ms(void) { return any_u32(); }
bool board_stop_loop_open(void) { return any_bool(); }
bool sensors_have(uint8_t senses) { (void)senses; return any_bool(); }
bool sensors_suffice(void) { return any_bool(); }
int32_t sensors_supply_mv(void) { return (int32_t)any_u32(); }
int32_t sensors_temperature_c(void) { return (int32_t)any_u32(); }
int32_t store_number(uint8_t number) { (void)number; return (int32_t)any_u32(); }
bool store_spoiled(void) { return any_bool(); }
bool store_complete(uint8_t *missing) { *missing = any_u8(); return any_bool(); }
void drives_target(uint8_t wheel, uint16_t rpm) { (void)wheel; (void)rpm; }
void drives_ceiling(uint8_t wheel, uint16_t rpm) { (void)wheel; (void)rpm; }
void drives_rest(void) {}
bool drives_settled(void) { return any_bool(); }
void axes_target(uint8_t axis, int16_t cdeg) { (void)axis; (void)cdeg; }
void axes_rest(void) {}
bool axes_arrived(void) { return any_bool(); }
bool axes_homed(void) { return any_bool(); }
void event_put(event_t word, uint32_t at_ms, uint32_t first, int32_t second)
{
    (void)word; (void)at_ms; (void)first; (void)second;
}
void fault_log_add(uint8_t what, int32_t detail) { (void)what; (void)detail; }
uint16_t events_last(void) { return any_u16(); }
void body_number(body_t *body, uint32_t number) { (void)body; (void)number; }
uint32_t memory_highest(void) { return highest; }
uint32_t memory_left(void) { return any_u32(); }
void memory_accept(uint32_t id) { highest = id; }
void memory_settle(uint32_t id, outcome_t outcome, uint32_t at_ms, reason_t reason)
{
    (void)id; (void)outcome; (void)at_ms; (void)reason;
}
/* Of another session: its ids begin anew, and so does what is followed. */
bool memory_open(uint32_t token)
{
    bool kept = any_bool();

    (void)token;
    highest = kept ? highest : 0u;
    was_released &= kept;
    return kept;
}
refusal_t fine(void) { const refusal_t none = {NO_NONE, false, 0u}; return none; }
refusal_t no(no_t code) { const refusal_t refusal = {code, false, 0u}; return refusal; }
refusal_t no_with(no_t code, uint32_t detail)
{
    const refusal_t refusal = {code, true, detail};
    return refusal;
}

/* ---- the invariant ---- */
static bool is_powered(void)
{
    return (state == STATE_ARMED) | (state == STATE_HELD);
}

static bool states_hold(void)
{
    return (state <= STATE_FAULT) & (v.mode <= FENCE_DOWN) & (v.release <= RELEASE_MISSED) &
           IF(!is_powered() & (state != STATE_AWAITING_ARM), v.mode != FENCE_ON) &
           IF((state == STATE_SAFE) | (state == STATE_STOPPED), v.mode == FENCE_OFF) &
           IF((state == STATE_AWAITING_ARM) & !turned_on, v.mode == FENCE_OFF);
}

static bool releases_hold(void)
{
    bool waiting = v.release == RELEASE_WAITING;
    bool opened = v.release == RELEASE_OPENED;

    return (count <= QUEUE_PLACES) & IF(state != STATE_ARMED, (count == 0u) & !offered & !waiting) &
           IF(waiting, offered) & IF(offered, count > 0u) &
           IF(opened, offered | ball.under_way) & IF(ball.under_way, opened & !offered);
}

static bool ids_hold(void)
{
    return IF(count > 0u, (queue[0].id >= 1u) & (queue[0].id <= highest)) &
           IF(count > 1u, (queue[0].id < queue[1].id) & (queue[1].id <= highest)) &
           IF(count > 2u, (queue[1].id < queue[2].id) & (queue[2].id <= highest)) &
           IF(count > 3u, (queue[2].id < queue[3].id) & (queue[3].id <= highest)) &
           IF(was_released, (followed <= highest) &
                                IF(count > 0u, (queue[0].id > followed) |
                                                   ((queue[0].id == followed) & offered)));
}

/* ---- one call ---- */
static state_t was;
static uint8_t count_before;
static uint32_t highest_before;
static arguments_t asked;
static body_t answer;

static void begin(void)
{
    suppose(states_hold() & releases_hold() & ids_hold());
    was = state;
    count_before = count;
    highest_before = highest;
    balls = 0u;
}

static void end(void)
{
    claim(states_hold());
    claim(releases_hold());
    claim(ids_hold());
    reach();
}

/* Armed only what was so before: a stop stays a stop until a person arms again. */
static void end_unarmed(void)
{
    claim(state != STATE_ARMED || was == STATE_ARMED);
    claim(state != STATE_HELD || was == STATE_HELD);
    end();
}

void prove_start(void)
{
    const view_t started = {FENCE_OFF, 0u, RELEASE_NONE, false}; /* as fence_begin leaves it */

    v = started;
    highest = 0u;
    was_released = false;
    turned_on = false;
    state_begin();
    feeder_begin();
    claim(state == STATE_SAFE);
    end();
}

void prove_follow(void)
{
    begin();
    state_follow(any_u32());
    claim(state != STATE_ARMED || was == STATE_ARMED || (was == STATE_AWAITING_ARM && turned_on));
    claim(state != STATE_HELD || was == STATE_HELD || was == STATE_ARMED);
    end();
}

void prove_step(void)
{
    begin();
    feeding_step(any_u32());
    claim(state == was || state == STATE_FAULT);
    end_unarmed();
}

void prove_fault(void)
{
    begin();
    state_fault((fault_t)any_u8(), (int32_t)any_u32());
    claim(!is_powered() && count == 0u);
    end_unarmed();
}

void prove_make_safe(void)
{
    begin();
    state_make_safe((reason_t)any_u8());
    claim(!is_powered() && state != STATE_AWAITING_ARM && count == 0u);
    end_unarmed();
}

void prove_end_fault(void)
{
    begin();
    (void)state_end_fault((reason_t)any_u8());
    end_unarmed();
}

/* dialogue.c makes it safe and waits for the ball before it obeys this. */
void prove_open(void)
{
    begin();
    suppose(!is_powered() && state != STATE_AWAITING_ARM && !ball.under_way);
    (void)obey_open(&asked, &answer);
    end_unarmed();
}

void prove_arm(void)
{
    begin();
    (void)obey_arm(&asked, &answer);
    turned_on = turned_on & (state == was); /* the question is a new one */
    claim(state == was || (was == STATE_SAFE && state == STATE_AWAITING_ARM));
    end_unarmed();
}

void prove_disarm(void)
{
    begin();
    (void)obey_disarm(&asked, &answer);
    claim(!is_powered() && state != STATE_AWAITING_ARM && count == 0u);
    end_unarmed();
}

void prove_prep(void)
{
    begin();
    (void)obey_prep(&asked, &answer);
    end_unarmed();
}

void prove_feed(void)
{
    begin();
    suppose(asked.value[0] >= 1u); /* commands.c refuses 0 */
    refusal_t refusal = obey_feed(&asked, &answer);
    claim(refusal.code != NO_NONE ||
          (was == STATE_ARMED && asked.value[0] > highest_before && highest == asked.value[0]));
    claim(refusal.code != NO_NONE || /* what is taken is in the queue */
          (count == count_before + 1u && queue[count_before].id == asked.value[0]));
    claim(refusal.code == NO_NONE || (count == count_before && highest == highest_before));
    end_unarmed();
}

void prove_hold(void)
{
    begin();
    (void)obey_hold(&asked, &answer);
    claim(state != STATE_ARMED && count == 0u);
    claim(state != STATE_HELD || was == STATE_HELD || was == STATE_ARMED);
    end();
}

void prove_go(void)
{
    begin();
    (void)obey_go(&asked, &answer);
    claim(state != STATE_ARMED || was == STATE_ARMED || was == STATE_HELD);
    claim(state != STATE_HELD);
    end();
}

void prove_stop(void)
{
    begin();
    (void)obey_stop(&asked, &answer);
    claim(!is_powered() && state != STATE_AWAITING_ARM && count == 0u);
    claim(asked.value[0] != 0u || (state == STATE_STOPPED && v.mode == FENCE_OFF));
    end_unarmed();
}
