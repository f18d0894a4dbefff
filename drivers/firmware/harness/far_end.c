#define _GNU_SOURCE 1
#include "far_end.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <time.h>
#include <unistd.h>

#include "pty.h"

#define SLICE_US 50u
#define QUEUE 65536u

static const far_end_board_t *board;
static plant_t plant;
static plant_drive_t drive;
static int far_side;
static double pace;

static struct {
    uint64_t now_us;
    uint64_t run_until_us; /* when only "run" moves time */
    uint64_t base_us;      /* pacing: this instant of the image ... */
    uint64_t base_ns;      /* ... was this one of the wall */
} when;

/* The cable between the pseudo-terminal and the image, and what a test does to it. */
static struct {
    uint8_t queue[QUEUE];
    size_t head, tail;
    uint64_t next_byte_us;
    uint64_t last_byte_us;
    unsigned taken; /* bytes read from the pseudo-terminal */
    unsigned received, sent, overruns, lost;
    bool cut;
    unsigned corrupt_in, corrupt_out; /* one bit of each so many bytes; 0: none */
    unsigned count_in, count_out;
} cable;

/* Since when each group of outputs has been off without a break; 0 while it is on. */
static struct {
    uint64_t wheels_us, gate_us, power_us, servos_us;
    uint64_t gate_opened_us;
    unsigned gate_openings, resets;
    double most_duty[PLANT_WHEELS];
} seen;

plant_t *far_end_plant(void)
{
    return &plant;
}

static uint64_t wall_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

static void rebase(void)
{
    when.base_us = when.now_us;
    when.base_ns = wall_ns();
}

/* ---- the cable ---- */

static uint8_t spoil(uint8_t byte, unsigned every, unsigned *count)
{
    if (every == 0u) {
        return byte;
    }
    (*count)++;
    if ((*count % every) == 0u) {
        /* The low five bits only: a flip of a higher one makes stop characters of digits and
         * letters, and the launcher then rightly stops. */
        byte ^= (uint8_t)(1u << ((*count / every) % 5u));
    }
    return byte;
}

static void take_from_host(void)
{
    uint8_t bytes[4096];
    size_t count = pty_read(far_side, bytes, sizeof bytes);

    cable.taken += (unsigned)count;
    for (size_t i = 0u; (i < count) && !cable.cut; i++) {
        if ((cable.head - cable.tail) < QUEUE) {
            cable.queue[cable.head % QUEUE] = bytes[i];
            cable.head++;
        }
    }
}

static void bytes_to_image(void)
{
    while ((cable.head != cable.tail) && (cable.next_byte_us <= when.now_us)) {
        uint8_t byte = cable.queue[cable.tail % QUEUE];
        cable.tail++;
        byte = spoil(byte, cable.corrupt_in, &cable.count_in);
        if (!board->receive(byte)) {
            cable.overruns++;
        }
        cable.received++;
        cable.last_byte_us = when.now_us;
        uint64_t due = cable.next_byte_us + FAR_END_BYTE_US;
        cable.next_byte_us = (due > when.now_us) ? due : when.now_us + FAR_END_BYTE_US;
    }
}

static void bytes_to_host(void)
{
    uint8_t bytes[512];
    size_t count = board->transmit(bytes, sizeof bytes);

    for (size_t i = 0u; i < count; i++) {
        bytes[i] = spoil(bytes[i], cable.corrupt_out, &cable.count_out);
    }
    if (!cable.cut && (count > 0u)) {
        size_t lost = pty_write(far_side, bytes, count);
        cable.lost += (unsigned)lost;
        cable.sent += (unsigned)(count - lost);
    }
}

/* ---- time ---- */

static void mark(uint64_t *since, bool off)
{
    if (!off) {
        *since = 0u;
    } else if (*since == 0u) {
        *since = when.now_us;
    } else {
        /* still off: the first moment stands */
    }
}

static void watch_outputs(void)
{
    bool gate_was = drive.gate;

    board->outputs(&drive);
    if (drive.gate && !gate_was) {
        seen.gate_openings++;
        seen.gate_opened_us = when.now_us;
    }
    mark(&seen.wheels_us, (drive.duty[0] <= 0.0) && (drive.duty[1] <= 0.0));
    mark(&seen.gate_us, !drive.gate);
    mark(&seen.power_us, !drive.power);
    mark(&seen.servos_us, (drive.servo_us[0] == 0u) && (drive.servo_us[1] == 0u));
    for (int w = 0; w < PLANT_WHEELS; w++) {
        if (drive.duty[w] > seen.most_duty[w]) {
            seen.most_duty[w] = drive.duty[w];
        }
    }
}

static void slice(void)
{
    bytes_to_image();
    board->advance(SLICE_US);
    when.now_us += SLICE_US;
    watch_outputs();
    plant_step(&plant, &drive, SLICE_US * 1e-6);
    board->inputs(&plant.sense);
    bytes_to_host();
}

