/* Opening, arming, feeding and stopping. */
#include "commands/obey.h"

#include "board.h"
#include "feeding/events.h"
#include "feeding/feeder.h"
#include "feeding/memory.h"
#include "feeding/state.h"
#include "moment.h"
#include "motion/drives.h"
#include "sensing/sensors.h"
#include "store/store.h"

static uint16_t ceiling[3];

void obey_begin(void)
{
    for (uint8_t i = 0u; i < 3u; i++) {
        ceiling[i] = 0u;
    }
}

refusal_t obey_open(const arguments_t *arguments, body_t *reply)
{
    obey_begin(); /* dialogue.c has made it safe */
    bool kept = memory_open(arguments->value[0]);
    body_number(reply, kept ? 1u : 0u);
    body_number(reply, memory_highest());
    body_number(reply, memory_left());
    body_number(reply, events_last());
    return fine();
}

/* ---- arming ---- */

refusal_t obey_arm(const arguments_t *arguments, body_t *reply)
{
    uint8_t missing;
    fault_t cause = state_cause_present();
    state_t state = state_now();

    (void)reply;
    if (state == STATE_STOPPED) {
        return no(NO_LATCHED);
    }
    if ((state != STATE_SAFE) && (state != STATE_FAULT)) {
        return no_with(NO_STATE, (uint32_t)state);
    }
    if (cause != FAULT_NONE) {
        return no_with(NO_FAULT, (uint32_t)cause);
    }
    if (state != STATE_SAFE) {
        return no_with(NO_STATE, (uint32_t)state);
    }
    if (!sensors_suffice()) {
        return no(NO_CAPABLE);
    }
    if (!store_complete(&missing)) {
        return no_with(NO_CONFIGURED, missing);
    }
    for (uint8_t i = 0u; i < 3u; i++) {
        ceiling[i] = (uint16_t)arguments->value[i];
        if (i < WHEELS) {
            drives_ceiling(i, ceiling[i]);
        }
    }
    state_go(STATE_AWAITING_ARM, REASON_HOST);
    return fine();
}

refusal_t obey_code(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    return no(NO_CAPABLE); /* this launcher has a switch, not a display */
}

refusal_t obey_disarm(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    if (state_now() == STATE_STOPPED) {
        return no(NO_LATCHED);
    }
    if (!state_end_fault(REASON_HOST)) {
        return no_with(NO_FAULT, (uint32_t)state_cause_present());
    }
    state_make_safe(REASON_HOST);
    return fine();
}

/* ---- feeding ---- */

/* Three drives and three angles from the arguments; the number of the limit they break, or 0. */
static uint8_t read_setting(const uint32_t *values, setting_t *setting)
{
    for (uint8_t i = 0u; i < 3u; i++) {
        int32_t rpm = (int32_t)values[i];
        /* these wheels turn one way; what the launcher lacks must be 0 */
        int32_t most = (i < WHEELS) ? store_number((uint8_t)(NUMBER_DRIVE_1 + i)) : 0;
        if ((rpm < 0) || (rpm > most)) {
            return (uint8_t)(NUMBER_DRIVE_1 + i);
        }
        if (i < WHEELS) {
            setting->drives[i] = (uint16_t)rpm;
        }
    }
    for (uint8_t i = 0u; i < 3u; i++) {
        int32_t cdeg = (int32_t)values[i + 3u];
        uint8_t least = (uint8_t)(NUMBER_PAN_LEAST + (2u * i));
        bool lacking = i >= AXES;
        if (cdeg < (lacking ? 0 : store_number(least))) {
            return least;
        }
        if (cdeg > (lacking ? 0 : store_number((uint8_t)(least + 1u)))) {
            return (uint8_t)(least + 1u);
        }
        if (!lacking) {
            setting->angles[i] = (int16_t)cdeg;
        }
    }
    return 0u;
}

static refusal_t check_setting(const uint32_t *values, setting_t *setting)
{
    uint8_t broken = read_setting(values, setting);

    if (broken != 0u) {
        return no_with(NO_LIMIT, broken);
    }
    for (uint8_t i = 0u; i < WHEELS; i++) {
        if (setting->drives[i] > ceiling[i]) {
            return no_with(NO_CEILING, (uint32_t)i + 1u);
        }
    }
    return fine();
}

static refusal_t check_armed(void)
{
    if (state_now() == STATE_HELD) {
        return no(NO_HELD);
    }
    if (state_now() != STATE_ARMED) {
        return no_with(NO_STATE, (uint32_t)state_now());
    }
    return fine();
}

refusal_t obey_prep(const arguments_t *arguments, body_t *reply)
{
    setting_t setting;
    refusal_t refusal = check_armed();

    (void)reply;
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    if ((feeder_queued() > 0u) || !feeder_clear()) {
        return no(NO_QUEUE); /* the wheels belong to the ball that is on its way */
    }
    refusal = check_setting(arguments->value, &setting);
    if (refusal.code == NO_NONE) {
        feeder_prepare(&setting);
    }
    return refusal;
}

static refusal_t check_moment(uint32_t leave)
{
    uint32_t now = board_now_ms();
    int32_t ahead = moment_past(leave, now);
    int32_t interval = store_number(NUMBER_INTERVAL);
    uint32_t before;

    if (ahead < store_number(NUMBER_LEAD)) {
        return no_with(NO_LATE, now);
    }
    if (ahead > (int32_t)HORIZON_MS) {
        return no_with(NO_FAR, HORIZON_MS);
    }
    if (feeder_before(&before) && (moment_past(leave, before) < interval)) {
        return no_with(NO_SOON, (uint32_t)interval);
    }
    return fine();
}

refusal_t obey_feed(const arguments_t *arguments, body_t *reply)
{
    feed_t feed;
    refusal_t refusal = check_armed();

    (void)reply;
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    feed.id = arguments->value[0];
    feed.leave = arguments->value[1];
    if (feed.id <= memory_highest()) {
        return no_with(NO_ID, memory_highest());
    }
    if (feeder_queued() >= QUEUE_PLACES) {
        return no(NO_QUEUE);
    }
    refusal = check_setting(&arguments->value[2], &feed.setting);
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    refusal = check_moment(feed.leave);
    if (refusal.code == NO_NONE) {
        memory_accept(feed.id);
        feeder_add(&feed);
    }
    return refusal;
}

refusal_t obey_hold(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    if (state_now() == STATE_ARMED) {
        state_go(STATE_HELD, REASON_HOST);
    }
    return fine();
}

refusal_t obey_go(const arguments_t *arguments, body_t *reply)
{
    (void)arguments;
    (void)reply;
    if (state_now() != STATE_HELD) {
        return no_with(NO_STATE, (uint32_t)state_now());
    }
    state_go(STATE_ARMED, REASON_HOST);
    return fine();
}

refusal_t obey_stop(const arguments_t *arguments, body_t *reply)
{
    (void)reply;
    if (arguments->value[0] == 0u) {
        state_go(STATE_STOPPED, REASON_HOST);
    } else {
        state_make_safe(REASON_HOST);
    }
    return fine();
}
