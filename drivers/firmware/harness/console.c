#include "console.h"

#include <errno.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cable.h"
#include "inside.h"

void console_say(const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    (void)vprintf(format, rest);
    va_end(rest);
    (void)putchar('\n');
    (void)fflush(stdout);
}

static void wheels(const char *name, const double of[PLANT_WHEELS], double times)
{
    (void)printf("\"%s\":[", name);
    for (int w = 0; w < PLANT_WHEELS; w++) {
        (void)printf("%s%.5f", (w == 0) ? "" : ",", of[w] * times);
    }
    (void)fputs("],", stdout);
}

void console_report(void)
{
    const cable_counts_t *cable = cable_counts(0u);

    (void)fputs("{", stdout);
    wheels("duty", inside.drive.duty, 1.0);
    wheels("most_duty", seen.most_duty, 1.0);
    wheels("rpm", inside.plant.rps, 60.0);
    console_say("\"now_us\":%llu,\"power\":%s,"
        "\"gate\":%s,\"servo_us\":[%u,%u],\"steps\":[%d,%d],\"axis_deg\":[%.3f,%.3f],\"last_step_us\":%llu,\"balls\":%u,\"hopper\":%d,\"supply_mv\":%.0f,"
        "\"resets\":%u,\"received\":%u,\"sent\":%u,\"radio_received\":%u,\"radio_sent\":%u,\"overruns\":%u,\"lost\":%u,"
        "\"queued_bytes\":%u,\"last_byte_us\":%llu,\"wheels_off_us\":%llu,"
        "\"gate_shut_us\":%llu,\"power_off_us\":%llu,\"servos_off_us\":%llu,"
        "\"gate_opened_us\":%llu,\"gate_openings\":%u,\"stack_bytes\":%d}",
        (unsigned long long)inside.now_us, inside.drive.power ? "true" : "false", inside.drive.gate ? "true" : "false",
        inside.drive.servo_us[0], inside.drive.servo_us[1], inside.drive.steps[0], inside.drive.steps[1],
        inside.plant.axis_deg[0], inside.plant.axis_deg[1], (unsigned long long)seen.last_step_us,
        inside.plant.balls, inside.plant.hopper, inside.plant.sense.supply_mv, seen.resets, cable->received, cable->sent, cable_counts(1u)->received, cable_counts(1u)->sent, cable->overruns,
        cable->lost, cable_queued(0u),
        (unsigned long long)cable->last_byte_us, (unsigned long long)seen.wheels_us,
        (unsigned long long)seen.gate_us, (unsigned long long)seen.power_us,
        (unsigned long long)seen.servos_us, (unsigned long long)seen.gate_opened_us,
        seen.gate_openings, inside.board->stack_most());
}

static void leaves(void)
{
    unsigned first = (inside.plant.balls > PLANT_LEAVES) ? inside.plant.balls - PLANT_LEAVES : 0u;

    (void)fputs("{\"leaves\":[", stdout);
    for (unsigned i = first; i < inside.plant.balls; i++) {
        const plant_leave_t *row = &inside.plant.leaves[i % PLANT_LEAVES];
        (void)printf("%s{\"at_s\":%.6f,\"open_s\":%.6f,\"rpm\":[", (i == first) ? "" : ",", row->at_s, row->open_s);
        for (int w = 0; w < PLANT_WHEELS; w++) {
            (void)printf("%s%.2f", (w == 0) ? "" : ",", row->rpm[w]);
        }
        (void)printf("],\"servo_us\":[%u,%u],\"servo_at_us\":[%.2f,%.2f],\"axis_deg\":[%.3f,%.3f]}",
                     row->servo_us[0], row->servo_us[1], row->servo_at_us[0], row->servo_at_us[1],
                     row->axis_deg[0], row->axis_deg[1]);
    }
    console_say("]}");
}

static bool save_memory(const char *path)
{
    uint8_t *bytes = NULL;
    size_t size = inside.board->memory(&bytes);
    FILE *file = fopen(path, "wb");

    if (file == NULL) {
        return false;
    }
    bool whole = fwrite(bytes, 1u, size, file) == size;
    return (fclose(file) == 0) && whole;
}

static bool set(const char *name, double value)
{
    if (strcmp(name, "pace") == 0) {
        inside.pace = value;
        inside.run_until_us = inside.now_us;
        pace_anew();
        return true;
    }
    return cable_set(name, value) || plant_set(&inside.plant, name, value);
}

static void reset_image(void)
{
    seen.resets++;
    inside.board->reset();
    inside.board->inputs(&inside.plant.sense);
}

/* A pseudo-terminal hands bytes over when the kernel finds the time: whoever wants every run alike
 * says how many bytes the host has written on a link, and the run begins when they are here. */
static void wait_for_bytes(unsigned count, uint8_t link)
{
    struct pollfd waiting = {inside.far_side[link], POLLIN, 0};

    for (unsigned tries = 0u; (cable_counts(link)->taken < count) && (tries < 1000u); tries++) {
        (void)poll(&waiting, 1, 1);
        cable_take();
    }
}

/* Obeys one command. Each is answered at once, but a "run" when it is done. */
static void obey(const char *command)
{
    char verb[32] = "";
    char name[256] = "";
    double value = 0.0;
    unsigned link = 0u;
    int words = sscanf(command, "%31s %255s %lf %u", verb, name, &value, &link);

    if (strcmp(verb, "get") == 0) {
        console_report();
    } else if (strcmp(verb, "leaves") == 0) {
        leaves();
    } else if ((strcmp(verb, "set") == 0) && (words == 3) && set(name, value)) {
        inside.board->inputs(&inside.plant.sense);
        console_say("{\"ok\":true,\"now_us\":%llu}", (unsigned long long)inside.now_us);
    } else if ((strcmp(verb, "run") == 0) && (words >= 2) && (inside.pace < 0.0) &&
               (link < inside.board->links)) {
        wait_for_bytes((unsigned)value, (uint8_t)link);
        inside.run_until_us = inside.now_us + (uint64_t)(atof(name) * 1000.0);
        if (inside.run_until_us == inside.now_us) {
            console_report(); /* no time at all has passed already */
        }
    } else if (strcmp(verb, "reset") == 0) {
        reset_image();
        console_say("{\"ok\":true}");
    } else if ((strcmp(verb, "brown-out") == 0) && inside.board->brown_out()) {
        seen.resets++;
        inside.board->inputs(&inside.plant.sense);
        console_say("{\"ok\":true}");
    } else if ((strcmp(verb, "hang") == 0) && inside.board->hang()) {
        console_say("{\"ok\":true}");
    } else if ((strcmp(verb, "lose-tick") == 0) && inside.board->lose_tick()) {
        console_say("{\"ok\":true}");
    } else if ((strcmp(verb, "save") == 0) && (words == 2) && save_memory(name)) {
        console_say("{\"ok\":true}");
    } else {
        console_say("{\"ok\":false}");
    }
}

bool console_read(void)
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
