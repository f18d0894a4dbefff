/* libFuzzer target: the whole core against the rules that must hold whatever comes in. The input is
 * a small program: bytes for the line as they are, lines with a right check, time, and the hands of
 * a person. After each step the rules are checked; a broken one aborts, and the sanitizers watch the
 * rest. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fake_board.h"
#include "feeding/state.h"
#include "guard/fence.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

typedef struct {
    const uint8_t *at;
    const uint8_t *end;
} input_t;

static uint32_t heard;      /* newest echo a line can have carried */
static uint32_t powered_at; /* since when anything has been powered, as the rules count it */
static bool person_acted;   /* turned the switch on since power was last off */

static uint8_t next(input_t *input)
{
    uint8_t byte = 0u;

    if (input->at < input->end) {
        byte = *input->at;
        input->at++;
    }
    return byte;
}

static bool any_output(void)
{
    return fake.power || fake.gate || (fake.duty[0] != 0u) || (fake.duty[1] != 0u) ||
           (fake.servo_us[0] != 0u) || (fake.servo_us[1] != 0u);
}

static void rule(bool holds, const char *what)
{
    if (!holds) {
        (void)fprintf(stderr, "rule broken: %s\n", what);
        abort();
    }
}

static void check_rules(void)
{
    state_t state = state_now();
    uint32_t now = board_now_ms();

    rule(!fake.loop_open || !any_output(), "an open loop leaves nothing powered");
    rule(!any_output() || person_acted, "nothing is powered but by the person's act");
    rule(!fake.gate || (state == STATE_ARMED), "the gate opens in armed only");
    rule(!any_output() || (state != STATE_SAFE), "safe means off");
    rule(!any_output() || (state != STATE_AWAITING_ARM), "waiting for the person means off");
    rule(!any_output() || (state != STATE_STOPPED), "stopped means off");
    rule(!any_output() || ((now - heard) <= WATCHDOG_MS), "silence ends with everything off");
    rule((fake.duty[0] == 0u && fake.duty[1] == 0u) || fake.power, "no drive without power");
    if (!any_output()) {
        powered_at = now;
        person_acted = person_acted && (state == STATE_AWAITING_ARM);
    }
}

static void run(uint32_t ms)
{
    for (uint32_t i = 0u; i < ms; i++) {
        fake_run(1u);
        check_rules();
    }
}

static const char *const commands[] = {
    "HELLO 2 2", "WHO", "OPEN 7 1", "OPEN 7 2", "ARM 3000 3000 0", "DISARM", "HOLD", "GO",
    "STOP 0", "STOP 1", "STAT", "POSE", "HIST 3", "EVT 1", "GET 12", "SET 12 40", "CNTS", "LOG 0",
    "HASH 0000000000000000000000000000000000000000000000000000000000000001",
    "PAIR 0000000000000000000000000000000000000000000000000000000000000001", "UNPAIR",
    "PREP 2000 1500 0 0 0 0", "CODE 1", "HASH",
};

static void send_command(input_t *input)
{
    static unsigned sequence;
    static unsigned id;
    char body[120];
    uint8_t which = next(input);
    uint8_t how = next(input);

    sequence = (sequence + ((how & 1u) != 0u ? 1u : (unsigned)how)) % 65536u;
    if (which < 128u) {
        (void)snprintf(body, sizeof body, "%u %s", sequence,
                       commands[which % (sizeof commands / sizeof commands[0])]);
    } else {
        id += (how & 2u) != 0u ? 1u : 0u;
        (void)snprintf(body, sizeof body, "%u FEED %u %u %u %u 0 %d %d 0", sequence, id,
                       (unsigned)(board_now_ms() + (uint32_t)which * 10u), 1000u + 8u * how,
                       1500u, (int)how * 8 - 1024, (int)how * 2);
    }
    fake_line(body);
}

static void send_beat(input_t *input)
{
    char body[60];
    uint32_t echo = board_now_ms() - (uint32_t)next(input) * 8u;

    if ((int32_t)(echo - heard) > 0) {
        heard = echo;
    }
    (void)snprintf(body, sizeof body, "T 1 %u", (unsigned)echo);
    fake_line(body);
}

static void send_raw(input_t *input, uint8_t count)
{
    uint8_t bytes[64];

    for (uint8_t i = 0u; i < count; i++) {
        bytes[i] = next(input);
        if ((bytes[i] == (uint8_t)'T') || (bytes[i] == (uint8_t)'t')) {
            heard = board_now_ms(); /* it may be a heartbeat: the rules give it the doubt */
        }
    }
    fake_bytes(bytes, count);
}

static void act(input_t *input)
{
    uint8_t what = next(input);

    switch (what & 7u) {
    case 0u:
        send_raw(input, (uint8_t)(what >> 3) + 1u);
        break;
    case 1u:
    case 2u:
        send_command(input);
        break;
    case 3u:
        send_beat(input);
        break;
    case 4u:
        run((uint32_t)(what >> 3) * 4u);
        break;
    case 5u:
        fake.arm_switch = (what & 8u) != 0u;
        person_acted = person_acted || fake.arm_switch;
        run(25u);
        break;
    case 6u:
        fake.loop_open = (what & 8u) != 0u;
        fake.ball_ready = (what & 16u) != 0u;
        fake.follow_rpm[0] = 1000u + 8u * what;
        fake.follow_rpm[1] = 1500u;
        run(1u);
        break;
    default:
        if (what == 0xF7u) {
            fake.link ^= 1u; /* what follows comes by the other link */
        } else {
            fake_ball();
        }
        break;
    }
    fake_run(2u);
    check_rules();
}

/* Limits as a person would have stored them, made once and copied for every input. */
static void factory(void)
{
    static uint8_t configured[STORE_BYTES];
    static bool made;
    static const int numbers[][2] = {
        {1, 4000}, {2, 4000}, {3, 0}, {4, -3000}, {5, 3000}, {6, -500}, {7, 4500}, {8, 0},
        {9, 0}, {10, 200}, {11, 100}, {12, 40}, {13, 150}, {14, 300}, {15, 9000}, {16, 9000},
        {17, 5000}, {64, 6}, {65, 4800}, {66, 80}, {67, 1500}, {68, 900}, {69, 1500},
        {70, 900}, {71, 800}, {72, 2200},
    };
    static const uint8_t hash[32] = {1u};

    fake_reset();
    if (!made) {
        for (size_t i = 0u; i < sizeof numbers / sizeof numbers[0]; i++) {
            store_set((uint8_t)numbers[i][0], numbers[i][1]);
        }
        store_set_hash(hash);
        (void)memcpy(configured, fake.store, sizeof configured);
        made = true;
    }
    (void)memcpy(fake.store, configured, sizeof configured);
    fake_restart(CAUSE_POWER);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    input_t input = {data, data + size};

    factory();
    heard = board_now_ms();
    powered_at = heard;
    person_acted = false;
    for (uint8_t link = 0u; link < LINKS; link++) {
        fake.wires[link].in_head = 0u;
        fake.wires[link].in_tail = 0u;
        fake.wires[link].stuck = false;
    }
    fake.link = 0u;
    while (input.at < input.end) {
        act(&input);
        if (state_now() == STATE_AWAITING_ARM) {
            heard = board_now_ms(); /* entering it starts the measure anew */
        }
    }
    return 0;
}
