/* What the unit tests of the core share: a host that talks to it, and one list of tests a subject. */
#ifndef FEEDSCRIPT_CORE_TESTS_H
#define FEEDSCRIPT_CORE_TESTS_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fake_board.h"
#include "feeding/state.h"
#include "guard/fence.h"

#define CHECK(what)                                                           \
    do {                                                                      \
        if (!(what)) {                                                        \
            (void)fprintf(stderr, "%s:%d: %s\n", __FILE__, __LINE__, #what);  \
            exit(1);                                                          \
        }                                                                     \
    } while (0)

typedef void (*core_test_t)(void);

#define RUN_ALL(list) run_tests(__FILE__, list, sizeof list / sizeof list[0])

/* Each subject runs its tests and returns how many there were. */
size_t test_parts(void);
size_t test_fence(void);
size_t test_feeds(void);
size_t test_sessions(void);
size_t test_links(void);
size_t test_faults(void);
size_t test_servos(void);
size_t test_steppers(void); /* none of a launcher without any */
size_t test_sensors(void);  /* nor of one with a single ball sensor */
size_t test_valve(void);    /* nor of one with wheels */
size_t test_lacking(void);  /* nor of one with every sensor */

size_t run_tests(const char *file, const core_test_t *tests, size_t count);

extern unsigned sequence; /* of the last command */
extern uint32_t heard;    /* the launcher's clock, as a host would echo it */

void beat(void);
void live(uint32_t ms); /* runs on with heartbeats */

/* Sends a command and says whether the reply begins with these words. */
bool answers(const char *command, const char *reply);

void ready(void); /* a configured launcher, its arming switch seen off */
void arm(void);   /* asked for, and done by a person */
bool feed(unsigned id, unsigned ahead_ms, const char *reply);
void await_gate(void); /* until it opens, or 5 s */
bool all_off(void);

/* A line under the stored key, whose tag the core makes: what is tried is who may say what. */
void keyed_line(const char *body, uint32_t nonce, uint32_t counter);

#endif
