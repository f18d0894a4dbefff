/* The fence: what stops, and what nothing but a person can begin. */
#include "core_tests.h"
#include "launcher.h"

static void test_power_up_is_safe_and_off(void)
{
    fake_reset();
    fake.arm_switch = true;
    fake_run(1000u);
    CHECK((state_now() == STATE_SAFE) && all_off());
    CHECK(!fence_on() || !all_off());
}

static void test_nothing_arms_but_the_person(void)
{
    ready();
    CHECK(answers("FEED 1 9000 2000 1500 0 0 0 0", "NO 4 0"));
    CHECK(answers("GO", "NO 4 0"));
    fake.arm_switch = true; /* turned on before anybody asked: does not count */
    live(200u);
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(500u);
    CHECK((state_now() == STATE_AWAITING_ARM) && all_off());
    fake.arm_switch = false;
    live(100u);
    CHECK(state_now() == STATE_AWAITING_ARM);
    fake.arm_switch = true;
    live(100u);
    CHECK((state_now() == STATE_ARMED) && fake.power);
}

static void test_nobody_arms_for_a_minute(void)
{
    ready();
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(59000u);
    CHECK(state_now() == STATE_AWAITING_ARM);
    live(1200u);
    CHECK((state_now() == STATE_SAFE) && (state_reason() == REASON_NOBODY));
}

static void test_silence_cuts_whatever_the_core_does(void)
{
    ready();
    arm();
    CHECK(answers("PREP 2000 1500 0 0 0 0", "OK"));
    fake.follow_rpm[0] = 2000u;
    fake.follow_rpm[1] = 1500u;
    live(500u);
    uint32_t last = heard;
    while (fake.power && ((board_now_ms() - last) < 5000u)) {
        fake.now_ms++;
        fence_tick(); /* the tick alone: the main loop hangs */
    }
    CHECK(all_off());
    CHECK((board_now_ms() - last) <= WATCHDOG_MS);
    fake_run(10u);
    CHECK((state_now() == STATE_SAFE) && (state_reason() == REASON_POWER_OFF));
}

static void test_old_echoes_keep_nothing_alive(void)
{
    char body[40];

    ready();
    arm();
    uint32_t last = heard;
    for (unsigned i = 0u; i < 20u; i++) {
        (void)snprintf(body, sizeof body, "T %u %u", i, (unsigned)last);
        fake_line(body);
        (void)snprintf(body, sizeof body, "T %u %u", i, (unsigned)(board_now_ms() + 9000u));
        fake_line(body); /* nor do echoes of a time that has not been */
        fake_run(50u);
    }
    CHECK(all_off() && (state_now() == STATE_SAFE));
    ready();
    arm();
    (void)snprintf(body, sizeof body, "T 1 %u", (unsigned)(board_now_ms() + 9000u));
    fake_line(body); /* an echo of the future is no news at all */
    fake_run(100u);
    CHECK(state_now() == STATE_ARMED);
}

static void test_emergency_loop_cuts_in_one_tick_and_latches(void)
{
    ready();
    arm();
    CHECK(answers("PREP 2000 1500 0 0 0 0", "OK"));
    live(300u);
    CHECK(!all_off());
    fake.loop_open = true;
    fence_tick();
    CHECK(all_off());
    fake_run(5u);
    CHECK((state_now() == STATE_STOPPED) && (state_reason() == REASON_EMERGENCY));
    fake.loop_open = false;
    live(500u);
    CHECK(answers("ARM 3000 3000 0", "NO 15"));
    CHECK(answers("DISARM", "NO 15"));
    fake.arm_switch = false;
    live(100u);
    CHECK((state_now() == STATE_SAFE) && (state_reason() == REASON_PERSON) && all_off());
}

static void test_the_fence_latches_by_itself(void)
{
    ready();
    fake.arm_switch = true;
    fake.loop_open = true;
    fence_tick();
    fake.loop_open = false;
    for (unsigned i = 0u; i < 50u; i++) {
        fence_tick();
    }
    (void)fence_take_trips();
    CHECK(fence_switch_on() && fence_latched() && !fence_on() && all_off());
    fake.loop_open = true;
    fence_unlatch(); /* not while the loop is open */
    CHECK(fence_latched());
}

