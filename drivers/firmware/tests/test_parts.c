/* Text, memory of feeds, events and the store, each by itself. */
#include "core_tests.h"

#include "feeding/events.h"
#include "feeding/memory.h"
#include "wire/text.h"

/* ---- text ---- */

static bool reads(const char *text, uint32_t most, uint32_t wanted)
{
    cursor_t cursor = {text, text + strlen(text)};
    uint32_t value = 0u;
    return take_number(&cursor, most, &value) && at_end(&cursor) && (value == wanted);
}

static void test_numbers_are_read_exactly(void)
{
    uint32_t value;
    int32_t whole;
    static const char *const wrong[] = {"", "-1", "01", "00", "+1", "x", "4294967296", "99999999999"};

    CHECK(reads("0", 9u, 0u));
    CHECK(reads("4294967295", 0xFFFFFFFFu, 0xFFFFFFFFu));
    CHECK(!reads("10", 9u, 10u));
    for (size_t i = 0u; i < sizeof wrong / sizeof wrong[0]; i++) {
        cursor_t cursor = {wrong[i], wrong[i] + strlen(wrong[i])};
        CHECK(!take_number(&cursor, 0xFFFFFFFFu, &value));
    }
    cursor_t least = {"-2147483648", &"-2147483648"[11]};
    CHECK(take_signed(&least, 0x80000000u, 0x7FFFFFFFu, &whole) && (whole == INT32_MIN));
    cursor_t minus_zero = {"-0", &"-0"[2]};
    CHECK(!take_signed(&minus_zero, 9u, 9u, &whole));
}

static void test_a_body_never_outgrows_its_place(void)
{
    body_t body;

    body_clear(&body);
    for (unsigned i = 0u; i < 100u; i++) {
        body_number(&body, 0xFFFFFFFFu);
    }
    CHECK(body.length == BODY_MOST);
}

static void test_hexadecimal_has_no_zeros_before(void)
{
    body_t body;

    body_clear(&body);
    body_hex(&body, 0x739u);
    body_hex(&body, 0u);
    CHECK((body.length == 6u) && (memcmp(body.text, " 739 0", 6u) == 0));
}

/* ---- memory ---- */

static void test_memory_settles_what_is_asked_about(void)
{
    feed_record_t record;

    memory_begin();
    CHECK(!memory_open(5u));
    memory_ask(9u, &record);
    CHECK((record.outcome == OUTCOME_NOT_SENT) && (record.reason == REASON_NEVER));
    CHECK(memory_highest() == 9u);
    CHECK(memory_open(5u));
    CHECK(memory_highest() == 9u);
    CHECK(!memory_open(6u));
    CHECK(memory_highest() == 0u);
}

static void test_memory_says_unknown_of_what_it_forgot(void)
{
    feed_record_t record;

    memory_begin();
    (void)memory_open(5u);
    for (uint32_t id = 1u; id <= 20u; id++) {
        memory_accept(id * 2u);
        memory_settle(id * 2u, OUTCOME_LEFT, id, REASON_NONE);
    }
    memory_ask(40u, &record);
    CHECK((record.outcome == OUTCOME_LEFT) && (record.at_ms == 20u));
    memory_ask(8u, &record); /* the fourth of twenty, sixteen are kept */
    CHECK(record.outcome == OUTCOME_UNKNOWN);
    memory_ask(7u, &record); /* never accepted, but the memory does not reach back to it */
    CHECK(record.outcome == OUTCOME_UNKNOWN);
    memory_ask(11u, &record);
    CHECK((record.outcome == OUTCOME_NOT_SENT) && (record.reason == REASON_NEVER));
}

/* ---- events ---- */

