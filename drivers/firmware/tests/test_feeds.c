/* Feeds: when a ball leaves, when it does not, and what becomes of it. */
#include "core_tests.h"
#include "feeding/feeder.h"
#include "launcher.h"
#include "motion/drives.h"

static void test_a_feed_opens_the_gate_once_at_its_moment(void)
{
    ready();
    arm();
    CHECK(feed(1u, 3000u, "OK"));
    uint32_t leave = board_now_ms() - 5u + 3000u;
    while (!fake.gate && (fake.gate_openings == 0u)) {
        live(1u);
        CHECK(board_now_ms() < (leave + 100u));
    }
    CHECK(board_now_ms() == (leave - 150u)); /* the gate's lead */
    live(150u);
    fake_ball();
    CHECK(strstr(fake_sent(), "LEFT 1") != NULL);
    CHECK(feed(1u, 2000u, "NO 7 1"));
    live(3000u);
    CHECK(fake.gate_openings == 1u);
}

static void test_the_clock_may_wrap_under_a_feed(void)
{
    ready();
    fake.now_ms += 0xFFFFF000u - board_now_ms(); /* fifty days later, four seconds before zero */
    arm();
    CHECK(feed(1u, 6000u, "OK"));
    uint32_t leave = board_now_ms() - 5u + 6000u;
    CHECK(leave < 6000u);
    while (fake.gate_openings == 0u) {
        live(1u);
        CHECK((int32_t)(board_now_ms() - leave) < 0);
    }
    CHECK(board_now_ms() == (leave - 150u));
    live(150u);
    fake_ball();
    CHECK(strstr(fake_sent(), "LEFT 1") != NULL);
    CHECK(feed(2u, 2000u, "OK") && (state_now() == STATE_ARMED));
}

static void test_a_feed_is_refused_for_every_reason(void)
{
    ready();
    arm();
    CHECK(feed(5u, 149u, "NO 10"));
    CHECK(feed(5u, 120500u, "NO 12 120000"));
    CHECK(feed(5u, 2000u, "OK"));
    CHECK(feed(5u, 4000u, "NO 7 5"));
    CHECK(feed(6u, 2100u, "NO 11 500"));
    CHECK(answers("FEED 7 9000 4001 0 0 0 0 0", "NO 8 1"));
    CHECK(answers("FEED 7 9000 -1 0 0 0 0 0", "NO 8 1"));
    CHECK(answers("FEED 7 9000 0 0 1 0 0 0", "NO 8 3"));
    CHECK(answers("FEED 7 9000 0 0 0 -3001 0 0", "NO 8 4"));
    CHECK(answers("FEED 7 9000 0 0 0 3001 0 0", "NO 8 5"));
    CHECK(answers("FEED 7 9000 0 0 0 0 0 1", "NO 8 9"));
    CHECK(answers("FEED 7 9000 3001 0 0 0 0 0", "NO 9 1"));
    CHECK(answers("FEED 0 9000 0 0 0 0 0 0", "NO 1"));
    CHECK(feed(6u, 4000u, "OK"));
    CHECK(feed(7u, 6000u, "OK"));
    CHECK(feed(8u, 8000u, "OK"));
    CHECK(feed(9u, 10000u, "NO 6"));
    CHECK(answers("PREP 0 0 0 0 0 0", "NO 6"));
    CHECK(answers("HOLD", "OK"));
    CHECK(feed(9u, 10000u, "NO 5"));
    CHECK(fake.gate_openings == 0u);
}

static void test_wheels_off_speed_send_no_ball(void)
{
    ready();
    arm();
    CHECK(feed(1u, 1500u, "OK"));
    fake.follow_rpm[0] = 1900u; /* the tolerance is 40 */
    live(2000u);
    CHECK(fake.gate_openings == 0u);
    CHECK(strstr(fake_sent(), "MISS 1 12") != NULL);
}

static void test_a_flush_reports_every_feed_once(void)
{
    ready();
    arm();
    CHECK(feed(1u, 3000u, "OK"));
    CHECK(feed(2u, 5000u, "OK"));
    (void)fake_sent();
    fake_bytes((const uint8_t *)"\x10", 1u);
    fake_run(20u);
    const char *sent = fake_sent();
    CHECK((strstr(sent, "MISS 1 2") != NULL) && (strstr(sent, "MISS 2 2") != NULL));
    CHECK(answers("GO", "OK"));
    live(6000u);
    CHECK(fake.gate_openings == 0u);
    CHECK(strstr(fake_sent(), "MISS") == NULL);
    CHECK(answers("HIST 1", "OK 1 N 0 2"));
}

