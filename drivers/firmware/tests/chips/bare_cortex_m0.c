/* An ordinary program with main() as a Cortex-M0 or M0+ runs it, without a board around it: what it
 * writes and how it ends go to whoever runs it, by semihosting (Arm, "Semihosting for AArch32 and
 * AArch64": operations SYS_OPEN 01h, SYS_WRITE 05h and SYS_EXIT 18h; ":tt" is the console, opened to
 * write (4) or to append (8), which is standard output or error). */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "tell.h"

#define SYS_OPEN 0x01u
#define TO_WRITE 4u
#define TO_APPEND 8u
#define SYS_WRITE 0x05u
#define SYS_EXIT 0x18u
#define ENDED_WELL 0x20026u
#define ENDED_ILL 0x20023u

int main(void);
void start(void);
void _exit(int code) __attribute__((noreturn));
int _write(int file, const char *bytes, int count);

static uint32_t output;
static uint32_t error;

static uint32_t host(uint32_t what, uint32_t with)
{
    register uint32_t r0 __asm("r0") = what;
    register uint32_t r1 __asm("r1") = with;

    __asm volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
    return r0;
}

static uint32_t opened(uint32_t how)
{
    static const char console[] = ":tt";
    const uint32_t words[] = {(uint32_t)(uintptr_t)console, how, sizeof console - 1u};

    return host(SYS_OPEN, (uint32_t)(uintptr_t)words);
}

void _exit(int code)
{
    (void)host(SYS_EXIT, (code == 0) ? ENDED_WELL : ENDED_ILL);
    for (;;) {
    }
}

int _write(int file, const char *bytes, int count)
{
    const uint32_t words[] = {(file == 2) ? error : output, (uint32_t)(uintptr_t)bytes, (uint32_t)count};

    (void)host(SYS_WRITE, (uint32_t)(uintptr_t)words);
    return count;
}

void start(void)
{
    output = opened(TO_WRITE);
    error = opened(TO_APPEND);
    int code = main();

    (void)fflush(NULL);
    _exit(code);
}
