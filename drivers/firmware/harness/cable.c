#include "cable.h"

#include <stddef.h>
#include <string.h>

#include "inside.h"
#include "pty.h"

#define QUEUE 65536u

static struct {
    uint8_t queue[QUEUE];
    size_t head, tail;
    uint64_t next_byte_us;
    bool cut;
    unsigned corrupt_in, corrupt_out; /* one bit of each so many bytes; 0: none */
    unsigned count_in, count_out;
} cable;

static cable_counts_t counts;

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

void cable_take(void)
{
    uint8_t bytes[4096];
    size_t count = pty_read(inside.far_side, bytes, sizeof bytes);

    counts.taken += (unsigned)count;
    for (size_t i = 0u; (i < count) && !cable.cut; i++) {
        if ((cable.head - cable.tail) < QUEUE) {
            cable.queue[cable.head % QUEUE] = bytes[i];
            cable.head++;
        }
    }
}

void cable_to_image(void)
{
    while ((cable.head != cable.tail) && (cable.next_byte_us <= inside.now_us)) {
        uint8_t byte = cable.queue[cable.tail % QUEUE];
        cable.tail++;
        byte = spoil(byte, cable.corrupt_in, &cable.count_in);
        if (!inside.board->receive(byte)) {
            counts.overruns++;
        }
        counts.received++;
        counts.last_byte_us = inside.now_us;
        uint64_t due = cable.next_byte_us + CABLE_BYTE_US;
        cable.next_byte_us = (due > inside.now_us) ? due : inside.now_us + CABLE_BYTE_US;
    }
}

void cable_to_host(void)
{
    uint8_t bytes[512];
    size_t count = inside.board->transmit(bytes, sizeof bytes);

    for (size_t i = 0u; i < count; i++) {
        bytes[i] = spoil(bytes[i], cable.corrupt_out, &cable.count_out);
    }
    if (!cable.cut && (count > 0u)) {
        size_t lost = pty_write(inside.far_side, bytes, count);
        counts.lost += (unsigned)lost;
        counts.sent += (unsigned)(count - lost);
    }
}

bool cable_set(const char *name, double value)
{
    if (strcmp(name, "cut") == 0) {
        cable.cut = value != 0.0;
    } else if (strcmp(name, "corrupt_in") == 0) {
        cable.corrupt_in = (unsigned)value;
    } else if (strcmp(name, "corrupt_out") == 0) {
        cable.corrupt_out = (unsigned)value;
    } else {
        return false;
    }
    return true;
}

unsigned cable_queued(void)
{
    return (unsigned)(cable.head - cable.tail);
}

const cable_counts_t *cable_counts(void)
{
    return &counts;
}