/* The gate opens in the interrupt; a stop comes before the main loop has seen it. */
static void test_a_ball_whose_gate_has_opened_is_not_said_to_be_missed(void)
{
    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    uint32_t leave = board_now_ms() - 5u + 2000u;
    while (board_now_ms() < (leave - 151u)) {
        live(1u);
    }
    (void)fake_sent();
    fake_tick(1u);
    CHECK(fake.gate && (fake.gate_openings == 1u));
    fake_bytes((const uint8_t *)"\x10", 1u);
    fake_run(400u); /* past the clearing time */
    const char *sent = fake_sent();
    CHECK(strstr(sent, "MISS 1") == NULL);
    CHECK(strstr(sent, "LOST 1 2") != NULL); /* it may have left: nobody saw it */
}

static void test_hold_is_acknowledged_when_no_ball_can_leave(void)
{
    char body[40];

    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    await_gate();
    sequence++;
    (void)snprintf(body, sizeof body, "%u HOLD", sequence);
    (void)fake_sent();
    fake_line(body);
    fake_run(2u);
    CHECK(!fake.gate); /* at once */
    live(250u);
    CHECK(strstr(fake_sent(), "OK") == NULL);
    live(100u); /* clearing time: 300 ms */
    const char *sent = fake_sent();
    CHECK((strstr(sent, "LOST 1 1") != NULL) && (strstr(sent, " OK") != NULL));
    CHECK(state_now() == STATE_HELD); /* no fault */
    CHECK(answers("HIST 1", "OK 1 U 0 1"));
}

static void test_jam_and_empty(void)
{
    for (int there = 0; there < 2; there++) {
        ready();
        fake.ball_ready = there != 0;
        arm();
        CHECK(feed(1u, 1500u, "OK"));
        live(3200u);
        CHECK(state_now() == STATE_FAULT);
        const char *sent = fake_sent();
        CHECK(strstr(sent, (there != 0) ? "FAULT 1 0" : "FAULT 2 0") != NULL);
        CHECK(strstr(sent, "LOST 1 10") != NULL);
        live(400u);
        CHECK(all_off());
        CHECK(answers("DISARM", "OK"));
        CHECK(state_now() == STATE_SAFE);
    }
}

static void test_stray_ball_is_a_fault(void)
{
    ready();
    arm();
    fake_ball();
    CHECK(state_now() == STATE_FAULT);
    CHECK(strstr(fake_sent(), "FAULT 6 0") != NULL);
}

static void test_dead_tachometer_is_a_fault_and_runs_nothing_away(void)
{
    ready();
    arm();
    CHECK(answers("PREP 1000 1000 0 0 0 0", "OK"));
    live(1200u);
    CHECK(state_now() == STATE_FAULT);
    CHECK(strstr(fake_sent(), "FAULT 10 1") != NULL);
    CHECK(fake.duty[0] <= 130u);
}

static void test_a_wheel_above_the_ceiling_is_a_fault(void)
{
    ready();
    arm();
    CHECK(answers("PREP 3000 3000 0 0 0 0", "OK"));
    fake.follow_rpm[0] = 3100u;
    fake.follow_rpm[1] = 3000u;
    live(500u);
    CHECK(strstr(fake_sent(), "FAULT 7 1") != NULL);
}

static void test_a_wheel_that_does_not_reach_its_speed_is_a_fault(void)
{
    ready();
    arm();
    CHECK(answers("PREP 2000 1500 0 0 0 0", "OK"));
    fake.follow_rpm[0] = 2000u;
    fake.follow_rpm[1] = 1400u; /* the tolerance is 40 */
    live(4800u);
    CHECK(state_now() == STATE_ARMED);
    live(400u);
    CHECK(strstr(fake_sent(), "FAULT 3 2") != NULL);
    CHECK(state_now() == STATE_FAULT);
}

/* Speeds in which wheel 1 turns though 2,000 are asked of both. */
static void slow_down_to(uint16_t rpm)
{
    ready();
    arm();
    CHECK(answers("PREP 2000 2000 0 0 0 0", "OK"));
    fake.follow_rpm[0] = 2000u;
    fake.follow_rpm[1] = 2000u;
    live(1000u);
    fake.follow_rpm[0] = rpm;
    (void)fake_sent();
}

