/* Axes on stepping motors: built with -DSTEPPERS=3u for both (see the Makefile). The board's axes stand 100
 * steps above their sensor's edge, which lies at 0 degrees; 40 steps are a degree. */
#include "core_tests.h"

#if STEPPERS != 0

#define STEPS_PER_DEG 40
#define TRAVEL_STEPS (90 * STEPS_PER_DEG)

static void set_up(void)
{
    static const int numbers[][2] = {
        {15, 2000}, {16, 2000}, {73, 360 * STEPS_PER_DEG}, {74, 0}, {75, 9000}, {76, 500}, {77, 4000}, {78, 25},
        {79, 360 * STEPS_PER_DEG}, {80, 0}, {81, 9000}, {82, 500}, {83, 4000},
    };
    char command[100];

    ready();
    fake.axis_at[0] = 100;
    fake.axis_at[1] = 100;
    for (size_t i = 0u; i < sizeof numbers / sizeof numbers[0]; i++) {
        (void)snprintf(command, sizeof command, "SET %d %d", numbers[i][0], numbers[i][1]);
        CHECK(answers(command, "OK"));
    }
    (void)snprintf(command, sizeof command, "HASH %064d", 7);
    CHECK(answers(command, "OK"));
    CHECK(answers("ARM 3000 3000 0", "NO 21 84")); /* one is missing still */
    CHECK(answers("SET 84 25", "OK"));
    CHECK(answers(command, "OK"));
}

static void turn_switch(void)
{
    fake.arm_switch = false;
    live(60u);
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(60u);
    fake.arm_switch = true;
    live(60u);
}

static void await_armed(void)
{
    for (unsigned i = 0u; (state_now() == STATE_AWAITING_ARM) && (i < 600u); i++) {
        CHECK((fake.duty[0] == 0u) && (fake.duty[1] == 0u)); /* no drive before that */
        live(50u);
    }
    CHECK(state_now() == STATE_ARMED);
}

static void arm_stepping(void)
{
    turn_switch();
    CHECK((state_now() == STATE_AWAITING_ARM) && fake.power);
    await_armed();
}

/* Within a step of where it ought to be. */
static bool is_at(uint8_t axis, int degrees)
{
    int32_t off = fake.axis_at[axis] - (degrees * STEPS_PER_DEG);

    return (off >= -1) && (off <= 1);
}

static void point(int pan, int tilt)
{
    char command[100];

    (void)snprintf(command, sizeof command, "PREP 0 0 0 %d %d 0", pan * 100, tilt * 100);
    CHECK(answers(command, "OK"));
    live(6000u);
}

static void test_a_rate_under_a_degree_a_second_is_kept_too(void)
{
    set_up();
    CHECK(answers("SET 16 99", "OK"));
    CHECK(answers("SET 82 99", "OK")); /* it starts at its rate */
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000007", "OK"));
    fake.axis_at[1] = 0;
    arm_stepping();
    int32_t from = fake.axis_at[1];
    CHECK(answers("PREP 0 0 0 0 3000 0", "OK"));
    live(4000u);
    int32_t most = (99 * STEPS_PER_DEG * 4) / 100; /* steps in four seconds */
    CHECK(((fake.axis_at[1] - from) <= (most + 1)) && ((fake.axis_at[1] - from) >= (most - 3)));
}

