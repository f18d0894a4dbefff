/* The log of faults: what is kept, what a failing supply leaves of it, and that nothing else heeds it. */
#include "core_tests.h"
#include "store/fault_log.h"

#define ROW_WRITES 9u /* eight bytes, the first of them twice */

/* One fault whose detail is a number of the test's own, with all that comes after it. */
static void heat(int32_t degrees)
{
    arm();
    fake.temperature_c = degrees;
    live(700u);
    CHECK(state_now() == STATE_FAULT);
    fake.temperature_c = 25;
    fake.arm_switch = false;
    live(600u);
    CHECK(answers("DISARM", "OK"));
    live(100u);
    CHECK(state_now() == STATE_SAFE);
}

static void ready_to_heat(void)
{
    ready();
    CHECK(answers("SET 19 80", "OK"));
    CHECK(answers("HASH 0000000000000000000000000000000000000000000000000000000000000001", "OK"));
}

static void restart(uint8_t cause)
{
    fake_restart(cause);
    sequence = 0u;
    live(100u);
}

static bool newest_is(uint8_t what, int16_t detail)
{
    log_row_t row;

    return fault_log_read(0u, &row) && (row.what == what) && (row.detail == detail);
}

static void test_an_empty_log_says_so(void)
{
    fake_reset();
    fake_run(30u);
    CHECK(answers("LOG 0", "NO 17 0"));
    CHECK(answers("LOG 65535", "NO 17 0"));
    CHECK(answers("LOG", "NO 1"));
}

static void test_a_fault_is_kept_over_a_restart(void)
{
    ready_to_heat();
    live(7000u);
    heat(99);
    CHECK(answers("LOG 0", "OK 1 7 5 99"));
    restart(CAUSE_POWER);
    CHECK(answers("LOG 0", "OK 1 7 5 99"));
    CHECK(answers("LOG 1", "NO 17 1"));
}

static void test_every_start_but_by_power_is_kept(void)
{
    fake_reset();
    for (uint8_t cause = CAUSE_RESET; cause <= CAUSE_WATCHDOG; cause++) {
        restart(cause);
        CHECK(newest_is((uint8_t)(LOG_START + cause), 0));
    }
    restart(CAUSE_POWER);
    CHECK(newest_is(LOG_START + CAUSE_WATCHDOG, 0) && (fault_log_kept() == 3u));
}

static void test_the_last_thirty_two_are_kept_the_newest_first(void)
{
    log_row_t row;

    ready_to_heat();
    for (int32_t i = 0; i < 250; i++) { /* more rounds than a row can tell apart */
        fault_log_add((uint8_t)FAULT_TEMPERATURE, i);
        fake_run(20u);
        if ((i % 7) == 0) {
            restart(CAUSE_POWER);
        }
        uint8_t kept = (i < 32) ? (uint8_t)(i + 1) : (uint8_t)LOG_ROWS;
        CHECK(fault_log_kept() == kept);
        for (uint8_t back = 0u; back < kept; back++) {
            CHECK(fault_log_read(back, &row) && (row.detail == (i - back)));
        }
        CHECK(!fault_log_read(kept, &row));
    }
}

/* Old, none or new: what a supply that fails at any write leaves of a row, and of all the others. */
static void cut_at(unsigned write, int32_t before)
{
    ready_to_heat();
    for (int32_t i = 0; i < before; i++) {
        fault_log_add((uint8_t)FAULT_TEMPERATURE, i);
        fake_run(20u);
    }
    fake.writes = 0u;
    fake.writes_most = write;
    heat(99);
    CHECK(fake.writes == ROW_WRITES);
    fake.writes_most = 0u;
    fake_restart(CAUSE_BROWN_OUT);
    log_row_t row;
    uint8_t at = 0u;
    if (fault_log_read(0u, &row) && (row.detail == 99)) {
        CHECK(write == ROW_WRITES);
        at = 1u;
    }
    int32_t oldest = (before > 31) ? (before - 31) : 0; /* the one whose place it was may be gone */
    for (int32_t i = before - 1; i >= oldest; i--) {
        CHECK(fault_log_read(at, &row) && (row.detail == i));
        at++;
    }
    fake_run(100u);
    CHECK(newest_is(LOG_START + CAUSE_BROWN_OUT, 0));
    CHECK((state_now() == STATE_SAFE) && all_off() && (store_number(NUMBER_MOST_C) == 80));
}

static void test_a_supply_that_fails_at_any_write_leaves_whole_rows(void)
{
    static const int32_t before[] = {0, 1, 5, 31, 32, 40, 63, 64};

    for (size_t i = 0u; i < sizeof before / sizeof before[0]; i++) {
        for (unsigned write = 1u; write <= ROW_WRITES; write++) {
            cut_at(write, before[i]);
        }
    }
}

static void test_a_spoiled_row_is_left_out(void)
{
    log_row_t row;

    ready_to_heat();
    for (int32_t i = 0; i < 3; i++) {
        fault_log_add((uint8_t)FAULT_TEMPERATURE, i);
        fake_run(20u);
    }
    fake.store[STORE_LOG_AT + 8u + 5u] ^= 0x20u;
    CHECK(fault_log_kept() == 2u);
    CHECK(fault_log_read(0u, &row) && (row.detail == 2));
    CHECK(fault_log_read(1u, &row) && (row.detail == 0));
}

/* Balls through the sensor of a launcher in *fault* are told of, and write nothing. */
static void test_one_arming_writes_one_row(void)
{
    ready_to_heat();
    arm();
    fake_ball();
    CHECK(state_now() == STATE_FAULT);
    live(600u);
    unsigned before = fake.writes;
    (void)fake_sent();
    for (unsigned i = 0u; i < 20u; i++) {
        fake_ball();
        live(300u);
    }
    CHECK(strstr(fake_sent(), "FAULT 6 0") != NULL);
    CHECK((fake.writes == before) && (fault_log_kept() == 1u));
}

static void test_nothing_is_written_while_anything_is_powered(void)
{
    ready_to_heat();
    arm();
    unsigned before = fake.writes;
    fake.temperature_c = 99;
    live(500u);
    while (state_now() != STATE_FAULT) {
        live(1u);
    }
    while (fake.power) {
        CHECK(fake.writes == before);
        live(1u);
    }
    live(100u);
    CHECK(fake.writes == (before + ROW_WRITES));
}

static void test_a_number_too_large_stops_at_the_end(void)
{
    fake_reset();
    fault_log_add((uint8_t)FAULT_VOLTAGE, 40000);
    fake_run(20u);
    CHECK(newest_is((uint8_t)FAULT_VOLTAGE, INT16_MAX));
    fault_log_add((uint8_t)FAULT_TEMPERATURE, -40000);
    fake_run(20u);
    CHECK(newest_is((uint8_t)FAULT_TEMPERATURE, INT16_MIN));
}

size_t test_faults(void)
{
    static const core_test_t tests[] = {
        test_an_empty_log_says_so,
        test_a_fault_is_kept_over_a_restart,
        test_every_start_but_by_power_is_kept,
        test_the_last_thirty_two_are_kept_the_newest_first,
        test_a_supply_that_fails_at_any_write_leaves_whole_rows,
        test_a_spoiled_row_is_left_out,
        test_one_arming_writes_one_row,
        test_nothing_is_written_while_anything_is_powered,
        test_a_number_too_large_stops_at_the_end,
    };

    return RUN_ALL(tests);
}
