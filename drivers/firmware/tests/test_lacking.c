/* Launchers whose boards declare fewer sensors: built with -DLACKS=1 or 2 (see the Makefile). */
#include "core_tests.h"

#include "store/store.h"

#if LACKS == 1

static void test_what_it_does_not_measure_is_told_as_such(void)
{
    ready();
    CHECK(answers("HELLO 2 2", "OK 2 1 0 709 ")); /* neither voltage nor temperature */
    CHECK(answers("GET 100", "OK 100 -1"));
    CHECK(answers("GET 101", "OK 101 -1"));
}

static void test_a_limit_of_what_it_does_not_measure_is_refused(void)
{
    ready();
    CHECK(answers("SET 18 10000", "NO 19"));
    CHECK(answers("SET 19 80", "NO 19"));
    arm();
}

static void test_with_such_a_limit_from_before_it_does_not_arm_until_it_is_unset(void)
{
    static const struct {
        uint8_t number;
        int32_t value;
        const char *fault;
        const char *unset;
    } kept[] = {
        {NUMBER_LEAST_MV, 0, "NO 16 4", "SET 18 -2147483648"},
        {NUMBER_MOST_C, 80, "NO 16 5", "SET 19 -2147483648"},
    };
    char hash[100];

    (void)snprintf(hash, sizeof hash, "HASH %064d", 7);
    for (size_t i = 0u; i < (sizeof kept / sizeof kept[0]); i++) {
        ready();
        store_set(kept[i].number, kept[i].value);
        CHECK(answers(hash, "OK"));
        CHECK(answers("ARM 3000 3000 0", kept[i].fault));
        CHECK(answers(kept[i].unset, "OK"));
        CHECK(answers(hash, "OK"));
        arm();
    }
}

static void test_no_ball_is_a_jam_where_nobody_sees_whether_one_lies_there(void)
{
    ready();
    fake.ball_ready = false; /* nobody looks at it */
    arm();
    CHECK(feed(1u, 1500u, "OK"));
    await_gate();
    live(2000u);
    CHECK(strstr(fake_sent(), "FAULT 1 0") != NULL);
}

static const core_test_t tests[] = {
    test_what_it_does_not_measure_is_told_as_such,
    test_a_limit_of_what_it_does_not_measure_is_refused,
    test_with_such_a_limit_from_before_it_does_not_arm_until_it_is_unset,
    test_no_ball_is_a_jam_where_nobody_sees_whether_one_lies_there,
};

#elif LACKS == 2

static void test_without_a_ball_sensor_it_never_arms(void)
{
    ready();
    CHECK(answers("HELLO 2 2", "OK 2 1 0 701 "));
    CHECK(answers("ARM 3000 3000 0", "NO 19"));
    fake.arm_switch = true;
    live(200u);
    CHECK((state_now() == STATE_SAFE) && all_off());
}

static const core_test_t tests[] = {test_without_a_ball_sensor_it_never_arms};

#endif

size_t test_lacking(void)
{
#if LACKS > 0
    return RUN_ALL(tests);
#else
    return 0u;
#endif
}