/* What a host reckons with for the first ball is the whole range, and no more. */
static void test_a_home_outside_of_the_range_is_left_before_it_is_armed(void)
{
    set_up();
    CHECK(answers("SET 4 1000", "OK"));
    CHECK(answers("SET 7 -300", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000007", "OK"));
    arm_stepping();
    CHECK(is_at(0u, 10) && is_at(1u, -3));
}

static void test_it_is_armed_only_when_every_axis_has_found_its_place(void)
{
    set_up();
    fake.axis_at[0] = 3 * STEPS_PER_DEG;
    fake.axis_at[1] = -20 * STEPS_PER_DEG; /* from the near side as well */
    turn_switch();
    CHECK(answers("PREP 0 0 0 0 0 0", "NO 4 1"));
    while (state_now() == STATE_AWAITING_ARM) {
        CHECK(fake.duty[0] == 0u);
        live(20u);
    }
    CHECK(state_now() == STATE_ARMED);
    CHECK(is_at(0u, 0) && is_at(1u, 0));
}

static void test_it_points_where_it_is_told(void)
{
    set_up();
    arm_stepping();
    point(20, 30);
    CHECK(is_at(0u, 20) && is_at(1u, 30));
    CHECK(answers("POSE", "OK 2000 3000 0"));
    point(-25, -5);
    CHECK(is_at(0u, -25) && is_at(1u, -5));
}

static void test_a_new_aim_on_the_way_is_reached_without_a_jump(void)
{
    set_up();
    arm_stepping();
    CHECK(answers("PREP 0 0 0 2500 0 0", "OK"));
    live(700u);
    CHECK(fake.axis_at[0] > (2 * STEPS_PER_DEG));
    CHECK(answers("PREP 0 0 0 -2500 0 0", "OK"));
    live(6000u);
    CHECK(is_at(0u, -25));
}

/* Speeds of 20 ms, in steps: none above the rate, and from one to the next no more than the gain, where
 * either is more than it may start with. */
static void test_rate_and_gain_are_kept(void)
{
    set_up();
    arm_stepping();
    CHECK(answers("PREP 0 0 0 2500 0 0", "OK"));
    int32_t speed = 0;
    int32_t most = 0;
    for (unsigned i = 0u; i < 200u; i++) {
        int32_t before = fake.axis_at[0];
        beat();
        fake_run(20u);
        int32_t now = fake.axis_at[0] - before;
        bool brisk = (now > 5) || (speed > 5);
        CHECK(fake.axis_at[0] <= ((25 * STEPS_PER_DEG) + 1)); /* it does not go past */
        CHECK(!brisk || ((now - speed <= 3) && (speed - now <= 3)));
        most = (now > most) ? now : most;
        speed = now;
    }
    CHECK(is_at(0u, 25));
    CHECK((most >= 15) && (most <= 17)); /* 20 degrees a second are 16 */
}

static void test_nothing_opens_before_the_axes_have_arrived(void)
{
    set_up();
    arm_stepping();
    fake.follow_rpm[0] = 2000u;
    fake.follow_rpm[1] = 1500u;
    char command[100];
    (void)snprintf(command, sizeof command, "FEED 1 %u 2000 1500 0 2500 0 0", (unsigned)(board_now_ms() + 900u));
    CHECK(answers(command, "OK"));
    live(2000u);
    CHECK(fake.gate_openings == 0u); /* 25 degrees take longer */
    (void)snprintf(command, sizeof command, "FEED 2 %u 2000 1500 0 2500 0 0", (unsigned)(board_now_ms() + 3000u));
    CHECK(answers(command, "OK"));
    await_gate();
    CHECK(is_at(0u, 25));
}

static bool stops_at_once(void)
{
    int32_t at = fake.axis_at[0];
    bool more = fake.power; /* a stop's run-down keeps the contactor, and makes no step all the same */

    live(2000u);
    return (fake.axis_at[0] == at) && !fake.power && (more || !fake.power);
}

static void half_way_home(void)
{
    set_up();
    fake.axis_at[0] = 30 * STEPS_PER_DEG;
    turn_switch();
    int32_t from = fake.axis_at[0];
    live(500u);
    CHECK((state_now() == STATE_AWAITING_ARM) && (fake.axis_at[0] < from));
}

static void test_every_stop_ends_homing_at_once(void)
{
    static const uint8_t stop[] = {BYTE_STOP};
    static const uint8_t emergency[] = {BYTE_EMERGENCY};

    half_way_home();
    fake_bytes(stop, 1u);
    CHECK(stops_at_once() && (state_now() == STATE_SAFE));
    half_way_home();
    fake_bytes(emergency, 1u);
    CHECK(stops_at_once() && (state_now() == STATE_STOPPED));
    half_way_home();
    fake.loop_open = true;
    fake_run(1u);
    CHECK(stops_at_once() && (state_now() == STATE_STOPPED));
    half_way_home();
    fake.arm_switch = false;
    fake_run(20u);
    CHECK(stops_at_once() && (state_now() == STATE_SAFE));
    half_way_home();
    CHECK(answers("DISARM", "OK"));
    CHECK(stops_at_once() && (state_now() == STATE_SAFE));
    half_way_home();
    CHECK(answers("STOP 1", "OK"));
    CHECK(stops_at_once() && (state_now() == STATE_SAFE));
}

static void test_silence_ends_homing(void)
{
    half_way_home();
    uint32_t last = heard;
    fake_run(2000u);
    CHECK(!fake.power && (state_now() == STATE_SAFE));
    CHECK((fake.stepped_ms - last) <= SILENCE_MS + 5u);
}

static void test_a_main_loop_that_hangs_leaves_the_axes_standing(void)
{
    set_up();
    arm_stepping();
    CHECK(answers("PREP 0 0 0 2500 0 0", "OK"));
    live(900u);
    int32_t at = fake.axis_at[0];
    fake_tick(500u);
    CHECK((fake.axis_at[0] - at) <= (int32_t)STEPS_LEAD_MS);
}

static void test_after_power_was_gone_it_finds_its_place_anew(void)
{
    set_up();
    arm_stepping();
    point(10, 0);
    CHECK(answers("DISARM", "OK"));
    live(500u);
    fake.axis_at[0] += 77; /* somebody leant on it */
    arm_stepping();
    point(10, 0);
    CHECK(is_at(0u, 10));
}

static void test_what_was_wanted_before_a_stop_is_not_made_after_the_next_arming(void)
{
    set_up();
    arm_stepping();
    CHECK(answers("PREP 0 0 0 2500 0 0", "OK"));
    live(900u);
    static const uint8_t emergency[] = {BYTE_EMERGENCY};
    fake_bytes(emergency, 1u);
    live(100u);
    fake.arm_switch = false;
    live(100u);
    CHECK(state_now() == STATE_SAFE);
    int32_t most = fake.axis_at[0];
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(60u);
    fake.arm_switch = true;
    for (unsigned i = 0u; i < 500u; i++) {
        beat();
        fake_run(1u);
        CHECK(fake.axis_at[0] <= most); /* homing goes the other way */
    }
    CHECK(fake.axis_at[0] < most);
}

static void test_a_home_that_is_not_found_is_a_fault_of_its_own(void)
{
    set_up();
    fake.near_dead = true;
    int32_t from = fake.axis_at[0];
    turn_switch();
    for (unsigned i = 0u; (state_now() == STATE_AWAITING_ARM) && (i < 1000u); i++) {
        live(50u);
    }
    CHECK((state_now() == STATE_FAULT) && (state_fault_now() == FAULT_HOME));
    CHECK((from - fake.axis_at[0]) <= (TRAVEL_STEPS + 20));
    fake.near_dead = false;
    fake.near_stuck = true;
    CHECK(answers("DISARM", "OK"));
    live(500u);
    from = fake.axis_at[0];
    turn_switch();
    for (unsigned i = 0u; (state_now() == STATE_AWAITING_ARM) && (i < 1000u); i++) {
        live(50u);
    }
    CHECK((state_now() == STATE_FAULT) && (state_fault_now() == FAULT_HOME));
    CHECK((fake.axis_at[0] - from) <= (TRAVEL_STEPS + 20));
}

/* Whichever way the steps were lost: the edge tells at the next crossing. */
static void test_lost_steps_stop_it_and_it_finds_its_place_again(void)
{
    for (int lost = -60; lost <= 60; lost += 120) {
        set_up();
        arm_stepping();
        point(20, 0);
        fake.axis_at[0] += lost;
        CHECK(answers("PREP 0 0 0 -2000 0 0", "OK"));
        live(3000u);
        CHECK((state_now() == STATE_FAULT) && (state_fault_now() == FAULT_STEPS));
        int32_t at = fake.axis_at[0];
        live(500u);
        CHECK(!fake.power && (fake.axis_at[0] == at));
        CHECK(answers("DISARM", "OK"));
        live(500u);
        arm_stepping();
        point(20, 0);
        CHECK(is_at(0u, 20));
    }
}

static void test_a_play_within_the_slack_is_none(void)
{
    set_up();
    arm_stepping();
    point(20, 0);
    fake.axis_at[0] += 9;
    CHECK(answers("PREP 0 0 0 -13 0 0", "OK")); /* 5 steps below the edge, and the axis 4 above it */
    live(6000u);
    CHECK((fake.axis_at[0] > 0) && (state_now() == STATE_ARMED));
}

static const core_test_t tests[] = {
    test_it_is_armed_only_when_every_axis_has_found_its_place,
    test_it_points_where_it_is_told,
    test_a_new_aim_on_the_way_is_reached_without_a_jump,
    test_rate_and_gain_are_kept,
    test_a_rate_under_a_degree_a_second_is_kept_too,
    test_a_home_outside_of_the_range_is_left_before_it_is_armed,
    test_nothing_opens_before_the_axes_have_arrived,
    test_every_stop_ends_homing_at_once,
    test_silence_ends_homing,
    test_a_main_loop_that_hangs_leaves_the_axes_standing,
    test_after_power_was_gone_it_finds_its_place_anew,
    test_what_was_wanted_before_a_stop_is_not_made_after_the_next_arming,
    test_a_home_that_is_not_found_is_a_fault_of_its_own,
    test_lost_steps_stop_it_and_it_finds_its_place_again,
    test_a_play_within_the_slack_is_none,
};

size_t test_steppers(void)
{
    return RUN_ALL(tests);
}

#else

size_t test_steppers(void)
{
    return 0u;
}

#endif
