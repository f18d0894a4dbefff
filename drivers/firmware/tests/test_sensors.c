/* Two ball sensors at the mouth, one behind the other: built with -DSENSORS=2u (see the Makefile). */
#include "core_tests.h"

#if SENSORS > 1

/* One ball by both sensors, or by those of `eyes` alone, a bit each. */
static void pass(unsigned eyes)
{
    if ((eyes & 1u) != 0u) {
        fake.ball_blocked = true;
        fence_ball(0u);
    }
    fake_run(4u);
    fake.ball_blocked = false;
    if ((eyes & 2u) != 0u) {
        fake.second_blocked = true;
        fence_ball(1u);
    }
    fake_run(4u);
    fake.second_blocked = false;
    fake_run(4u);
}

static unsigned count(const char *text, const char *word)
{
    unsigned found = 0u;

    for (const char *at = strstr(text, word); at != NULL; at = strstr(at + 1, word)) {
        found++;
    }
    return found;
}

static void await_feed(unsigned id)
{
    CHECK(feed(id, 1500u, "OK"));
    await_gate();
    (void)fake_sent();
}

static void test_a_ball_that_passes_both_is_one_ball(void)
{
    ready();
    arm();
    for (unsigned id = 1u; id <= 3u; id++) {
        await_feed(id);
        pass(3u);
        live(400u);
        const char *said = fake_sent();
        CHECK((count(said, "LEFT") == 1u) && (count(said, "FAULT") == 0u));
    }
    CHECK(state_now() == STATE_ARMED);
}

static void test_a_dead_one_is_told_as_itself_and_the_ball_is_counted(void)
{
    for (unsigned dead = 1u; dead <= 2u; dead++) {
        char wanted[20];
        ready();
        arm();
        await_feed(1u);
        pass(3u ^ dead);
        live(400u);
        const char *said = fake_sent();
        (void)snprintf(wanted, sizeof wanted, "FAULT 8 %u2", dead);
        CHECK((count(said, "LEFT 1") == 1u) && (count(said, wanted) == 1u));
        CHECK(state_now() == STATE_FAULT);
        CHECK(answers("DISARM", "OK"));
        live(400u);
        fake.arm_switch = false; /* what it missed is made up for: the next ball is one again */
        live(60u);
        arm();
        await_feed(2u);
        pass(3u);
        live(400u);
        said = fake_sent();
        CHECK((count(said, "LEFT 2") == 1u) && (count(said, "FAULT") == 0u));
    }
}

static void test_two_balls_close_behind_each_other_are_two(void)
{
    ready();
    arm();
    await_feed(1u);
    fake.ball_blocked = true;
    fence_ball(0u);
    fake_run(3u);
    fake.ball_blocked = false;
    fake_run(2u);
    fake.ball_blocked = true; /* the second comes to the first sensor before the first to the second */
    fence_ball(0u);
    fake.second_blocked = true;
    fence_ball(1u);
    fake_run(3u);
    fake.ball_blocked = false;
    fake.second_blocked = false;
    fake_run(2u);
    fake.second_blocked = true;
    fence_ball(1u);
    fake_run(3u);
    fake.second_blocked = false;
    live(400u);
    const char *said = fake_sent();
    CHECK((count(said, "LEFT") == 1u) && (count(said, "FAULT 6") == 1u)); /* nobody asked for the other */
    CHECK(count(said, "FAULT 8") == 0u);
}

static void test_each_one_that_is_blocked_shuts_the_gate_and_is_told(void)
{
    ready();
    arm();
    CHECK(feed(1u, 1500u, "OK"));
    live(1250u);
    fake.second_blocked = true; /* about the gate's moment, and past its grace */
    live(200u);
    fake.second_blocked = false;
    live(400u);
    CHECK((fake.gate_openings == 0u) && (state_now() == STATE_ARMED));
    fake.second_blocked = true;
    live(1200u);
    CHECK(state_now() == STATE_FAULT);
    CHECK(strstr(fake_sent(), "FAULT 8 21") != NULL);
    ready();
    arm();
    fake.ball_blocked = true;
    live(1200u);
    CHECK(strstr(fake_sent(), "FAULT 8 11") != NULL);
}

static void test_a_hand_in_one_of_them_without_power_is_nothing(void)
{
    ready();
    pass(1u);
    live(400u);
    CHECK((state_now() == STATE_SAFE) && (strstr(fake_sent(), "FAULT") == NULL));
}

static const core_test_t tests[] = {
    test_a_ball_that_passes_both_is_one_ball,
    test_a_dead_one_is_told_as_itself_and_the_ball_is_counted,
    test_two_balls_close_behind_each_other_are_two,
    test_each_one_that_is_blocked_shuts_the_gate_and_is_told,
    test_a_hand_in_one_of_them_without_power_is_nothing,
};

size_t test_sensors(void)
{
    return RUN_ALL(tests);
}

#else

size_t test_sensors(void)
{
    return 0u;
}

#endif
