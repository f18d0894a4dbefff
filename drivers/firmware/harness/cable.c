#include "cable.h"

#include <stddef.h>
#include <string.h>

#include "inside.h"
#include "pty.h"

#define QUEUE 65536u

typedef struct {
    uint8_t queue[QUEUE];
    size_t head, tail;
    uint64_t next_byte_us;
    bool cut;
    unsigned corrupt_in, corrupt_out; /* one bit of each so many bytes; 0: none */
    unsigned count_in, count_out;
    cable_counts_t counts;
} cable_t;

static cable_t cables[IMAGE_LINKS];

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

static void take(uint8_t link)
{
    cable_t *cable = &cables[link];
    uint8_t bytes[4096];
    size_t count = pty_read(inside.far_side[link], bytes, sizeof bytes);

    cable->counts.taken += (unsigned)count;
    for (size_t i = 0u; (i < count) && !cable->cut; i++) {
        if ((cable->head - cable->tail) < QUEUE) {
            cable->queue[cable->head % QUEUE] = bytes[i];
            cable->head++;
        }
    }
}

static void to_image(uint8_t link)
{
    cable_t *cable = &cables[link];

    while ((cable->head != cable->tail) && (cable->next_byte_us <= inside.now_us)) {
        uint8_t byte = cable->queue[cable->tail % QUEUE];
        cable->tail++;
        byte = spoil(byte, cable->corrupt_in, &cable->count_in);
        if (!inside.board->receive(link, byte)) {
            cable->counts.overruns++;
        }
        cable->counts.received++;
        cable->counts.last_byte_us = inside.now_us;
        uint64_t due = cable->next_byte_us + CABLE_BYTE_US;
        cable->next_byte_us = (due > inside.now_us) ? due : inside.now_us + CABLE_BYTE_US;
    }
}

static void to_host(uint8_t link)
{
    cable_t *cable = &cables[link];
    uint8_t bytes[512];
    size_t count = inside.board->transmit(link, bytes, sizeof bytes);

    for (size_t i = 0u; i < count; i++) {
        bytes[i] = spoil(bytes[i], cable->corrupt_out, &cable->count_out);
    }
    if (!cable->cut && (count > 0u)) {
        size_t lost = pty_write(inside.far_side[link], bytes, count);
        cable->counts.lost += (unsigned)lost;
        cable->counts.sent += (unsigned)(count - lost);
    }
}

static void for_each_link(void (*act)(uint8_t link))
{
    for (uint8_t link = 0u; link < inside.board->links; link++) {
        act(link);
    }
}

void cable_take(void)
{
    for_each_link(take);
}

void cable_to_image(void)
{
    for_each_link(to_image);
}

void cable_to_host(void)
{
    for_each_link(to_host);
}

bool cable_set(const char *name, double value)
{
    bool radio = strncmp(name, "radio_", 6u) == 0;
    cable_t *cable = &cables[radio ? 1 : 0];
    const char *fault = radio ? name + 6 : name;

    if (strcmp(fault, "cut") == 0) {
        cable->cut = value != 0.0;
    } else if (strcmp(fault, "corrupt_in") == 0) {
        cable->corrupt_in = (unsigned)value;
    } else if (strcmp(fault, "corrupt_out") == 0) {
        cable->corrupt_out = (unsigned)value;
    } else {
        return false;
    }
    return true;
}

unsigned cable_queued(uint8_t link)
{
    return (unsigned)(cables[link].head - cables[link].tail);
}

const cable_counts_t *cable_counts(uint8_t link)
{
    return &cables[link].counts;
}
