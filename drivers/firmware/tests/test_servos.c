/* Axes on servos, whose place nobody knows at power-up. Here they turn 60 degrees at 15 a second: four seconds,
 * and a tenth for the lag. */
#include "core_tests.h"
#include "motion/axes.h"

#define RANGE_MS 4000u
#define LAG_MS 100u
#define STEP_MS 20u
#define AHEAD 1500u /* the pulse of straight ahead */

static void slow(void)
{
    ready();
    CHECK(answers("SET 15 1500", "OK"));
    CHECK(answers("SET 16 1500", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000007", "OK"));
}

/* How long it takes from now until both have arrived. */
static uint32_t arrives(void)
{
    uint32_t began = board_now_ms();

    while (!axes_arrived()) {
        live(1u);
        CHECK((board_now_ms() - began) < 20000u);
    }
    return board_now_ms() - began;
}

static void test_from_the_first_pulse_the_whole_range_is_waited_for_once(void)
{
    slow();
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(60u);
    fake.arm_switch = true;
    while (fake.servo_us[0] == 0u) {
        live(1u);
    }
    uint32_t first = board_now_ms();
    live(60u);
    CHECK(answers("PREP 0 0 0 -2900 4000 0", "OK"));
    CHECK(arrives() > 0u);
    uint32_t waited = board_now_ms() - first;
    CHECK(waited >= (RANGE_MS + LAG_MS - STEP_MS));
    CHECK(waited <= (RANGE_MS + LAG_MS + (2u * STEP_MS)));
}

static void test_once_it_is_known_its_own_way_is_waited_for(void)
{
    slow();
    arm();
    (void)arrives();
    live(STEP_MS);
    CHECK(answers("PREP 0 0 0 1500 0 0", "OK")); /* a second */
    uint32_t waited = arrives();
    CHECK((waited >= (1000u + LAG_MS - (2u * STEP_MS))) && (waited <= (1000u + LAG_MS + (2u * STEP_MS))));
    CHECK(answers("DISARM", "OK"));
    fake.arm_switch = false;
    live(6000u);
    arm();
    CHECK(arrives() <= LAG_MS); /* it stayed where it was */
}

static void test_a_servo_cut_off_on_its_way_is_as_unknown_as_before(void)
{
    slow();
    arm();
    live(1000u);
    CHECK(answers("DISARM", "OK"));
    fake.arm_switch = false;
    live(6000u);
    arm();
    CHECK(arrives() >= (RANGE_MS + LAG_MS - (4u * STEP_MS)));
}

static void test_the_first_pulse_lies_within_the_range(void)
{
    slow();
    CHECK(answers("SET 4 1000", "OK"));
    CHECK(answers("SET 7 -100", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000007", "OK"));
    arm();
    CHECK(fake.servo_us[0] == (AHEAD + 100u));
    CHECK(fake.servo_us[1] == (AHEAD - 10u));
    live(100u);
    CHECK(fake.servo_us[0] == (AHEAD + 100u));
}

/* Told a rate that is no whole stride of a step of time, an axis keeps to it: 10 degrees up at 1.49 a second. */
static void test_a_rate_is_kept_to_whatever_it_is(void)
{
    ready();
    CHECK(answers("SET 5 500", "OK"));
    CHECK(answers("SET 4 -500", "OK"));
    CHECK(answers("SET 15 149", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000007", "OK"));
    arm();
    uint32_t waited = arrives(); /* the whole range */
    CHECK(waited + 200u >= 6711u);
    CHECK(waited <= (6711u + LAG_MS + (2u * STEP_MS)));
    CHECK(answers("PREP 0 0 0 -500 0 0", "OK"));
    (void)arrives();
    CHECK(answers("PREP 0 0 0 500 0 0", "OK"));
    uint32_t began = board_now_ms();
    for (unsigned look = 0u; look < 50u; look++) {
        int32_t gone = (int32_t)axes_position(0u) + 500;
        int32_t most = (149 * (int32_t)(board_now_ms() - began + STEP_MS)) / 1000;
        CHECK((gone <= most) && (gone >= (most - 10)));
        live(100u);
    }
    waited = 5000u + arrives();
    CHECK((waited >= (6711u + LAG_MS - (2u * STEP_MS))) && (waited <= (6711u + LAG_MS + (2u * STEP_MS))));
}

static void test_an_axis_slower_than_a_third_of_a_degree_a_second_is_refused(void)
{
    ready();
    CHECK(answers("SET 15 29", "NO 8 15"));
    CHECK(answers("SET 16 29", "NO 8 16"));
    CHECK(answers("SET 15 0", "NO 8 15"));
    CHECK(answers("SET 4 -100", "OK"));
    CHECK(answers("SET 5 200", "OK"));
    CHECK(answers("SET 15 30", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000007", "OK"));
    arm();
    uint32_t waited = arrives(); /* three degrees */
    CHECK((waited + 200u) >= 10000u);
    CHECK(waited <= (10000u + LAG_MS + (2u * STEP_MS)));
    CHECK(answers("PREP 0 0 0 30 0 0", "OK"));
    waited = arrives();
    CHECK((waited >= (1000u + LAG_MS - (2u * STEP_MS))) && (waited <= (1000u + LAG_MS + (2u * STEP_MS))));
}

size_t test_servos(void)
{
    static const core_test_t tests[] = {
        test_from_the_first_pulse_the_whole_range_is_waited_for_once,
        test_once_it_is_known_its_own_way_is_waited_for,
        test_a_servo_cut_off_on_its_way_is_as_unknown_as_before,
        test_the_first_pulse_lies_within_the_range,
        test_a_rate_is_kept_to_whatever_it_is,
        test_an_axis_slower_than_a_third_of_a_degree_a_second_is_refused,
    };
    return RUN_ALL(tests);
}