static void test_a_wheel_that_loses_its_speed_is_told_from_one_that_never_had_it(void)
{
    slow_down_to(1700u);
    live(900u);
    CHECK(state_now() == STATE_ARMED);
    live(400u);
    CHECK(strstr(fake_sent(), "FAULT 11 1") != NULL);
    CHECK((state_now() == STATE_FAULT) && !fake.gate);
}

static void test_what_a_ball_takes_is_no_lost_speed(void)
{
    slow_down_to(1860u);
    live(3000u);
    CHECK(state_now() == STATE_ARMED); /* out of tolerance: that ends as fault 3 after five seconds */
    slow_down_to(1500u);
    live(800u);
    fake.follow_rpm[0] = 2000u;
    live(600u);
    CHECK(state_now() == STATE_ARMED);
}

static void test_a_hot_motor_is_a_fault(void)
{
    ready();
    CHECK(answers("SET 19 80", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000001", "OK"));
    arm();
    fake.temperature_c = 81;
    live(700u);
    CHECK(strstr(fake_sent(), "FAULT 5 81") != NULL);
    fake.arm_switch = false;
    live(400u);
    CHECK(answers("DISARM", "NO 16 5"));
    CHECK(answers("ARM 1 1 0", "NO 16 5"));
    fake.temperature_c = 80;
    CHECK(answers("DISARM", "OK"));
}

static void test_of_several_motors_the_hottest_counts(void)
{
    for (unsigned hot = 0u; hot < 2u; hot++) {
        ready();
        CHECK(answers("SET 19 80", "OK"));
        CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000001", "OK"));
        fake.temperature_c = (hot == 0u) ? 81 : -5;
        fake.second_c = (hot == 0u) ? -5 : 81;
        CHECK(answers("GET 101", "OK 101 81"));
        CHECK(answers("ARM 1 1 0", "NO 16 5"));
    }
    fake.temperature_c = -7;
    fake.second_c = -6;
    CHECK(answers("GET 101", "OK 101 -6"));
    arm();
}

static void test_a_blocked_ball_sensor_is_a_fault(void)
{
    ready();
    fake.ball_blocked = true;
    live(600u);
    CHECK(answers("ARM 3000 3000 0", "NO 16 8"));
    fake.ball_blocked = false;
    live(10u);
    arm();
    fake.ball_blocked = true; /* no edge was seen: stuck, not a ball */
    live(1200u);
    CHECK(strstr(fake_sent(), "FAULT 8 1") != NULL);
}

static void pass_beam(uint32_t blocked_ms)
{
    fake.ball_blocked = true;
    fence_ball(0u);
    fake_run(blocked_ms);
    fake.ball_blocked = false;
}

static void test_the_second_of_two_balls_is_counted(void)
{
    static const uint32_t gaps[] = {5u, 10u, 25u, 60u}; /* from one ball's front to the next's */

    for (size_t i = 0u; i < sizeof gaps / sizeof gaps[0]; i++) {
        ready();
        arm();
        CHECK(feed(1u, 2000u, "OK"));
        await_gate();
        (void)fake_sent();
        pass_beam(3u);
        fake_run(gaps[i] - 3u);
        pass_beam(3u);
        fake_run(20u);
        const char *sent = fake_sent();
        CHECK((strstr(sent, "LEFT 1") != NULL) && (strstr(sent, "FAULT 6 0") != NULL));
        CHECK(state_now() == STATE_FAULT);
    }
}

static void test_the_edges_of_one_ball_are_one_ball(void)
{
    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    await_gate();
    fake.ball_blocked = true;
    for (unsigned i = 0u; i < 5u; i++) {
        fence_ball(0u); /* fuzz before the beam */
        fake_run(1u);
    }
    fake.ball_blocked = false;
    fake_run(50u);
    CHECK(state_now() == STATE_ARMED);
    CHECK(strstr(fake_sent(), "FAULT") == NULL);
}

static void test_the_gate_does_not_open_onto_a_blocked_beam(void)
{
    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    live(1700u);
    fake.ball_blocked = true; /* from 150 ms before the gate's moment, past the grace */
    live(300u);
    fake.ball_blocked = false;
    live(400u);
    CHECK(fake.gate_openings == 0u);
    CHECK(strstr(fake_sent(), "MISS 1 12") != NULL);
}

static void test_a_ball_that_only_the_wheels_felt_is_a_dead_sensor(void)
{
    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    await_gate();
    live(150u);
    fake.follow_rpm[0] = 1870u; /* slowed, and back at speed */
    fake.follow_rpm[1] = 1400u;
    live(100u);
    fake.follow_rpm[0] = 2000u;
    fake.follow_rpm[1] = 1500u;
    live(1500u);
    const char *sent = fake_sent();
    CHECK((strstr(sent, "LOST 1 10") != NULL) && (strstr(sent, "FAULT 8 2") != NULL));
}

/* Whatever asks for it: the gate belongs to armed alone. */
static void test_a_feed_in_the_queue_of_what_is_held_stays_there(void)
{
    ready();
    arm();
    CHECK(answers("HOLD", "OK"));
    const feed_t feed = {9u, board_now_ms() + 1000u, {{0u, 0u}, {0, 0}}};
    feeder_add(&feed);
    live(3000u);
    CHECK((fake.gate_openings == 0u) && (state_now() == STATE_HELD));
}

static void test_no_stored_number_holds_the_gate_open(void)
{
    ready();
    store_set(NUMBER_GATE_MS, 5000);
    fake_run(5u);
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    await_gate();
    live(2u);
    CHECK(!fake.gate);
}

/* The main loop comes late, and more pulses have come than 32 bits of product hold. */
static void test_a_wheel_past_all_measure_never_reads_slow(void)
{
    for (uint32_t late = 20u; late < 400u; late += 3u) {
        for (int per_turn = 1; per_turn <= 6; per_turn++) {
            ready();
            store_set(NUMBER_PULSES, per_turn);
            fake_run(5u);
            arm();
            fake.follow_rpm[0] = 65000u; /* with six pulses a turn */
            live(60u);
            fake_tick(late);
            drives_step(board_now_ms());
            CHECK(drives_measured(0u) >= 45000u);
        }
    }
}

static void test_a_fault_after_an_emergency_stop_stays_an_emergency_stop(void)
{
    ready();
    arm();
    CHECK(answers("STOP 0", "OK"));
    (void)fake_sent();
    fake_ball();
    CHECK(strstr(fake_sent(), "FAULT 6 0") != NULL); /* told of ... */
    CHECK(state_now() == STATE_STOPPED);
    CHECK(answers("DISARM", "NO 15")); /* ... and nothing else changes */
}

static void test_low_voltage_is_a_fault_while_it_lasts(void)
{
    ready();
    CHECK(answers("SET 18 11000", "OK"));
    CHECK(answers("ARM 3000 3000 0", "NO 21 0")); /* a new limit: the hash must be stored anew */
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000001", "OK"));
    arm();
    fake.supply_mv = 10000;
    live(700u);
    CHECK(state_now() == STATE_FAULT);
    CHECK(strstr(fake_sent(), "FAULT 4 10000") != NULL);
    CHECK(answers("DISARM", "NO 16 4"));
    fake.supply_mv = 12000;
    CHECK(answers("DISARM", "OK"));
}

size_t test_feeds(void)
{
    static const core_test_t tests[] = {
        test_a_feed_opens_the_gate_once_at_its_moment,
        test_the_clock_may_wrap_under_a_feed,
        test_a_feed_is_refused_for_every_reason,
        test_wheels_off_speed_send_no_ball,
        test_a_flush_reports_every_feed_once,
        test_a_ball_whose_gate_has_opened_is_not_said_to_be_missed,
        test_hold_is_acknowledged_when_no_ball_can_leave,
        test_jam_and_empty,
        test_stray_ball_is_a_fault,
        test_dead_tachometer_is_a_fault_and_runs_nothing_away,
        test_a_wheel_above_the_ceiling_is_a_fault,
        test_a_wheel_that_does_not_reach_its_speed_is_a_fault,
        test_a_wheel_that_loses_its_speed_is_told_from_one_that_never_had_it,
        test_what_a_ball_takes_is_no_lost_speed,
        test_a_hot_motor_is_a_fault,
        test_of_several_motors_the_hottest_counts,
        test_a_blocked_ball_sensor_is_a_fault,
        test_the_second_of_two_balls_is_counted,
        test_the_edges_of_one_ball_are_one_ball,
        test_the_gate_does_not_open_onto_a_blocked_beam,
        test_a_ball_that_only_the_wheels_felt_is_a_dead_sensor,
        test_a_feed_in_the_queue_of_what_is_held_stays_there,
        test_no_stored_number_holds_the_gate_open,
        test_a_wheel_past_all_measure_never_reads_slow,
        test_a_fault_after_an_emergency_stop_stays_an_emergency_stop,
        test_low_voltage_is_a_fault_while_it_lasts,
    };

    return RUN_ALL(tests);
}
