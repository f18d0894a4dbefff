/* A launcher that throws by air: the gate is its valve, built with -DVALVE=1u (see the Makefile). */
#include "core_tests.h"

#include "motion/drives.h"

#if VALVE != 0

static bool throw(unsigned id, unsigned ahead_ms, unsigned opening, const char *reply)
{
    char command[100];

    (void)snprintf(command, sizeof command, "FEED %u %u %u 0 0 0 0 0", id,
                   (unsigned)(board_now_ms() + ahead_ms), opening);
    return answers(command, reply);
}

/* How long the valve is open, from where it has just opened. */
static unsigned open_for(void)
{
    unsigned ms = 0u;

    while (fake.gate && (ms < 3000u)) {
        live(1u);
        ms++;
    }
    return ms;
}

static void test_the_valve_is_open_for_as_long_as_each_feed_says(void)
{
    static const unsigned openings[] = {1u, 30u, 81u, 200u};

    ready();
    arm();
    for (unsigned i = 0u; i < (sizeof openings / sizeof openings[0]); i++) {
        CHECK(throw(i + 1u, 1500u, openings[i], "OK"));
        await_gate();
        CHECK(open_for() == openings[i]);
        fake_ball();
        live(400u);
    }
    CHECK((fake.gate_openings == 4u) && (state_now() == STATE_ARMED));
}

static void test_the_ball_shuts_the_valve_behind_itself(void)
{
    ready();
    arm();
    CHECK(throw(1u, 1500u, 200u, "OK"));
    await_gate();
    live(50u);
    fence_ball(0u);
    CHECK(!fake.gate);
}

static void open_the_valve(void)
{
    ready();
    arm();
    CHECK(throw(1u, 1500u, 200u, "OK"));
    await_gate();
    live(20u);
}

static void test_every_stop_shuts_it_though_the_main_loop_hangs(void)
{
    for (unsigned stop = 0u; stop < 4u; stop++) {
        static const uint8_t characters[] = {BYTE_STOP, BYTE_EMERGENCY, BYTE_HOLD};
        open_the_valve();
        if (stop < sizeof characters) {
            CHECK(fence_byte(characters[stop]));
        } else {
            fake.loop_open = true;
            fake_tick(1u);
        }
        CHECK(!fake.gate);
        fake_tick(300u);
        CHECK(!fake.gate && (fake.gate_openings == 1u));
    }
}

static void test_a_hung_main_loop_opens_it_no_longer(void)
{
    open_the_valve();
    fake_tick(179u);
    CHECK(fake.gate);
    fake_tick(1u);
    CHECK(!fake.gate);
}

static void test_without_its_pressure_no_ball_is_sent(void)
{
    ready();
    arm();
    CHECK(throw(1u, 1500u, 80u, "OK"));
    live(1000u);
    fake.tank_ready = false;
    live(600u);
    CHECK(fake.gate_openings == 0u);
    CHECK(strstr(fake_sent(), "MISS 1 12") != NULL);
    fake.tank_ready = true; /* it comes back, and the next one leaves */
    CHECK(throw(2u, 1500u, 80u, "OK"));
    await_gate();
    CHECK(state_now() == STATE_ARMED);
}

static void test_it_must_have_been_at_its_pressure_for_a_tenth_of_a_second(void)
{
    ready();
    arm();
    fake.tank_ready = false;
    CHECK(throw(1u, 1500u, 80u, "OK"));
    live(1150u); /* the valve opens after 1350 ms, or is forgotten 50 ms later */
    for (unsigned i = 0u; i < 8u; i++) { /* a contact that chatters */
        fake.tank_ready = !fake.tank_ready;
        live(40u);
    }
    CHECK((fake.gate_openings == 0u) && (strstr(fake_sent(), "MISS 1 12") != NULL));
}

static void test_no_opening_is_no_ball(void)
{
    ready();
    arm();
    CHECK(throw(1u, 1500u, 0u, "OK"));
    live(1700u);
    CHECK((fake.gate_openings == 0u) && (strstr(fake_sent(), "MISS 1 12") != NULL));
}

