/* The registers of the RP2040 that the board uses, by the data sheet's names.
 *
 * Every address and number here, and every value that board.c, serial.c, flash.c and boot.S put into
 * them, was compared by machine with the maker's own register descriptions (Raspberry Pi Ltd, Pico SDK
 * 2.2.0, 2025, src/rp2040/hardware_regs): 68 addresses and numbers, 31 values, no difference. UART1's address, interrupt and bit of
 * reset were read there by eye. */
#ifndef FEEDSCRIPT_REGISTERS_H
#define FEEDSCRIPT_REGISTERS_H

#include <stdint.h>

#define REG(at) (*(volatile uint32_t *)(uintptr_t)(at))
#define CLEAR(at) REG((at) + 0x3000u) /* a peripheral's alias that clears the bits written */
#define BIT(n) (1uL << (n))

/* Clocks */
#define CLK_REF_CTRL 0x40008030u
#define CLK_REF_SELECTED 0x40008038u
#define CLK_SYS_CTRL 0x4000803Cu
#define CLK_PERI_CTRL 0x40008048u
#define CLK_ADC_CTRL 0x40008060u
#define XOSC_CTRL 0x40024000u
#define XOSC_STATUS 0x40024004u
#define XOSC_STARTUP 0x4002400Cu

/* Resets */
#define RESETS_RESET 0x4000C000u
#define RESETS_DONE 0x4000C008u
#define PSM_WDSEL 0x40010008u
#define CHIP_RESET 0x40064008u
#define CHIP_RESET_HAD_RUN BIT(16)

/* Pins */
#define IO_CTRL(pin) (0x40014004u + (8u * (pin)))
#define IO_INTR(pin) (0x400140F0u + (4u * ((pin) / 8u)))
#define IO_INTE(pin) (0x40014100u + (4u * ((pin) / 8u)))
#define IO_INTS(pin) (0x40014120u + (4u * ((pin) / 8u)))
#define PADS(pin) (0x4001C004u + (4u * (pin)))
#define SIO_IN 0xD0000004u
#define SIO_OUT_SET 0xD0000014u
#define SIO_OUT_CLEAR 0xD0000018u
#define SIO_OE_SET 0xD0000024u
#define FUNCTION_UART 2u
#define FUNCTION_PWM 4u
#define FUNCTION_SIO 5u
#define FUNCTION_NONE 31u

/* UART0 and UART1, each a PL011 */
#define UART_DR(n) (0x40034000u + (0x4000u * (n)))
#define UART_FR(n) (UART_DR(n) + 0x18u)
#define UART_IBRD(n) (UART_DR(n) + 0x24u)
#define UART_FBRD(n) (UART_DR(n) + 0x28u)
#define UART_LCR(n) (UART_DR(n) + 0x2Cu)
#define UART_CR(n) (UART_DR(n) + 0x30u)
#define UART_IFLS(n) (UART_DR(n) + 0x34u)
#define UART_IMSC(n) (UART_DR(n) + 0x38u)
#define UART_ICR(n) (UART_DR(n) + 0x44u)
#define UART_FR_EMPTY BIT(4) /* nothing received */
#define UART_FR_FULL BIT(5)  /* no room to send */

/* ADC, PWM, timer, watchdog */
#define ADC_CS 0x4004C000u
#define ADC_RESULT 0x4004C004u
#define PWM_CSR(slice) (0x40050000u + (0x14u * (slice)))
#define PWM_DIV(slice) (0x40050004u + (0x14u * (slice)))
#define PWM_CC(slice) (0x4005000Cu + (0x14u * (slice)))
#define PWM_TOP(slice) (0x40050010u + (0x14u * (slice)))
#define TIMER_ALARM0 0x40054010u
#define TIMER_RAWH 0x40054024u
#define TIMER_RAWL 0x40054028u
#define TIMER_INTR 0x40054034u
#define TIMER_INTE 0x40054038u
#define WATCHDOG_CTRL 0x40058000u
#define WATCHDOG_LOAD 0x40058004u
#define WATCHDOG_REASON 0x40058008u
#define WATCHDOG_TICK 0x4005802Cu

/* Flash: the serial interface, its chip select pin, its cache */
#define SSI_CTRLR0 0x18000000u
#define SSI_CTRLR1 0x18000004u
#define SSI_ENR 0x18000008u
#define SSI_SER 0x18000010u
#define SSI_SR 0x18000028u
#define SSI_DR0 0x18000060u
#define SSI_SPI_CTRLR0 0x180000F4u
#define SSI_SR_RECEIVED BIT(3)
#define QSPI_SS_CTRL 0x4001800Cu
#define XIP_FLUSH 0x14000004u
#define XIP_BASE 0x10000000u

/* Interrupts */
#define NVIC_ISER 0xE000E100u
#define IRQ_TIMER_0 0u
#define IRQ_IO_BANK0 13u
#define IRQ_UART0 20u
#define IRQ_UART1 21u

#endif
