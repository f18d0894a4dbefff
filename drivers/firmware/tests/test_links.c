/* Several links: a stop is taken by any of them, a run belongs to one. */
#include "core_tests.h"

#include "link/link.h"

#define CABLE 0u
#define RADIO 1u
#define NONCE 500u

static uint32_t counter; /* of the last keyed line */

static void by(uint8_t link)
{
    fake.link = link;
}

/* What was sent by a link since it was last looked at. */
static const char *heard_by(uint8_t link)
{
    uint8_t before = fake.link;

    by(link);
    const char *sent = fake_sent();
    by(before);
    return sent;
}

/* A configured launcher with a key, a plain session at its cable. */
static void begin(void)
{
    char pair[80];

    ready();
    (void)snprintf(pair, sizeof pair, "PAIR %064d", 7);
    CHECK(answers(pair, "OK"));
    counter = 0u;
}

/* A keyed command by the radio; does its reply, under whatever seal, begin with these words? */
static bool radio_hears(const char *command, uint32_t nonce, const char *reply)
{
    char body[100];
    char start[100];

    counter++;
    (void)snprintf(body, sizeof body, "%u %s", 700u + (unsigned)counter, command);
    (void)snprintf(start, sizeof start, "%u %s", 700u + (unsigned)counter, reply);
    (void)heard_by(RADIO);
    by(RADIO);
    keyed_line(body, nonce, counter);
    by(CABLE);
    fake_run(20u);
    return strstr(heard_by(RADIO), start) != NULL;
}

static void test_a_radio_is_never_a_cable(void)
{
    begin();
    fake.jumper = true;
    by(RADIO);
    CHECK(answers("OPEN 3 3", "NO 13"));
    CHECK(answers("ARM 3000 3000 0", "NO 13"));
    CHECK(answers("SET 12 41", "NO 13"));
    CHECK(answers("GET 12", "OK 12 40"));
    CHECK(answers("STAT", "OK"));
    by(CABLE);
    CHECK(radio_hears("OPEN 9 500", 0u, "OK"));
    CHECK(radio_hears("SET 12 41", NONCE, "NO 14"));
}

static void test_a_stop_is_taken_by_any_link(void)
{
    static const uint8_t stop = BYTE_STOP;
    static const char *const lines[] = {"STOP 1", "STOP 0"};

    for (size_t i = 0u; i < 3u; i++) {
        begin();
        arm();
        by(RADIO);
        if (i == 2u) {
            fake_bytes(&stop, 1u);
        } else {
            CHECK(answers(lines[i], "OK"));
        }
        by(CABLE);
        fake_run(300u);
        CHECK(all_off());
        CHECK(state_now() == ((i == 1u) ? STATE_STOPPED : STATE_SAFE));
    }
}

static void test_a_run_belongs_to_one_link(void)
{
    begin();
    CHECK(answers("OPEN 9 500", "OK")); /* so that keyed lines under this nonce are read */
    arm();
    CHECK(feed(1u, 3000u, "OK"));
    CHECK(radio_hears("STAT", NONCE, "OK 2"));
    CHECK(radio_hears("FEED 2 9000 2000 1500 0 0 0 0", NONCE, "NO 3"));
    CHECK(radio_hears("HOLD", NONCE, "NO 3"));
    CHECK(radio_hears("DISARM", NONCE, "NO 3"));
    CHECK(state_now() == STATE_ARMED);
    CHECK(answers("HIST 1", "OK 1 Q")); /* nor was the cable's sequence shifted */
}

static void test_only_the_link_of_a_run_keeps_it_alive(void)
{
    char body[40];

    begin();
    CHECK(answers("OPEN 9 500", "OK"));
    arm();
    for (uint32_t ms = 0u; ms < 1000u; ms += 100u) {
        (void)heard_by(RADIO);
        (void)snprintf(body, sizeof body, "T 1 %u", (unsigned)board_now_ms());
        by(RADIO);
        counter++;
        keyed_line(body, NONCE, counter);
        by(CABLE);
        fake_run(100u);
        CHECK(strstr(heard_by(RADIO), "t 1 ") != NULL); /* answered all the same */
    }
    CHECK(all_off() && (state_now() == STATE_SAFE) && (state_reason() == REASON_POWER_OFF));
}

