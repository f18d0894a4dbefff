/* Start of an RP2040 from flash. The boot ROM copies the first 256 bytes to SRAM, checks their CRC-32
 * (stamped by stamp.py) and runs them: they set the flash interface up for plain 03h reads, which
 * every serial flash knows. Then the image copies itself to SRAM: flash can be written while it runs. */
    .syntax unified
    .cpu cortex-m0plus
    .thumb

    .section .boot2, "ax"
    ldr r0, =0x18000000         /* SSI */
    movs r1, #0
    str r1, [r0, #0x08]         /* off */
    movs r1, #4
    str r1, [r0, #0x14]         /* clock / 4 */
    ldr r1, =0x001F0300         /* frames of 32 bits, EEPROM read, one data line */
    str r1, [r0, #0x00]
    movs r1, #0
    str r1, [r0, #0x04]
    ldr r1, =0x03000218         /* 03h, 8 bits of command, 24 of address */
    ldr r2, =0x180000F4
    str r1, [r2]
    movs r1, #1
    str r1, [r0, #0x08]         /* on */
    ldr r0, =0x10000101         /* the copier below */
    bx r0
    .ltorg

    .section .copier, "ax"
    .thumb_func
copier:
    ldr r0, =__image_from
    ldr r1, =__image_start
    ldr r2, =__image_end
1:  ldm r0!, {r3}
    stm r1!, {r3}
    cmp r1, r2
    blo 1b
    ldr r2, =__bss_end
    movs r3, #0
2:  stm r1!, {r3}
    cmp r1, r2
    blo 2b
    ldr r0, =vectors
    ldr r1, =0xE000ED08         /* VTOR */
    str r0, [r1]
    ldm r0!, {r1, r2}
    msr msp, r1
    bx r2
    .ltorg
