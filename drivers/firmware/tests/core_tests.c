/* Unit tests of the core, built with address and undefined-behaviour sanitizers. Each test reads
 * like the rule it guards; a failed one names its line and ends the program. */
#include "core_tests.h"

#include "link/seal.h"

unsigned sequence;
uint32_t heard;

void beat(void)
{
    char body[40];

    heard = board_now_ms();
    (void)snprintf(body, sizeof body, "T 1 %u", (unsigned)heard);
    fake_line(body);
}

void live(uint32_t ms)
{
    for (uint32_t done = 0u; done < ms; done += 100u) {
        beat();
        fake_run(((ms - done) < 100u) ? (ms - done) : 100u);
    }
}

bool answers(const char *command, const char *reply)
{
    char body[120];
    char start[100];

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
        {1, (VALVE == 0u) ? 4000 : 200}, {2, (WHEELS > 1u) ? 4000 : 0}, {3, 0}, {4, -3000}, {5, 3000}, {6, -500}, {7, 4500}, {8, 0},
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

void ready(void)
{
    fake_reset();
    fake_run(30u); /* the switch has been seen off */
    sequence = 0u;
    configure();
}

void arm(void)
{
    CHECK(answers("ARM 3000 3000 0", "OK"));
    live(60u);
    fake.arm_switch = true;
    live(60u);
    CHECK(state_now() == STATE_ARMED);
}

bool feed(unsigned id, unsigned ahead_ms, const char *reply)
{
    char command[100];

    (void)snprintf(command, sizeof command, "FEED %u %u %s 0 0 0 0", id,
                   (unsigned)(board_now_ms() + ahead_ms), (WHEELS > 1u) ? "2000 1500" : "80 0");
    for (uint8_t w = 0u; w < WHEELS; w++) {
        fake.follow_rpm[w] = (w == 0u) ? 2000u : 1500u;
    }
    return answers(command, reply);
}

void await_gate(void)
{
    for (unsigned i = 0u; !fake.gate && (i < 5000u); i++) {
        live(1u);
    }
    CHECK(fake.gate);
}

bool all_off(void)
{
    for (uint8_t w = 0u; w < WHEELS; w++) {
        if (fake.duty[w] != 0u) {
            return false;
        }
    }
    return !fake.power && !fake.gate && (fake.servo_us[0] == 0u) && (fake.servo_us[1] == 0u);
}

void keyed_line(const char *body, uint32_t nonce, uint32_t counter)
{
    uint8_t tag[TAG_BYTES];
    char line[120];
    int length = snprintf(line, sizeof line, "%s", body);
    const sealed_t sealed = {'H', nonce, counter, body, (uint8_t)length};

    seal_tag(&sealed, tag);
    length += snprintf(&line[length], sizeof line - (size_t)length, "#%08X", (unsigned)counter);
    for (uint8_t i = 0u; i < TAG_BYTES; i++) {
        length += snprintf(&line[length], sizeof line - (size_t)length, "%02X", tag[i]);
    }
    line[length] = '\n';
    fake_bytes((const uint8_t *)line, (size_t)length + 1u);
}

#ifdef ONLY /* this one of a subject's tests */
#define FIRST_TEST (ONLY)
#define AFTER_LAST(count) (((ONLY) < (count)) ? ((ONLY) + 1u) : (count))
#else
#define FIRST_TEST 0u
#define AFTER_LAST(count) (count)
#endif

size_t run_tests(const char *file, const core_test_t *tests, size_t count)
{
    for (size_t i = FIRST_TEST; i < AFTER_LAST(count); i++) {
#ifdef TELL /* which one is under way: the last that is told failed, or does not end */
        (void)fprintf(stderr, "%s test %u\n", file, (unsigned)i);
#endif
        tests[i]();
    }
    (void)file;
    return count;
}

#ifndef SUBJECTS /* all of them, unless fewer are asked for */
#define SUBJECTS \
    test_parts() + test_fence() + test_feeds() + test_sessions() + test_links() + test_faults() + \
    test_servos()
#endif

static size_t test_all(void)
{
    return SUBJECTS;
}

int main(void)
{
    size_t count = test_all();

    fake_tick_in_loop = true;
    (void)test_all();
    (void)printf("%u tests of the core passed, the tick before the loop and within it\n",
                 (unsigned)count);
    return 0;
}