static void test_whoever_opens_by_another_link_takes_it_and_the_first_is_told(void)
{
    begin();
    CHECK(answers("OPEN 9 400", "OK"));
    arm();
    (void)heard_by(CABLE);
    CHECK(radio_hears("OPEN 10 500", 0u, "OK 0 0 0"));
    CHECK(state_now() == STATE_STOPPING);
    CHECK(strstr(heard_by(CABLE), "STATE 4 9") != NULL);
    CHECK(answers("GO", "NO 13")); /* the session is a keyed one now */
    fake_run(300u);
    CHECK(strstr(heard_by(RADIO), "STATE 0 14") != NULL);
    CHECK(strstr(heard_by(CABLE), "STATE 0 14") == NULL);
}

static void test_the_ball_that_is_on_its_way_is_told_to_whom_it_belongs(void)
{
    begin();
    CHECK(answers("OPEN 9 400", "OK"));
    arm();
    CHECK(feed(4u, 2000u, "OK"));
    await_gate();
    CHECK(!radio_hears("OPEN 10 500", 0u, "OK"));
    (void)heard_by(CABLE);
    CHECK(answers("HIST 4", "NO 3"));
    fake_ball();
    CHECK(strstr(heard_by(CABLE), "LEFT 4*") != NULL);
    const char *radio = heard_by(RADIO);
    CHECK((strstr(radio, " OK 0 0 0") != NULL) && (strstr(radio, "LEFT") == NULL));
}

static void test_a_link_that_takes_nothing_holds_nobody_up(void)
{
    begin();
    CHECK(answers("OPEN 9 400", "OK"));
    arm();
    CHECK(feed(4u, 2000u, "OK"));
    await_gate();
    fake.wires[CABLE].stuck = true;
    CHECK(!radio_hears("OPEN 10 500", 0u, "OK"));
    fake_ball();
    fake_run(40u);
    const char *radio = heard_by(RADIO);
    CHECK((strstr(radio, " OK 0 0 0") != NULL) && (strstr(radio, "LEFT") == NULL));
}

static void test_a_link_of_which_nobody_takes_anything_starves_no_other(void)
{
    begin();
    fake.wires[RADIO].stuck = true;
    by(RADIO);
    beat();
    fake_line("5 STAT");
    fake_run(5u);
    by(CABLE);
    arm(); /* with heartbeats that are answered, and events */
    CHECK(answers("STAT", "OK 2"));
    (void)heard_by(CABLE);
    live(100u);
    CHECK(strstr(heard_by(CABLE), "t 1 ") != NULL);
}

static void test_lines_of_two_links_are_put_together_apart(void)
{
    begin();
    by(RADIO);
    fake_bytes((const uint8_t *)"5 ST", 4u);
    fake_run(2u);
    by(CABLE);
    CHECK(answers("STAT", "OK 0"));
    by(RADIO);
    (void)fake_sent();
    fake_bytes((const uint8_t *)"AT*", 3u);
    fake_run(2u);
    by(CABLE);
    CHECK(answers("STAT", "OK 0"));
    by(RADIO);
    fake_bytes((const uint8_t *)"224C\n", 5u);
    fake_run(5u);
    CHECK(strstr(fake_sent(), "5 OK 0") != NULL);
}

size_t test_links(void)
{
    static const core_test_t tests[] = {
        test_a_radio_is_never_a_cable,
        test_a_stop_is_taken_by_any_link,
        test_a_run_belongs_to_one_link,
        test_only_the_link_of_a_run_keeps_it_alive,
        test_whoever_opens_by_another_link_takes_it_and_the_first_is_told,
        test_the_ball_that_is_on_its_way_is_told_to_whom_it_belongs,
        test_a_link_that_takes_nothing_holds_nobody_up,
        test_a_link_of_which_nobody_takes_anything_starves_no_other,
        test_lines_of_two_links_are_put_together_apart,
    };

    return RUN_ALL(tests);
}