static void test_an_overtaken_heartbeat_takes_nothing_away(void)
{
    char body[40];

    ready();
    arm();
    live(1000u);
    beat();
    (void)snprintf(body, sizeof body, "T 1 %u", (unsigned)(board_now_ms() - 650u));
    fake_line(body);
    fake_run(300u);
    CHECK(state_now() == STATE_ARMED);
}

static void test_the_gate_shuts_though_no_ball_is_seen(void)
{
    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    await_gate();
    live(79u);
    CHECK(fake.gate);
    live(2u);
    CHECK(!fake.gate && (state_now() == STATE_ARMED));
}

/* The fence by itself, whatever the main loop asks: each power-up needs its own turn of the switch. */
static void test_the_fence_wants_the_switch_turned_for_every_arming(void)
{
    fake_reset();
    fake.arm_switch = true; /* on since before the power came */
    fake_tick(200u);
    CHECK(!fence_on() && all_off());
    fake.arm_switch = false;
    fake_tick(30u);
    CHECK(!fence_on());
    fake.arm_switch = true;
    fake_tick(30u);
    CHECK(fence_on() && fake.power);
    fence_down();
    fake_tick(300u);
    CHECK(all_off() && !fence_on()); /* still on from the last time */
    fake.arm_switch = false;
    fake_tick(30u);
    fake.arm_switch = true;
    fake_tick(30u);
    fence_listen_anew(); /* asked for only now */
    CHECK(!fence_on() && all_off());
}

static void turn_switch_on(void)
{
    fake.arm_switch = false;
    fake_tick(30u);
    fake.arm_switch = true;
    fake_tick(30u);
}

static void test_a_silence_of_weeks_is_no_future(void)
{
    fake_reset();
    fake.now_ms += 2200000000u; /* 25 days: past half of the clock's range */
    turn_switch_on();
    CHECK(!fence_on() && all_off());
    ready();
    fake.now_ms += 2200000000u;
    fake_run(10u);
    arm();
    fake_tick(1000u);
    CHECK(all_off());
}

static void test_a_silence_of_months_does_not_come_round(void)
{
    fake_reset();
    for (unsigned i = 0u; i < 256u; i++) { /* all of the clock's range */
        fake.now_ms += 1u << 24;
        fence_tick();
    }
    turn_switch_on();
    CHECK(!fence_on() && all_off());
}

static void test_a_bouncing_switch_is_no_act(void)
{
    ready();
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(60u);
    for (unsigned i = 0u; i < 10u; i++) {
        fake.arm_switch = true;
        live(15u);
        fake.arm_switch = false;
        live(15u);
    }
    CHECK((state_now() == STATE_AWAITING_ARM) && all_off());
    fake.arm_switch = true;
    live(60u);
    CHECK(state_now() == STATE_ARMED);
    fake.arm_switch = false;
    live(15u);
    fake.arm_switch = true;
    live(100u);
    CHECK(state_now() == STATE_ARMED);
}

static void open_the_gate(void)
{
    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    await_gate();
}

static void test_every_stop_shuts_the_gate_though_the_main_loop_hangs(void)
{
    static const uint8_t bytes[] = {BYTE_EMERGENCY, BYTE_STOP, BYTE_HOLD};

    for (size_t i = 0u; i < sizeof bytes; i++) {
        open_the_gate();
        CHECK(fence_byte(bytes[i]) && !fake.gate);
    }
    open_the_gate();
    fake.arm_switch = false;
    fake_tick(25u);
    CHECK(!fake.gate);
}

static void test_the_ball_shuts_the_gate_behind_itself(void)
{
    open_the_gate();
    fake.ball_blocked = true;
    fence_ball(0u);
    CHECK(!fake.gate);
}

static void test_every_opening_has_an_end(void)
{
    ready();
    arm();
    CHECK(!fence_release(board_now_ms() + 10u, 0u));
    CHECK(!fence_release(board_now_ms() + 10u, JAM_MS));
    CHECK(fence_release(board_now_ms() + 10u, 1u));
}

static void test_a_tick_that_has_died_starves_the_watchdog(void)
{
    fake_reset();
    fake_run(10u);
    CHECK(fake.fed >= 9u);
    fake.fed = 0u;
    for (unsigned i = 0u; i < 1000u; i++) {
        launcher_poll(); /* the main loop is as busy as ever */
    }
    CHECK(fake.fed <= 1u);
    fake_run(10u);
    CHECK(fake.fed >= 9u);
}

