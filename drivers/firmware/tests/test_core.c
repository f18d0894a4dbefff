/* Unit tests of the core, built with address and undefined-behaviour sanitizers. Each test reads
 * like the rule it guards; a failed one names its line and ends the program. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "crc16.h"
#include "events.h"
#include "fake_board.h"
#include "fence.h"
#include "memory.h"
#include "state.h"
#include "text.h"

#define CHECK(what)                                                           \
    do {                                                                      \
        if (!(what)) {                                                        \
            (void)fprintf(stderr, "%s:%d: %s\n", __FILE__, __LINE__, #what);  \
            exit(1);                                                          \
        }                                                                     \
    } while (0)

static unsigned sequence;
static uint32_t heard; /* the launcher's clock, as a host would echo it */

static void beat(void)
{
    char body[40];

    heard = board_now_ms();
    (void)snprintf(body, sizeof body, "T 1 %u", (unsigned)heard);
    fake_line(body);
}

/* Runs on with heartbeats. */
static void live(uint32_t ms)
{
    for (uint32_t done = 0u; done < ms; done += 100u) {
        beat();
        fake_run(((ms - done) < 100u) ? (ms - done) : 100u);
    }
}

/* Sends a command and says whether the reply begins with these words. */
static bool answers(const char *command, const char *reply)
{
    char body[120];
    char start[60];

    sequence = (sequence + 1u) % 65536u;
    (void)snprintf(body, sizeof body, "%u %s", sequence, command);
    (void)snprintf(start, sizeof start, "%u %s", sequence, reply);
    (void)fake_sent();
    fake_line(body);
    fake_run(5u);
    const char *sent = fake_sent();
    if (strstr(sent, start) == NULL) {
        (void)fprintf(stderr, "%s: wanted %s, got %s", body, start, sent);
        return false;
    }
    return true;
}

static void configure(void)
{
    static const int numbers[][2] = {
        {1, 4000}, {2, 4000}, {3, 0}, {4, -3000}, {5, 3000}, {6, -500}, {7, 4500}, {8, 0},
        {9, 0}, {10, 500}, {11, 100}, {12, 40}, {13, 150}, {14, 300}, {15, 9000}, {16, 9000},
        {17, 5000}, {64, 6}, {65, 4800}, {66, 80}, {67, 1500}, {68, 900}, {69, 1500},
        {70, 900}, {71, 800}, {72, 2200},
    };
    char command[100];

    CHECK(answers("OPEN 1 1", "OK"));
    for (size_t i = 0u; i < sizeof numbers / sizeof numbers[0]; i++) {
        (void)snprintf(command, sizeof command, "SET %d %d", numbers[i][0], numbers[i][1]);
        CHECK(answers(command, "OK"));
    }
    (void)snprintf(command, sizeof command, "HASH %064d", 7);
    CHECK(answers(command, "OK"));
}

static void ready(void)
{
    fake_reset();
    fake_run(30u); /* the switch has been seen off */
    sequence = 0u;
    configure();
}

static void arm(void)
{
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(60u);
    fake.arm_switch = true;
    live(60u);
    CHECK(state_now() == STATE_ARMED);
}

static bool feed(unsigned id, unsigned ahead_ms, const char *reply)
{
    char command[100];

    (void)snprintf(command, sizeof command, "FEED %u %u 2000 1500 0 0 0 0", id,
                   (unsigned)(board_now_ms() + ahead_ms));
    fake.follow_rpm[0] = 2000u;
    fake.follow_rpm[1] = 1500u;
    return answers(command, reply);
}

static bool all_off(void)
{
    return !fake.power && !fake.gate && (fake.duty[0] == 0u) && (fake.duty[1] == 0u) &&
           (fake.servo_us[0] == 0u) && (fake.servo_us[1] == 0u);
}

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

/* ---- the fence ---- */

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
    while (!fake.gate) {
        live(1u);
    }
    live(79u);
    CHECK(fake.gate);
    live(2u);
    CHECK(!fake.gate && (state_now() == STATE_ARMED));
}

static void test_emergency_character_in_safe_needs_the_person_too(void)
{
    const uint8_t can = 0x18u;

    ready();
    fake_bytes(&can, 1u);
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
    const uint8_t stop = 0x03u;
    const uint8_t hold = 0x14u;

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

/* ---- feeds ---- */

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
    CHECK(answers("FEED 0 9000 0 0 0 0 0 0", "NO 7 5"));
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
    fake_bytes((const uint8_t *)"\x14", 1u);
    fake_run(20u);
    const char *sent = fake_sent();
    CHECK((strstr(sent, "MISS 1 2") != NULL) && (strstr(sent, "MISS 2 2") != NULL));
    CHECK(answers("GO", "OK"));
    live(6000u);
    CHECK(fake.gate_openings == 0u);
    CHECK(strstr(fake_sent(), "MISS") == NULL);
    CHECK(answers("HIST 1", "OK 1 N 0 2"));
}

