/* libFuzzer target: the line reader and the argument parser behind it.
 *
 * The first byte says how the rest is sent: by cable or radio; as it is, or cut at LF into bodies that get
 * their right check, so that the parser of words and numbers is reached at once. Whatever comes in, what goes
 * out must be whole lines with a right check, and nothing may be powered: no person has acted. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fake_board.h"
#include "launcher.h"
#include "wire/crc16.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void send_byte(uint8_t byte)
{
    fake_bytes(&byte, 1u);
}

static void end_line(uint16_t crc)
{
    char tail[8];

    (void)snprintf(tail, sizeof tail, "*%04X\n", (unsigned)crc);
    fake_bytes((const uint8_t *)tail, 6u);
    launcher_poll();
}

static void send_checked(const uint8_t *data, size_t size)
{
    uint16_t crc = CRC16_START;

    for (size_t i = 0u; i < size; i++) {
        if (data[i] == (uint8_t)'\n') {
            end_line(crc);
            crc = CRC16_START;
        } else {
            send_byte(data[i]);
            crc = crc16(crc, data[i]);
        }
    }
    end_line(crc);
}

static void check_line(const char *line, size_t length)
{
    uint16_t crc = CRC16_START;
    char tail[8];

    if ((length < 6u) || (length > 113u)) {
        abort();
    }
    for (size_t i = 0u; i < (length - 5u); i++) {
        if ((line[i] < ' ') || (line[i] > '~')) {
            abort();
        }
        crc = crc16(crc, (uint8_t)line[i]);
    }
    (void)snprintf(tail, sizeof tail, "*%04X", (unsigned)crc);
    if (memcmp(line + length - 5u, tail, 5u) != 0) {
        abort();
    }
}

static void check_sent(fake_wire_t *wire)
{
    size_t start = 0u;

    for (size_t i = 0u; i < wire->out_count; i++) {
        if (wire->out[i] == '\n') {
            check_line(wire->out + start, i - start);
            start = i + 1u;
        }
    }
    if ((start != wire->out_count) || fake.power || fake.gate) {
        abort();
    }
    wire->out_count = 0u;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static bool begun;

    if (!begun || ((fake.now_ms++ % 4096u) == 0u)) {
        fake_reset();
        fake.link = 0u;
        fake_line("1 OPEN 7 1");
        fake_run(30u);
        begun = true;
    }
    if (size == 0u) {
        return 0;
    }
    fake.link = (data[0] >> 1) & 1u;
    fake_wire_t *wire = &fake.wires[fake.link];
    if ((data[0] & 1u) != 0u) {
        send_checked(data + 1u, size - 1u);
    } else {
        fake_bytes(data + 1u, size - 1u);
        send_byte((uint8_t)'\n');
    }
    for (size_t i = 0u; (i < size) && (wire->in_head != wire->in_tail); i++) {
        launcher_poll();
    }
    launcher_poll();
    check_sent(&fake.wires[0]); /* events go to whom the session belongs */
    check_sent(&fake.wires[1]);
    return 0;
}