static void test_every_stop_of_the_host_stops(void)
{
    static const char *const words[] = {"STOP 1", "DISARM", "OPEN 1 77"};

    for (size_t i = 0u; i < sizeof words / sizeof words[0]; i++) {
        ready();
        arm();
        CHECK(answers(words[i], "OK"));
        CHECK(state_now() == STATE_STOPPING);
        live(300u);
        CHECK((state_now() == STATE_SAFE) && all_off());
        ready();
        CHECK(answers("ARM 3000 3000 0", "OK"));
        CHECK(answers(words[i], "OK") && (state_now() == STATE_SAFE));
    }
    ready();
    arm();
    CHECK(answers("STOP 0", "OK"));
    CHECK((state_now() == STATE_STOPPED) && all_off());
}

static void test_emergency_character_in_safe_needs_the_person_too(void)
{
    const uint8_t emergency = BYTE_EMERGENCY;

    ready();
    fake_bytes(&emergency, 1u);
    live(2000u);
    CHECK(state_now() == STATE_STOPPED);
    fake.arm_switch = true;
    live(100u);
    fake.arm_switch = false;
    live(100u);
    CHECK(state_now() == STATE_SAFE);
}

static void test_stop_characters_act_inside_a_line(void)
{
    const uint8_t stop = BYTE_STOP;
    const uint8_t hold = BYTE_HOLD;

    ready();
    arm();
    fake_bytes((const uint8_t *)"9 ST", 4u);
    fake_bytes(&hold, 1u);
    fake_run(2u);
    CHECK(state_now() == STATE_HELD);
    fake_bytes((const uint8_t *)"AT*", 3u);
    fake_bytes(&stop, 1u);
    fake_run(2u);
    CHECK((state_now() == STATE_STOPPING) && fake.power);
    fake_run(300u);
    CHECK((state_now() == STATE_SAFE) && all_off());
}

static void test_switch_off_stops(void)
{
    ready();
    arm();
    fake.arm_switch = false;
    fake_run(30u);
    CHECK((state_now() == STATE_STOPPING) && (state_reason() == REASON_SWITCH));
    fake_run(300u);
    CHECK(all_off());
}

static void test_no_stored_number_makes_a_hold_longer_than_the_most(void)
{
    ready();
    store_set(NUMBER_HOLD, 500000);
    fake_run(5u);
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000001", "OK"));
    arm();
    CHECK(answers("HOLD", "OK"));
    live(119900u);
    CHECK(state_now() == STATE_HELD);
    live(500u);
    CHECK((state_now() == STATE_SAFE) && all_off());
}

static void test_a_hold_becomes_a_stop(void)
{
    ready();
    arm();
    CHECK(answers("HOLD", "OK"));
    live(4500u);
    CHECK(state_now() == STATE_HELD);
    live(1000u);
    CHECK((state_now() == STATE_SAFE) && all_off());
}

size_t test_fence(void)
{
    static const core_test_t tests[] = {
        test_power_up_is_safe_and_off,
        test_nothing_arms_but_the_person,
        test_nobody_arms_for_a_minute,
        test_silence_cuts_whatever_the_core_does,
        test_old_echoes_keep_nothing_alive,
        test_emergency_loop_cuts_in_one_tick_and_latches,
        test_the_fence_latches_by_itself,
        test_an_overtaken_heartbeat_takes_nothing_away,
        test_the_gate_shuts_though_no_ball_is_seen,
        test_the_fence_wants_the_switch_turned_for_every_arming,
        test_a_silence_of_weeks_is_no_future,
        test_a_silence_of_months_does_not_come_round,
        test_a_bouncing_switch_is_no_act,
        test_every_stop_shuts_the_gate_though_the_main_loop_hangs,
        test_the_ball_shuts_the_gate_behind_itself,
        test_every_opening_has_an_end,
        test_a_tick_that_has_died_starves_the_watchdog,
        test_every_stop_of_the_host_stops,
        test_no_stored_number_makes_a_hold_longer_than_the_most,
        test_emergency_character_in_safe_needs_the_person_too,
        test_stop_characters_act_inside_a_line,
        test_switch_off_stops,
        test_a_hold_becomes_a_stop,
    };

    return RUN_ALL(tests);
}