static void test_events_are_repeated_while_kept(void)
{
    body_t body;
    uint16_t oldest;

    events_begin();
    for (unsigned i = 1u; i <= 20u; i++) {
        event_put(EVENT_LEFT, i, i, 0);
    }
    CHECK(events_last() == 20u);
    while (events_next(&body)) {
        events_sent();
    }
    CHECK(!events_again(12u, &oldest));
    CHECK(oldest == 13u);
    CHECK(events_again(19u, &oldest));
    CHECK(events_next(&body) && (memcmp(body.text, "! 19 19 LEFT 19", body.length) == 0));
    events_sent();
    CHECK(events_next(&body));
    events_sent();
    CHECK(!events_next(&body));
    CHECK(events_again(21u, &oldest)); /* the next one: nothing to repeat, nothing missing */
    CHECK(!events_next(&body));
}

static void test_event_numbers_wrap(void)
{
    body_t body;
    uint16_t oldest;

    events_begin();
    for (uint32_t i = 1u; i <= 65538u; i++) {
        event_put(EVENT_LEFT, i, i, 0);
    }
    CHECK(events_last() == 2u);
    CHECK(events_again(65535u, &oldest) && (oldest == 65531u));
    CHECK(events_next(&body) && (memcmp(body.text, "! 65535 65535 LEFT 65535", body.length) == 0));
    CHECK(!events_again(65530u, &oldest));
}

/* ---- the store ---- */

static void test_limits_survive_and_spoiled_ones_are_a_fault(void)
{
    ready();
    fake_restart(CAUSE_BROWN_OUT);
    sequence = 0u;
    CHECK(strstr(fake.wires[0].out, "BOOT") == NULL);
    fake_run(30u);
    CHECK(strstr(fake_sent(), "BOOT 2 2") != NULL);
    CHECK(answers("GET 12", "OK 12 40"));
    fake.store[20] ^= 0x10u;
    fake_restart(CAUSE_RESET);
    sequence = 0u;
    fake_run(30u);
    CHECK(strstr(fake_sent(), "FAULT 9 0") != NULL);
    CHECK(answers("GET 12", "OK 12 -2147483648"));
    CHECK(answers("OPEN 1 5", "OK"));
    CHECK(answers("ARM 1 1 0", "NO 16 9"));
}

static void test_boot_counts_over_a_torn_write(void)
{
    fake_reset();
    for (unsigned i = 0u; i < 4u; i++) {
        fake_restart(CAUSE_RESET);
    }
    CHECK(store_boot() == 5u);
    fake.store[0] ^= 0xFFu; /* the supply failed while 6 was written over 4 */
    fake_restart(CAUSE_BROWN_OUT);
    CHECK(store_boot() == 6u);
    fake_restart(CAUSE_RESET);
    CHECK(store_boot() == 7u);
}

static void test_nonsense_is_no_limit(void)
{
    ready();
    CHECK(answers("SET 12 0", "NO 8 12"));
    CHECK(answers("SET 64 0", "NO 8 64"));
    CHECK(answers("SET 3 1", "NO 8 3"));
    CHECK(answers("SET 50 1", "NO 19"));
    CHECK(answers("SET 10 -2147483648", "OK"));
    CHECK(answers("ARM 1 1 0", "NO 21 10"));
}

static void test_a_missing_number_is_told_by_its_own(void)
{
    char told[20];

    for (unsigned number = NUMBER_BOARD; number <= NUMBER_BOARD_LAST; number++) {
        ready();
        store_set((uint8_t)number, INT32_MIN);
        (void)snprintf(told, sizeof told, "NO 21 %u", number);
        CHECK(answers("ARM 1 1 0", told));
    }
}

size_t test_parts(void)
{
    static const core_test_t tests[] = {
        test_numbers_are_read_exactly,
        test_a_body_never_outgrows_its_place,
        test_hexadecimal_has_no_zeros_before,
        test_memory_settles_what_is_asked_about,
        test_memory_says_unknown_of_what_it_forgot,
        test_events_are_repeated_while_kept,
        test_event_numbers_wrap,
        test_limits_survive_and_spoiled_ones_are_a_fault,
        test_boot_counts_over_a_torn_write,
        test_nonsense_is_no_limit,
        test_a_missing_number_is_told_by_its_own,
    };

    return RUN_ALL(tests);
}
