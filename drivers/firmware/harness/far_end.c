#define _GNU_SOURCE 1
#include "far_end.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <time.h>
#include <unistd.h>

#include "cable.h"
#include "console.h"
#include "inside.h"
#include "pty.h"

#define SLICE_US 50u

plant_t *far_end_plant(void)
{
    return &inside.plant;
}

/* ---- time ---- */

static void mark(uint64_t *since, bool off)
{
    if (!off) {
        *since = 0u;
    } else if (*since == 0u) {
        *since = inside.now_us;
    } else {
        /* still off: the first moment stands */
    }
}

static void watch_outputs(void)
{
    bool gate_was = inside.drive.gate;
    const int32_t steps_were[] = {inside.drive.steps[0], inside.drive.steps[1]};

    inside.board->outputs(&inside.drive);
    if (inside.drive.gate && !gate_was) {
        seen.gate_openings++;
        seen.gate_opened_us = inside.now_us;
    }
    if ((inside.drive.steps[0] != steps_were[0]) || (inside.drive.steps[1] != steps_were[1])) {
        seen.last_step_us = inside.now_us;
    }
    mark(&seen.gate_us, !inside.drive.gate);
    mark(&seen.power_us, !inside.drive.power);
    mark(&seen.servos_us, (inside.drive.servo_us[0] == 0u) && (inside.drive.servo_us[1] == 0u));
    bool wheels_off = true;
    for (int w = 0; w < PLANT_WHEELS; w++) {
        wheels_off = wheels_off && (inside.drive.duty[w] <= 0.0);
        if (inside.drive.duty[w] > seen.most_duty[w]) {
            seen.most_duty[w] = inside.drive.duty[w];
        }
    }
    mark(&seen.wheels_us, wheels_off);
}

/* A controller whose supply is too low is restarted, once for each dip. */
static void watch_supply(void)
{
    static bool low;
    bool was_low = low;

    low = inside.plant.sense.supply_mv < inside.plant.brown_out_mv;
    if (low && !was_low && inside.board->brown_out()) {
        seen.resets++;
    }
}

static void slice(void)
{
    cable_to_image();
    inside.board->advance(SLICE_US);
    inside.now_us += SLICE_US;
    watch_outputs();
    plant_step(&inside.plant, &inside.drive, SLICE_US * 1e-6);
    watch_supply();
    inside.board->inputs(&inside.plant.sense);
    cable_to_host();
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

bool far_end_load_memory(const image_t *which, const far_end_options_t *options)
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
    struct pollfd waiting[1u + IMAGE_LINKS] = {{STDIN_FILENO, POLLIN, 0}};
    struct timespec pause = {0, 0};

    for (uint8_t link = 0u; link < inside.board->links; link++) {
        waiting[1u + link] = (struct pollfd){inside.far_side[link], POLLIN, 0};
    }
    if (inside.pace > 0.0) {
        pause.tv_nsec = 200000;
    }
    (void)ppoll(waiting, 1u + inside.board->links, (inside.pace < 0.0) ? NULL : &pause, NULL);
}

static bool introduce(const far_end_options_t *options)
{
    char names[IMAGE_LINKS][64] = {"", ""};

    for (uint8_t link = 0u; link < inside.board->links; link++) {
        inside.far_side[link] = pty_open(names[link], sizeof names[link]);
        if (inside.far_side[link] < 0) {
            return false;
        }
    }
    if (options->link_path != NULL) {
        (void)unlink(options->link_path);
        if (symlink(names[0], options->link_path) != 0) {
            return false;
        }
    }
    console_say("{\"pty\":\"%s\",\"radio\":\"%s\",\"pid\":%d}", names[0], names[1], (int)getpid());
    return true;
}

int far_end_run(const image_t *which, const far_end_options_t *options)
{
    inside.board = which;
    inside.pace = options->pace;
    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
    (void)prctl(PR_SET_TIMERSLACK, 1);
    if ((fcntl(STDIN_FILENO, F_SETFL, O_NONBLOCK) != 0) || !introduce(options)) {
        (void)fputs("no pseudo-terminal, or the link cannot be made\n", stderr);
        return 3;
    }
    inside.board->inputs(&inside.plant.sense);
    pace_anew();
    for (;;) {
        cable_take();
        bool stepping = (inside.pace < 0.0) && (inside.now_us < inside.run_until_us);
        uint64_t target = target_us();
        if ((inside.pace > 0.0) && (target > (inside.now_us + 500000u))) {
            pace_anew(); /* the machine slept: time in the image does not jump after it */
            target = inside.now_us;
        }
        uint64_t until = inside.now_us + 1000u; /* look at the cable and the console each ms */
        while ((inside.now_us < target) && (inside.now_us < until)) {
            slice();
        }
        if (stepping) {
            if (inside.now_us >= inside.run_until_us) {
                console_report();
            }
            continue;
        }
        if (!console_read()) {
            return 0;
        }
        if (inside.now_us >= target_us()) {
            wait_for_work();
        }
    }
}
