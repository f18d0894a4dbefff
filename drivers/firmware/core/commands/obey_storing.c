/* What is stored at the cable, in safe only: limits, the profile's hash, the key. */
#include "commands/obey.h"

#include "feeding/state.h"
#include "link/seal.h"
#include "sensing/sensors.h"
#include "store/store.h"

/* ---- storing, at the cable and in safe only ---- */

static refusal_t check_storing(void)
{
    if (state_now() != STATE_SAFE) {
        return no_with(NO_STATE, (uint32_t)state_now());
    }
    return fine();
}

static refusal_t set_own(int32_t value)
{
    if (value < 1) {
        return no_with(NO_LIMIT, NUMBER_OWN);
    }
    store_set_own(value);
    return fine();
}

/* A limit is kept of what is measured; whatever was kept can be forgotten. */
static bool is_measured(uint32_t number)
{
    switch (number) {
    case NUMBER_LEAST_MV:
        return sensors_have(SENSES_SUPPLY);
    case NUMBER_MOST_C:
        return sensors_have(SENSES_TEMPERATURE);
    default:
        return true;
    }
}

refusal_t obey_set(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();
    uint32_t number = arguments->value[0];
    int32_t value = (int32_t)arguments->value[1];

    (void)reply;
    if (refusal.code != NO_NONE) {
        return refusal;
    }
    if (number == NUMBER_OWN) {
        return set_own(value);
    }
    if (!store_knows(number) || ((value != UNSET) && !is_measured(number))) {
        return no(NO_CAPABLE);
    }
    if (!store_allows((uint8_t)number, value)) {
        return no_with(NO_LIMIT, number);
    }
    if ((number == NUMBER_KEY_NEEDED) && (value == 1) && !seal_has_key()) {
        return no(NO_KEY); /* the port would be shut for good */
    }
    store_set((uint8_t)number, value);
    return fine();
}

refusal_t obey_hash(const arguments_t *arguments, body_t *reply)
{
    uint8_t bytes[32];

    if (arguments->has_digest) {
        refusal_t refusal = check_storing();
        if (refusal.code == NO_NONE) {
            store_set_hash(arguments->digest);
        }
        return refusal;
    }
    store_hash(bytes);
    body_char(reply, ' ');
    for (uint8_t i = 0u; i < 32u; i++) {
        body_char(reply, hex_digit_small((uint8_t)(bytes[i] >> 4)));
        body_char(reply, hex_digit_small(bytes[i]));
    }
    return fine();
}

refusal_t obey_name(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();

    (void)reply;
    if (refusal.code == NO_NONE) {
        store_set_name(arguments->digest);
    }
    return refusal;
}

refusal_t obey_pair(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();

    (void)reply;
    if (refusal.code == NO_NONE) {
        store_set_key(arguments->digest);
        seal_take_key();
    }
    return refusal;
}

refusal_t obey_unpair(const arguments_t *arguments, body_t *reply)
{
    refusal_t refusal = check_storing();

    (void)arguments;
    (void)reply;
    if (refusal.code == NO_NONE) {
        store_forget_key();
        seal_take_key();
    }
    return refusal;
}
