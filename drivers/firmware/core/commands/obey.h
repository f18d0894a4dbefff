/* What the obeying functions share: arguments, refusals, and one function a command. Each appends
 * what stands after OK to the reply, or returns why not. */
#ifndef FEEDSCRIPT_OBEY_H
#define FEEDSCRIPT_OBEY_H

#include <stdbool.h>
#include <stdint.h>

#include "commands/refusal.h"
#include "wire/text.h"

#define ARGUMENTS_MOST 8u

/* How the line came in. */
typedef struct {
    bool full; /* may do everything; else only read and stop */
    bool cable;
    bool open; /* in a session */
} standing_t;

/* An argument as its bits; `d`, `a` and `i` kinds are two's complement. */
typedef struct {
    uint32_t value[ARGUMENTS_MOST];
    uint8_t count;
    uint8_t digest[32]; /* or a name */
    bool has_digest;
    standing_t standing;
} arguments_t;

typedef refusal_t (*obey_t)(const arguments_t *arguments, body_t *reply);

refusal_t obey_hello(const arguments_t *arguments, body_t *reply);
refusal_t obey_who(const arguments_t *arguments, body_t *reply);
refusal_t obey_open(const arguments_t *arguments, body_t *reply);
refusal_t obey_arm(const arguments_t *arguments, body_t *reply);
refusal_t obey_code(const arguments_t *arguments, body_t *reply);
refusal_t obey_disarm(const arguments_t *arguments, body_t *reply);
refusal_t obey_prep(const arguments_t *arguments, body_t *reply);
refusal_t obey_feed(const arguments_t *arguments, body_t *reply);
refusal_t obey_hold(const arguments_t *arguments, body_t *reply);
refusal_t obey_go(const arguments_t *arguments, body_t *reply);
refusal_t obey_stop(const arguments_t *arguments, body_t *reply);
refusal_t obey_stat(const arguments_t *arguments, body_t *reply);
refusal_t obey_pose(const arguments_t *arguments, body_t *reply);
refusal_t obey_hist(const arguments_t *arguments, body_t *reply);
refusal_t obey_evt(const arguments_t *arguments, body_t *reply);
refusal_t obey_get(const arguments_t *arguments, body_t *reply);
refusal_t obey_cnts(const arguments_t *arguments, body_t *reply);
refusal_t obey_log(const arguments_t *arguments, body_t *reply);
refusal_t obey_set(const arguments_t *arguments, body_t *reply);
refusal_t obey_hash(const arguments_t *arguments, body_t *reply);
refusal_t obey_name(const arguments_t *arguments, body_t *reply);
refusal_t obey_pair(const arguments_t *arguments, body_t *reply);
refusal_t obey_unpair(const arguments_t *arguments, body_t *reply);

/* Forgets the ceiling of an earlier arming. */
void obey_begin(void);

#endif
