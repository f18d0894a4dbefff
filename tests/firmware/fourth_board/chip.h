/* An invented controller, as its maker's pages would describe it: registers and interrupts. There is no
 * such part. chip.c plays it, with the mechanics of the harness on its pins. */
#ifndef FEEDSCRIPT_INVENTED_CHIP_H
#define FEEDSCRIPT_INVENTED_CHIP_H

#include <stdbool.h>
#include <stdint.h>

/* Bits of OUT: an output is driven while its bit in DRIVE is set, else it floats. */
#define OUT_CONTACTOR 0x01u
#define OUT_GATE 0x02u
#define OUT_LAMP 0x04u

/* Bits of IN; inputs have pull-ups. */
#define IN_BALL 0x01u   /* low while blocked */
#define IN_LOOP 0x02u   /* low while whole */
#define IN_SWITCH 0x04u /* low while on */
#define IN_READY 0x08u  /* low while a ball lies on the gate */
#define IN_JUMPER 0x10u /* low while fitted */

/* Bits of CAUSE; the part never clears them, writing ones does. */
#define CAUSE_COLD 0x1u
#define CAUSE_PIN 0x2u
#define CAUSE_SAG 0x4u
#define CAUSE_DOG 0x8u

#define FLASH_SECTOR 1024u /* two of them for data; erased bytes are FF hex, programming clears bits */

typedef struct {
    uint8_t out, drive, in, cause;
    uint16_t level[2];   /* PWM, 0 to 1,000; 0 is off at once */
    uint16_t pulse[2];   /* servo, in steps of 2 us, 0 none */
    uint32_t ticks;      /* free-running microseconds */
    uint16_t analog[2];  /* 12 bits: supply of 24 V at full, temperature of 250 degrees at full */
    uint8_t received;    /* the byte of the receive interrupt */
    uint8_t to_send;     /* writing it clears `can_send` until the byte has gone */
    bool can_send;
    bool masked;         /* no interrupt while set */
    uint32_t dog;        /* reloaded with milliseconds, counts down, restarts the part at 0 */
    uint8_t flash[2][FLASH_SECTOR];
} chip_t;

extern chip_t chip;

void chip_send(uint8_t byte);
void chip_erase(uint8_t sector);
void chip_program(uint8_t sector, uint16_t at, uint8_t value);

/* What the part calls: after a start, ever again, and its interrupts. */
void firmware_start(void);
void firmware_loop(void);
void on_millisecond(void);
void on_receive(void);
void on_sent(void);
void on_ball_edge(void);
void on_tach(uint8_t wheel);

#endif