static void test_an_opening_past_limit_or_ceiling_is_refused(void)
{
    ready();
    CHECK(answers("SET 1 1401", "NO 8"));
    CHECK(answers("SET 2 100", "NO 8"));
    CHECK(answers("ARM 150 0 0", "OK"));
    live(60u);
    fake.arm_switch = true;
    live(60u);
    CHECK(throw(1u, 1500u, 201u, "NO 8 1"));
    CHECK(throw(1u, 1500u, 151u, "NO 9 1"));
    CHECK(answers("PREP 151 0 0 0 0 0", "NO 9 1"));
    CHECK(answers("PREP 100 1 0 0 0 0", "NO 8 2"));
    CHECK(throw(1u, 1500u, 150u, "OK"));
}

static void test_a_tank_that_does_not_fill_is_a_fault_when_it_is_waited_for(void)
{
    ready(); /* number 65: 4,800 ms */
    fake.tank_ready = false;
    arm();
    live(10000u);
    CHECK(state_now() == STATE_ARMED); /* nobody asks anything of it */
    CHECK(answers("PREP 80 0 0 0 0 0", "OK"));
    live(4700u);
    CHECK(state_now() == STATE_ARMED);
    live(300u);
    CHECK((state_now() == STATE_FAULT) && (strstr(fake_sent(), "FAULT 3 1") != NULL));
    CHECK(!fake.gate);
}

/* Wheels tell a dead sensor from a jam, for a ball slows them. A tank empties without a ball too. */
static void test_an_emptied_tank_is_no_sign_of_a_ball(void)
{
    ready();
    arm();
    CHECK(throw(1u, 1500u, 80u, "OK"));
    await_gate();
    fake.tank_ready = false;
    live(500u);
    fake.tank_ready = true;
    live(1500u);
    const char *said = fake_sent();
    CHECK((strstr(said, "FAULT 1") != NULL) && (strstr(said, "FAULT 8") == NULL));
}

static void test_it_says_what_it_has_and_measures(void)
{
    ready();
    CHECK(answers("HELLO 2 2", "OK 2 1 0 339 ")); /* as with wheels, but for their feedback */
    arm();
    CHECK(answers("PREP 80 0 0 0 0 0", "OK"));
    live(200u);
    CHECK(answers("STAT", "OK 2 13 "));
    fake.tank_ready = false;
    live(200u);
    (void)fake_sent();
    CHECK(drives_measured(0u) == 0u);
    fake.tank_ready = true;
    live(200u);
    CHECK(drives_measured(0u) == 80u);
}

static void test_it_needs_the_tanks_number_and_none_of_wheels(void)
{
    ready();
    CHECK(answers("SET 64 -2147483648", "OK"));
    CHECK(answers("SET 66 -2147483648", "OK"));
    CHECK(answers("ARM 150 0 0", "OK"));
    CHECK(answers("DISARM", "OK"));
    live(400u);
    CHECK(answers("SET 65 -2147483648", "OK"));
    CHECK(answers("ARM 150 0 0", "NO 21 65"));
}

static const core_test_t tests[] = {
    test_the_valve_is_open_for_as_long_as_each_feed_says,
    test_the_ball_shuts_the_valve_behind_itself,
    test_every_stop_shuts_it_though_the_main_loop_hangs,
    test_a_hung_main_loop_opens_it_no_longer,
    test_without_its_pressure_no_ball_is_sent,
    test_it_must_have_been_at_its_pressure_for_a_tenth_of_a_second,
    test_no_opening_is_no_ball,
    test_an_opening_past_limit_or_ceiling_is_refused,
    test_a_tank_that_does_not_fill_is_a_fault_when_it_is_waited_for,
    test_an_emptied_tank_is_no_sign_of_a_ball,
    test_it_says_what_it_has_and_measures,
    test_it_needs_the_tanks_number_and_none_of_wheels,
};

size_t test_valve(void)
{
    return RUN_ALL(tests);
}

#else

size_t test_valve(void)
{
    return 0u;
}

#endif