static uint64_t target_us(void)
{
    if (pace > 0.0) {
        return when.base_us + (uint64_t)((double)(wall_ns() - when.base_ns) * 1e-3 * pace);
    }
    return (pace < 0.0) ? when.run_until_us : when.now_us + 1000u;
}

/* ---- the console ---- */

static void say(const char *format, ...) __attribute__((format(printf, 1, 2)));
static void say(const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    (void)vprintf(format, rest);
    va_end(rest);
    (void)putchar('\n');
    (void)fflush(stdout);
}

static void report(void)
{
    say("{\"now_us\":%llu,\"duty\":[%.5f,%.5f],\"most_duty\":[%.5f,%.5f],\"power\":%s,"
        "\"gate\":%s,\"servo_us\":[%u,%u],\"rpm\":[%.2f,%.2f],\"balls\":%u,\"hopper\":%d,"
        "\"resets\":%u,\"received\":%u,\"sent\":%u,\"overruns\":%u,\"lost\":%u,"
        "\"queued_bytes\":%u,\"last_byte_us\":%llu,\"wheels_off_us\":%llu,"
        "\"gate_shut_us\":%llu,\"power_off_us\":%llu,\"servos_off_us\":%llu,"
        "\"gate_opened_us\":%llu,\"gate_openings\":%u,\"stack_bytes\":%d}",
        (unsigned long long)when.now_us, drive.duty[0], drive.duty[1], seen.most_duty[0],
        seen.most_duty[1], drive.power ? "true" : "false", drive.gate ? "true" : "false",
        drive.servo_us[0], drive.servo_us[1], plant.rps[0] * 60.0, plant.rps[1] * 60.0,
        plant.balls, plant.hopper, seen.resets, cable.received, cable.sent, cable.overruns,
        cable.lost, (unsigned)(cable.head - cable.tail),
        (unsigned long long)cable.last_byte_us, (unsigned long long)seen.wheels_us,
        (unsigned long long)seen.gate_us, (unsigned long long)seen.power_us,
        (unsigned long long)seen.servos_us, (unsigned long long)seen.gate_opened_us,
        seen.gate_openings, board->stack_most());
}

static void leaves(void)
{
    unsigned first = (plant.balls > PLANT_LEAVES) ? plant.balls - PLANT_LEAVES : 0u;

    (void)fputs("{\"leaves\":[", stdout);
    for (unsigned i = first; i < plant.balls; i++) {
        const plant_leave_t *row = &plant.leaves[i % PLANT_LEAVES];
        (void)printf("%s{\"at_s\":%.6f,\"rpm\":[%.2f,%.2f],\"servo_us\":[%u,%u]}",
                     (i == first) ? "" : ",", row->at_s, row->rpm[0], row->rpm[1],
                     row->servo_us[0], row->servo_us[1]);
    }
    say("]}");
}

static bool save_memory(const char *path)
{
    uint8_t *bytes = NULL;
    size_t size = board->memory(&bytes);
    FILE *file = fopen(path, "wb");

    if (file == NULL) {
        return false;
    }
    bool whole = fwrite(bytes, 1u, size, file) == size;
    return (fclose(file) == 0) && whole;
}

static bool set(const char *name, double value)
{
    if (strcmp(name, "cut") == 0) {
        cable.cut = value != 0.0;
    } else if (strcmp(name, "corrupt_in") == 0) {
        cable.corrupt_in = (unsigned)value;
    } else if (strcmp(name, "corrupt_out") == 0) {
        cable.corrupt_out = (unsigned)value;
    } else if (strcmp(name, "pace") == 0) {
        pace = value;
        when.run_until_us = when.now_us;
        rebase();
    } else {
        return plant_set(&plant, name, value);
    }
    return true;
}

static void reset_image(void)
{
    seen.resets++;
    board->reset();
    board->inputs(&plant.sense);
}

/* A pseudo-terminal hands bytes over when the kernel finds the time: whoever wants every run alike
 * says how many bytes the host has written, and the run begins when they are here. */
static void wait_for_bytes(unsigned count)
{
    struct pollfd waiting = {far_side, POLLIN, 0};

    for (unsigned tries = 0u; (cable.taken < count) && (tries < 1000u); tries++) {
        (void)poll(&waiting, 1, 1);
        take_from_host();
    }
}

