/* An ordinary program with main() as a Cortex-M0+ runs it from SRAM, without a board around it: what it
 * writes and how it ends go to whoever runs it, by semihosting (Arm, "Semihosting for AArch32 and
 * AArch64": operations SYS_WRITE 05h and SYS_EXIT 18h). */
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "tell.h"

#define SYS_WRITE 0x05u
#define SYS_EXIT 0x18u
#define ENDED_WELL 0x20026u
#define ENDED_ILL 0x20023u

int main(void);
void start(void);
void _exit(int code) __attribute__((noreturn));
int _write(int file, const char *bytes, int count);

static void host(uint32_t what, uint32_t with)
{
    register uint32_t r0 __asm("r0") = what;
    register uint32_t r1 __asm("r1") = with;

    __asm volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
}

void _exit(int code)
{
    host(SYS_EXIT, (code == 0) ? ENDED_WELL : ENDED_ILL);
    for (;;) {
    }
}

int _write(int file, const char *bytes, int count)
{
    const uint32_t words[] = {(uint32_t)file, (uint32_t)(uintptr_t)bytes, (uint32_t)count};

    host(SYS_WRITE, (uint32_t)(uintptr_t)words);
    return count;
}

void start(void)
{
    int code = main();

    (void)fflush(NULL);
    _exit(code);
}
