#define _GNU_SOURCE 1
#include "pty.h"

#include <fcntl.h>
#include <pty.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

int pty_open(char *name, size_t size)
{
    int far_side = -1;
    int near_side = -1;
    struct termios raw;
    char found[64];

    if (openpty(&far_side, &near_side, found, NULL, NULL) != 0) {
        return -1;
    }
    if ((strlen(found) >= size) || (tcgetattr(near_side, &raw) != 0)) {
        return -1;
    }
    cfmakeraw(&raw);
    if (tcsetattr(near_side, TCSANOW, &raw) != 0) {
        return -1;
    }
    if (fcntl(far_side, F_SETFL, O_NONBLOCK) != 0) {
        return -1;
    }
    (void)strcpy(name, found);
    return far_side;
}

size_t pty_read(int far_side, uint8_t *into, size_t most)
{
    ssize_t got = read(far_side, into, most);
    return (got > 0) ? (size_t)got : 0u;
}

size_t pty_write(int far_side, const uint8_t *bytes, size_t count)
{
    size_t done = 0u;

    while (done < count) {
        ssize_t put = write(far_side, bytes + done, count - done);
        if (put <= 0) {
            break;
        }
        done += (size_t)put;
    }
    return count - done;
}