/* Obeys one command. Each is answered at once, but a "run" when it is done. */
static void obey(const char *command)
{
    char verb[32] = "";
    char name[256] = "";
    double value = 0.0;
    int words = sscanf(command, "%31s %255s %lf", verb, name, &value);

    if (strcmp(verb, "get") == 0) {
        report();
    } else if (strcmp(verb, "leaves") == 0) {
        leaves();
    } else if ((strcmp(verb, "set") == 0) && (words == 3) && set(name, value)) {
        board->inputs(&plant.sense);
        say("{\"ok\":true,\"now_us\":%llu}", (unsigned long long)when.now_us);
    } else if ((strcmp(verb, "run") == 0) && (words >= 2) && (pace < 0.0)) {
        wait_for_bytes((words == 3) ? (unsigned)value : 0u);
        when.run_until_us = when.now_us + (uint64_t)(atof(name) * 1000.0);
        if (when.run_until_us == when.now_us) {
            report(); /* no time at all has passed already */
        }
    } else if (strcmp(verb, "reset") == 0) {
        reset_image();
        say("{\"ok\":true}");
    } else if ((strcmp(verb, "brown-out") == 0) && board->brown_out()) {
        seen.resets++;
        board->inputs(&plant.sense);
        say("{\"ok\":true}");
    } else if ((strcmp(verb, "hang") == 0) && board->hang()) {
        say("{\"ok\":true}");
    } else if ((strcmp(verb, "save") == 0) && (words == 2) && save_memory(name)) {
        say("{\"ok\":true}");
    } else {
        say("{\"ok\":false}");
    }
}

/* Reads and obeys what stands on standard input; false at its end. */
static bool console(void)
{
    static char line[320];
    static size_t length;
    char byte;
    ssize_t got;

    while ((got = read(STDIN_FILENO, &byte, 1u)) == 1) {
        if (byte != '\n') {
            if (length < (sizeof line - 1u)) {
                line[length] = byte;
                length++;
            }
            continue;
        }
        line[length] = '\0';
        length = 0u;
        obey(line);
    }
    return !((got == 0) || ((got < 0) && (errno != EAGAIN) && (errno != EINTR)));
}

/* ---- the whole ---- */

const char *far_end_arguments(int count, char **words, far_end_options_t *options)
{
    const char *other = NULL;

    options->link_path = NULL;
    options->memory_path = NULL;
    options->pace = 1.0;
    for (int i = 1; i < count; i++) {
        bool more = (i + 1) < count;
        if (more && (strcmp(words[i], "--link") == 0)) {
            i++;
            options->link_path = words[i];
        } else if (more && (strcmp(words[i], "--memory") == 0)) {
            i++;
            options->memory_path = words[i];
        } else if (more && (strcmp(words[i], "--pace") == 0)) {
            i++;
            options->pace = atof(words[i]);
        } else {
            other = words[i];
        }
    }
    return other;
}

bool far_end_load_memory(const far_end_board_t *which, const far_end_options_t *options)
{
    uint8_t *bytes = NULL;
    size_t size = which->memory(&bytes);

    if (options->memory_path == NULL) {
        return true;
    }
    FILE *file = fopen(options->memory_path, "rb");
    if (file == NULL) {
        return false;
    }
    size_t got = fread(bytes, 1u, size, file);
    return (fclose(file) == 0) && (got > 0u);
}

static void wait_for_work(void)
{
    struct pollfd waiting[2] = {{STDIN_FILENO, POLLIN, 0}, {far_side, POLLIN, 0}};
    struct timespec pause = {0, 0};

    if (pace > 0.0) {
        pause.tv_nsec = 200000;
    }
    (void)ppoll(waiting, 2, (pace < 0.0) ? NULL : &pause, NULL);
}

static bool introduce(const far_end_options_t *options)
{
    char name[64];

    far_side = pty_open(name, sizeof name);
    if (far_side < 0) {
        return false;
    }
    if (options->link_path != NULL) {
        (void)unlink(options->link_path);
        if (symlink(name, options->link_path) != 0) {
            return false;
        }
    }
    say("{\"pty\":\"%s\",\"pid\":%d}", name, (int)getpid());
    return true;
}

int far_end_run(const far_end_board_t *which, const far_end_options_t *options)
{
    board = which;
    pace = options->pace;
    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
    (void)prctl(PR_SET_TIMERSLACK, 1);
    if ((fcntl(STDIN_FILENO, F_SETFL, O_NONBLOCK) != 0) || !introduce(options)) {
        (void)fputs("no pseudo-terminal, or the link cannot be made\n", stderr);
        return 3;
    }
    board->inputs(&plant.sense);
    rebase();
    for (;;) {
        take_from_host();
        bool stepping = (pace < 0.0) && (when.now_us < when.run_until_us);
        uint64_t target = target_us();
        if ((pace > 0.0) && (target > (when.now_us + 500000u))) {
            rebase(); /* the machine slept: time in the image does not jump after it */
            target = when.now_us;
        }
        uint64_t until = when.now_us + 1000u; /* look at the cable and the console each ms */
        while ((when.now_us < target) && (when.now_us < until)) {
            slice();
        }
        if (stepping) {
            if (when.now_us >= when.run_until_us) {
                report();
            }
            continue;
        }
        if (!console()) {
            return 0;
        }
        if (when.now_us >= target_us()) {
            wait_for_work();
        }
    }
}
