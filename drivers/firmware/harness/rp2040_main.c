/* Runs the compiled RP2040 image under rp2040js, with the plant on its pins.
 *
 * The emulator is a process of node at the end of a socket pair; what is said there stands in
 * emulator/serve.mjs.
 */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <unistd.h>

#include "far_end.h"

#define SERVER "/emulator/serve.mjs" /* beside this program */
#define MEMORY 8192u
#define DEPTH 64u /* bytes that may come in one slice */
#define PINS_BYTES 22u
#define UARTS 2u

static int emulator;
static bool begun;
static uint8_t stored[MEMORY];
static uint32_t levels;
static uint16_t analogue[2];
static plant_drive_t pins;
static struct {
    uint8_t due[DEPTH];
    uint16_t due_count;
    uint8_t sent[8192];
    size_t sent_count;
} uarts[UARTS];

/* ---- the pipe ---- */

static void ended(void)
{
    (void)fputs("the emulator has ended\n", stderr);
    exit(1);
}

static void give(const void *bytes, size_t count)
{
    if (write(emulator, bytes, count) != (ssize_t)count) {
        ended();
    }
}

static void take(void *bytes, size_t count)
{
    for (size_t got = 0u; got < count;) {
        ssize_t some = read(emulator, (uint8_t *)bytes + got, count - got);
        if (some <= 0) {
            ended();
        }
        got += (size_t)some;
    }
}

/* The stored bytes are loaded after main() has opened the pipe and before the chip starts. */
static void begin(void)
{
    if (!begun) {
        begun = true;
        give("L", 1u);
        give(stored, sizeof stored);
    }
}

static void ask(char what)
{
    begin();
    give(&what, 1u);
}

static uint16_t word(const uint8_t *at)
{
    return (uint16_t)(at[0] | (at[1] << 8));
}

/* ---- what the loop asks ---- */

static void ask_to_run(uint32_t us)
{
    uint8_t line[13u] = {'A'};

    (void)memcpy(line + 1, &us, 4u);
    (void)memcpy(line + 5, &levels, 4u);
    (void)memcpy(line + 9, analogue, 4u);
    begin();
    give(line, sizeof line);
    for (size_t i = 0u; i < UARTS; i++) {
        give(&uarts[i].due_count, 2u);
        give(uarts[i].due, uarts[i].due_count);
        uarts[i].due_count = 0u;
    }
}

static void take_sent(size_t i)
{
    uint8_t count[2];

    take(count, sizeof count);
    if ((uarts[i].sent_count + word(count)) > sizeof uarts[i].sent) {
        ended();
    }
    take(uarts[i].sent + uarts[i].sent_count, word(count));
    uarts[i].sent_count += word(count);
}

static void advance(uint32_t us)
{
    uint8_t got[PINS_BYTES];

    ask_to_run(us);
    take(got, sizeof got);
    pins.power = (got[0] & 1u) != 0u;
    pins.gate = (got[0] & 2u) != 0u;
    for (size_t i = 0u; i < PLANT_WHEELS; i++) {
        pins.duty[i] = (double)word(got + 1u + (4u * i)) / word(got + 3u + (4u * i));
        pins.servo_us[i] = word(got + 9u + (2u * i));
    }
    for (size_t i = 0u; i < 2u; i++) {
        (void)memcpy(&pins.steps[i], got + 14u + (4u * i), 4u);
    }
    for (size_t i = 0u; i < UARTS; i++) {
        take_sent(i);
    }
}

static void inputs(const plant_sense_t *sense)
{
    const bool high[] = {sense->tach[0], sense->tach[1], !sense->ball[0], sense->loop_open,
                         !sense->arm_switch, !sense->ball_ready, true, !sense->near[0], !sense->near[1], !sense->ball[1]};
    const int pin[] = {2, 3, 4, 16, 17, 18, 19, 22, 28, 5};

    levels = 0u;
    for (size_t i = 0u; i < (sizeof pin / sizeof pin[0]); i++) {
        levels |= (uint32_t)high[i] << pin[i];
    }
    analogue[0] = (uint16_t)((sense->supply_mv * 4096.0 / 19800.0) + 0.5);
    analogue[1] = (uint16_t)((sense->motor_temp_c * 4096.0 / 330.0) + 0.5);
}

static void outputs(plant_drive_t *drive)
{
    *drive = pins;
}

/* An overrun inside the chip shows only in its answer: the byte is lost all the same. */
static bool receive(uint8_t link, uint8_t byte)
{
    if (uarts[link].due_count >= DEPTH) {
        return false;
    }
    uarts[link].due[uarts[link].due_count] = byte;
    uarts[link].due_count++;
    return true;
}

static size_t transmit(uint8_t link, uint8_t *into, size_t most)
{
    uint8_t *sent = uarts[link].sent;
    size_t count = (uarts[link].sent_count < most) ? uarts[link].sent_count : most;

    (void)memcpy(into, sent, count);
    (void)memmove(sent, sent + count, uarts[link].sent_count - count);
    uarts[link].sent_count -= count;
    return count;
}

static void reset(void)
{
    ask('R');
}

static bool brown_out(void)
{
    ask('P');
    return true;
}

static bool hang(void)
{
    ask('H');
    return true;
}

static bool lose_tick(void)
{
    ask('T');
    return true;
}

static size_t memory(uint8_t **bytes)
{
    if (begun) {
        ask('M');
        take(stored, sizeof stored);
    }
    *bytes = stored;
    return sizeof stored;
}

static int stack_most(void)
{
    uint32_t most;

    ask('S');
    take(&most, sizeof most);
    return (int)most;
}

/* ---- start ---- */

static bool find_server(char *path, size_t size)
{
    ssize_t length = readlink("/proc/self/exe", path, size - sizeof SERVER);

    if (length <= 0) {
        return false;
    }
    path[length] = '\0';
    (void)strcpy(strrchr(path, '/'), SERVER);
    return true;
}

static void become_emulator(int end, const char *image)
{
    char path[4096];

    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
    (void)dup2(end, STDIN_FILENO);
    (void)dup2(end, STDOUT_FILENO);
    (void)close(end);
    if (find_server(path, sizeof path)) {
        (void)execlp("node", "node", path, image, (char *)NULL);
    }
    (void)fputs("node cannot be started\n", stderr);
    _exit(127);
}

static bool start_emulator(const char *image)
{
    int ends[2];

    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0) {
        return false;
    }
    pid_t child = fork();
    if (child == 0) {
        become_emulator(ends[1], image);
    }
    (void)close(ends[1]);
    emulator = ends[0];
    return child > 0;
}

int main(int argc, char **argv)
{
    const image_t board = {UARTS, advance, inputs, outputs, receive, transmit,
                                   reset, brown_out, hang, lose_tick, memory, stack_most};
    far_end_options_t options;
    const char *image = far_end_arguments(argc, argv, &options);

    if (image == NULL) {
        (void)fputs("usage: rp2040 [--link PATH] [--memory FILE] [--pace P] IMAGE\n", stderr);
        return 2;
    }
    (void)memset(stored, 0xFF, sizeof stored);
    if (!far_end_load_memory(&board, &options) || !start_emulator(image)) {
        (void)fputs("the memory file cannot be read, or the emulator not started\n", stderr);
        return 3;
    }
    plant_init(far_end_plant());
    return far_end_run(&board, &options);
}