static void test_hold_is_acknowledged_when_no_ball_can_leave(void)
{
    char body[40];

    ready();
    arm();
    CHECK(feed(1u, 2000u, "OK"));
    while (!fake.gate) {
        live(1u);
    }
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
    CHECK(strstr(fake_sent(), "FAULT 3 1") != NULL);
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

/* ---- sequence and sessions ---- */

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
    char body[40];

    ready();
    CHECK(answers("OPEN 9 100", "OK 0 0 0"));
    arm();
    CHECK(feed(4u, 2000u, "OK"));
    while (!fake.gate) {
        live(1u);
    }
    for (unsigned i = 0u; i < 2u; i++) {
        sequence++;
        (void)snprintf(body, sizeof body, "%u OPEN 10 101", sequence);
        (void)fake_sent();
        fake_line(body);
        fake_run(5u);
        CHECK(!fake.gate && (strstr(fake_sent(), " OK") == NULL));
    }
    fake_ball();
    CHECK(memory_left() == 4u); /* booked on the session that fed it */
    CHECK(answers("OPEN 10 101", "OK 0 0 0"));
    CHECK(memory_left() == 0u);
}

static void test_without_a_session_nothing_but_reading(void)
{
    fake_reset();
    fake_run(30u);
    CHECK(answers("ARM 1 1 0", "NO 3"));
    CHECK(answers("SET 1 4000", "NO 3"));
    CHECK(answers("HELLO 2 3", "NO 18 1 1"));
    CHECK(answers("WHO", "OK"));
    CHECK(answers("GET 1", "OK 1 -2147483648"));
    CHECK(answers("GET 99", "OK 99 -2147483648"));
    CHECK(answers("STOP 2", "NO 1"));
    CHECK(answers("STOP 1", "OK"));
}

/* ---- the store ---- */

static void test_limits_survive_and_spoiled_ones_are_a_fault(void)
{
    ready();
    fake_restart(CAUSE_BROWN_OUT);
    sequence = 0u;
    CHECK(strstr(fake.out, "BOOT") == NULL);
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

int main(void)
{
    static void (*const tests[])(void) = {
        test_numbers_are_read_exactly,
        test_a_body_never_outgrows_its_place,
        test_hexadecimal_has_no_zeros_before,
        test_memory_settles_what_is_asked_about,
        test_memory_says_unknown_of_what_it_forgot,
        test_events_are_repeated_while_kept,
        test_power_up_is_safe_and_off,
        test_nothing_arms_but_the_person,
        test_nobody_arms_for_a_minute,
        test_silence_cuts_whatever_the_core_does,
        test_old_echoes_keep_nothing_alive,
        test_emergency_loop_cuts_in_one_tick_and_latches,
        test_the_fence_latches_by_itself,
        test_an_overtaken_heartbeat_takes_nothing_away,
        test_the_gate_shuts_though_no_ball_is_seen,
        test_emergency_character_in_safe_needs_the_person_too,
        test_stop_characters_act_inside_a_line,
        test_switch_off_stops,
        test_a_hold_becomes_a_stop,
        test_a_feed_opens_the_gate_once_at_its_moment,
        test_a_feed_is_refused_for_every_reason,
        test_wheels_off_speed_send_no_ball,
        test_a_flush_reports_every_feed_once,
        test_hold_is_acknowledged_when_no_ball_can_leave,
        test_jam_and_empty,
        test_stray_ball_is_a_fault,
        test_dead_tachometer_is_a_fault_and_runs_nothing_away,
        test_a_wheel_above_the_ceiling_is_a_fault,
        test_low_voltage_is_a_fault_while_it_lasts,
        test_a_repeated_line_acts_once,
        test_an_overtaken_line_never_acts,
        test_opening_makes_safe_and_keeps_the_memory,
        test_opening_waits_for_the_ball_that_is_on_its_way,
        test_without_a_session_nothing_but_reading,
        test_limits_survive_and_spoiled_ones_are_a_fault,
        test_boot_counts_over_a_torn_write,
        test_nonsense_is_no_limit,
    };
    const size_t count = sizeof tests / sizeof tests[0];

    for (size_t i = 0u; i < count; i++) {
        tests[i]();
    }
    (void)printf("%zu tests of the core passed\n", count);
    return 0;
}
