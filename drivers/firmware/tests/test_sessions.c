/* Sequence numbers, openings, and who may say what. */
#include "core_tests.h"

#include "feeding/memory.h"
#include "link/link.h"

static void test_a_repeated_line_acts_once(void)
{
    char body[80];

    ready();
    arm();
    sequence++;
    (void)snprintf(body, sizeof body, "%u FEED 1 %u 0 0 0 0 0 0", sequence,
                   (unsigned)(board_now_ms() + 2000u));
    for (unsigned i = 0u; i < 3u; i++) {
        (void)fake_sent();
        fake_line(body);
        fake_run(5u);
        CHECK(strstr(fake_sent(), " OK*") != NULL); /* the stored reply, not NO 7 */
    }
    live(2500u);
    CHECK(fake.gate_openings == 1u);
    sequence--;
    CHECK(feed(2u, 2000u, "OK")); /* that number is answered with its old reply ... */
    CHECK(answers("HIST 2", "OK 2 N 0 15")); /* ... and nothing was queued */
}

static void test_an_overtaken_line_never_acts(void)
{
    ready();
    arm();
    sequence += 5u;
    CHECK(answers("STAT", "OK"));
    sequence -= 3u;
    (void)fake_sent();
    fake_line("0 GO"); /* stands for any lower number */
    fake_run(5u);
    CHECK(fake_sent()[0] == '\0');
    sequence += 3u;
    CHECK(answers("CNTS", "OK 0 1 0 0"));
}

static void test_a_number_far_ahead_is_none_that_the_host_has_reached(void)
{
    char body[40];

    ready();
    CHECK(answers("STAT", "OK"));
    (void)snprintf(body, sizeof body, "%u STAT", sequence + SEQUENCE_AHEAD + 1u);
    (void)fake_sent();
    fake_line(body);
    fake_run(5u);
    CHECK(fake_sent()[0] == '\0');
    sequence += SEQUENCE_AHEAD - 1u;
    CHECK(answers("CNTS", "OK 0 1 0 0"));
}

/* A keyed opening with this counter; whether it was taken. */
static bool opens_keyed(uint32_t counter, unsigned nonce)
{
    char body[40];

    (void)snprintf(body, sizeof body, "900 OPEN 9 %u", nonce);
    (void)fake_sent();
    keyed_line(body, 0u, counter);
    fake_run(5u);
    return strstr(fake_sent(), "900 OK") != NULL;
}

static void test_a_counter_far_ahead_burns_nothing(void)
{
    char pair[80];

    ready();
    (void)snprintf(pair, sizeof pair, "PAIR %064d", 7);
    CHECK(answers(pair, "OK"));
    CHECK(!opens_keyed(0xFFFFFFFFu, 300u));
    CHECK(!opens_keyed(COUNTER_AHEAD + 1u, 301u));
    CHECK(link_host_counter() == 0u);
    CHECK(opens_keyed(COUNTER_AHEAD, 302u));
    CHECK(link_host_counter() == COUNTER_AHEAD);
    CHECK(!opens_keyed(1u, 303u));
    CHECK(!opens_keyed((2u * COUNTER_AHEAD) + 1u, 304u));
    CHECK(opens_keyed(2u * COUNTER_AHEAD, 305u));
}

static void test_a_port_that_needs_the_key_is_shut_last_and_opened_by_the_jumper(void)
{
    char command[80];

    ready();
    CHECK(answers("SET 20 1", "NO 13")); /* nobody has a key */
    (void)snprintf(command, sizeof command, "PAIR %064d", 7);
    CHECK(answers(command, "OK"));
    CHECK(answers("SET 20 1", "OK"));
    (void)snprintf(command, sizeof command, "OK %064d", 7);
    CHECK(answers("HASH", command)); /* the set of limits is as valid as before */
    CHECK(answers("SET 1 4000", "NO 13"));
    fake.jumper = true;
    CHECK(answers("SET 1 3900", "OK"));
    CHECK(answers("SET 20 0", "OK"));
    fake.jumper = false;
    CHECK(answers("SET 1 4000", "OK"));
}

static void test_each_launcher_has_a_number_of_its_own(void)
{
    ready();
    CHECK(answers("WHO", "OK reference-new"));
    CHECK(answers("GET 21", "OK 21 -2147483648"));
    CHECK(answers("SET 21 0", "NO 8 21"));
    CHECK(answers("SET 21 43981", "OK") && answers("WHO", "OK reference-0000ABCD"));
    CHECK(answers("GET 21", "OK 21 43981"));
    fake_restart(CAUSE_POWER);
    fake_run(30u);
    CHECK(answers("WHO", "OK reference-0000ABCD"));
    CHECK(answers("GET 1", "OK 1 4000")); /* what was stored before stands where it stood */
}

static void test_counts_stop_at_their_most(void)
{
    ready();
    for (uint32_t i = 0u; i < 65600u; i++) {
        fake_bytes((const uint8_t *)"x\n", 2u);
        fake_run(1u);
    }
    CHECK(answers("CNTS", "OK 65535 0 0 0"));
}

static void test_opening_makes_safe_and_keeps_the_memory(void)
{
    ready();
    CHECK(answers("OPEN 9 100", "OK 0 0 0"));
    arm();
    CHECK(feed(4u, 3000u, "OK"));
    CHECK(answers("OPEN 9 101", "OK 1 4 0"));
    CHECK(state_now() == STATE_STOPPING);
    fake_run(300u);
    CHECK(answers("HIST 4", "OK 4 N 0 9"));
    CHECK(answers("HIST 7", "OK 7 N 0 15"));
    fake.arm_switch = false;
    arm();
    CHECK(feed(7u, 3000u, "NO 7 7"));
    CHECK(answers("OPEN 10 102", "OK 0 0 0"));
    (void)fake_sent();
    fake_line("3 OPEN 9 100"); /* long on its way: it opens nothing */
    fake_run(5u);
    CHECK(strstr(fake_sent(), "3 OK") == NULL);
    CHECK(answers("HIST 7", "OK 7 N 0 15") && (memory_highest() == 7u));
    CHECK(answers("OPEN 10 103", "OK 1 7 0"));
}

static void test_opening_waits_for_the_ball_that_is_on_its_way(void)
{
    ready();
    CHECK(answers("OPEN 9 100", "OK 0 0 0"));
    arm();
    CHECK(feed(4u, 2000u, "OK"));
    while (!fake.gate) {
        live(1u);
    }
    for (unsigned i = 0u; i < 2u; i++) {
        (void)fake_sent();
        fake_line("900 OPEN 10 101");
        fake_run(5u);
        CHECK(!fake.gate && (strstr(fake_sent(), " OK") == NULL));
        CHECK(memory_left() == 0u);
    }
    fake_ball();
    const char *sent = fake_sent(); /* the ball first, then the reply that waited for it */
    const char *left = strstr(sent, "LEFT 4");
    const char *reply = strstr(sent, "900 OK 0 0 0");
    CHECK((left != NULL) && (reply != NULL) && (left < reply));
    CHECK(memory_left() == 0u); /* booked on the session that fed it, which is over */
    (void)fake_sent();
    fake_line("900 OPEN 10 101");
    fake_run(5u);
    CHECK(strstr(fake_sent(), "900 OK 0 0 0") != NULL);
}

static void test_a_malformed_opening_does_nothing(void)
{
    ready();
    arm();
    CHECK(answers("OPEN 9", "NO 1"));
    CHECK(answers("OPEN 9 100 1", "NO 1"));
    CHECK(state_now() == STATE_ARMED);
    (void)fake_sent();
    fake_line("1 OPEN 9 x"); /* nor does it pass the sequence */
    fake_run(5u);
    CHECK(strstr(fake_sent(), "1 NO") == NULL);
}

static void test_four_openings_are_remembered(void)
{
    ready();
    CHECK(answers("OPEN 9 101", "OK"));
    CHECK(answers("OPEN 9 102", "OK"));
    CHECK(answers("OPEN 9 103", "OK"));
    CHECK(answers("OPEN 10 104", "OK"));
    (void)fake_sent();
    fake_line("700 OPEN 9 101");
    fake_run(5u);
    CHECK(strstr(fake_sent(), "700 ") == NULL);
    CHECK(answers("HIST 1", "OK 1 N 0 15"));
    CHECK(answers("OPEN 10 105", "OK 1 1 0")); /* still session 10 */
}

static void test_an_opening_ends_a_fault_whose_cause_is_gone(void)
{
    ready();
    arm();
    fake_ball(); /* a stray one */
    live(400u);
    CHECK(state_now() == STATE_FAULT);
    CHECK(answers("OPEN 9 200", "OK"));
    CHECK((state_now() == STATE_SAFE) && (state_reason() == REASON_OPENED));
}

static void test_without_a_session_nothing_but_reading(void)
{
    fake_reset();
    fake_run(30u);
    CHECK(answers("ARM 1 1 0", "NO 3"));
    CHECK(answers("SET 1 4000", "NO 3"));
    CHECK(answers("HELLO 3 4", "NO 18 2 2"));
    CHECK(answers("WHO", "OK"));
    CHECK(answers("GET 1", "OK 1 -2147483648"));
    CHECK(answers("GET 99", "OK 99 -2147483648"));
    CHECK(answers("STOP 2", "NO 1"));
    CHECK(answers("STOP 1", "OK"));
}

size_t test_sessions(void)
{
    static const core_test_t tests[] = {
        test_a_repeated_line_acts_once,
        test_an_overtaken_line_never_acts,
        test_a_number_far_ahead_is_none_that_the_host_has_reached,
        test_a_counter_far_ahead_burns_nothing,
        test_a_port_that_needs_the_key_is_shut_last_and_opened_by_the_jumper,
        test_each_launcher_has_a_number_of_its_own,
        test_counts_stop_at_their_most,
        test_opening_makes_safe_and_keeps_the_memory,
        test_opening_waits_for_the_ball_that_is_on_its_way,
        test_a_malformed_opening_does_nothing,
        test_four_openings_are_remembered,
        test_an_opening_ends_a_fault_whose_cause_is_gone,
        test_without_a_session_nothing_but_reading,
    };

    return RUN_ALL(tests);
}
