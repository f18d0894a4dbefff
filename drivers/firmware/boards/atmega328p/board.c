/* ATmega328P at 16 MHz and 5 V. The wiring table is in the build guide (README.md).
 *
 * PD0 RX, PD1 TX        serial line
 * PD2, PD3              tachometers of wheel 1 and 2, falling edge (INT0, INT1)
 * PD4                   ball sensor, low while blocked (PCINT20)
 * PD5, PD6              motor drivers of wheel 2 and 1 (OC0B, OC0A)
 * PD7                   contactor of the motors' supply
 * PB0                   gate
 * PB1, PB2              pan and tilt servo (OC1A, OC1B)
 * PB3, PB4              direction and home sensor of an axis by stepping motor (low while covered);
 *                       its steps are at PB1 or PB2, where its servo would be
 *                       (PB4: a second ball sensor instead, where it is built with SENSORS=2u)
 * PB5                   lamp: lit while drives may turn
 * PC0                   emergency stop loop, low while whole
 * PC1                   arming switch, low while on
 * PC2                   ball on the gate, low while there
 * PC3                   setup jumper, low while fitted
 * PC4, PC5              supply voltage (1:4 divider), motor temperature (10 mV a degree)
 *
 * Timer 0: PWM of the wheels, 7.8 kHz. Timer 1: servos, 50 Hz, half a microsecond a step.
 * Timer 2: the millisecond tick, 4 us a step, also the tachometers' clock.
 */
#include "board.h"

#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/delay.h>

#include "guard/fence.h"
#include "launcher.h"
#include "rom.h"
#include "serial.h"
#include "store/store.h"

#define TICK_STEPS 250u
#define SUPPLY_FULL_MV 20000L /* 5 V reference behind a 1:4 divider */
#define ADC_FULL 1024L
#define ADC_EVERY_MS 10u
#define STEP_US 2.0 /* common drivers of stepping motors want 1 to 2 (from memory) */

_Static_assert((WHEELS <= 2u) && (AXES <= 2u), "this board has outputs for two of each");
_Static_assert(STEPPERS < 3u, "and pins for one stepping motor");
_Static_assert((SENSORS == 1u) || ((SENSORS == 2u) && (STEPPERS == 0u)), "and PB4 is for one of them");
_Static_assert(LINKS == 1u, "the chip has one serial line");

static volatile uint32_t milliseconds;
static volatile uint32_t tick_base; /* tachometer clock at the last tick */
static volatile uint16_t pulses[WHEELS];
static volatile uint32_t stamps[WHEELS];
static volatile uint16_t supply_raw;
static volatile uint16_t temperature_raw;

/* Kept over the start-up code, which clears everything else. */
static uint8_t start_flags __attribute__((section(".noinit")));

/* The watchdog stays armed after it has bitten: it must be calmed before the start-up code, which
 * may take longer than its shortest time. Runs before main, without a frame. */
void calm_watchdog(void) __attribute__((naked, used, section(".init3")));
void calm_watchdog(void)
{
    start_flags = MCUSR;
    MCUSR = 0u;
    wdt_disable();
}

/* ---- interrupts ---- */

static void measure(void)
{
    uint16_t value = ADC;

    if ((ADMUX & 0x0Fu) == 4u) {
        supply_raw = value;
        ADMUX = (uint8_t)(_BV(REFS0) | 5u);
    } else {
        temperature_raw = value;
        ADMUX = (uint8_t)(_BV(REFS0) | 4u);
    }
    ADCSRA |= _BV(ADSC);
}

ISR(TIMER2_COMPA_vect)
{
    static uint8_t until_measure = ADC_EVERY_MS;

    milliseconds++;
    tick_base += TICK_STEPS;
    fence_tick();
    until_measure--;
    if (until_measure == 0u) {
        until_measure = ADC_EVERY_MS;
        measure();
    }
}

static void note_pulse(uint8_t wheel)
{
    uint8_t step = TCNT2;
    uint32_t stamp = tick_base + step;

    if (((TIFR2 & _BV(OCF2A)) != 0u) && (step < (TICK_STEPS / 2u))) {
        stamp += TICK_STEPS; /* the tick is due but has not been served */
    }
    pulses[wheel]++;
    stamps[wheel] = stamp;
}

ISR(INT0_vect)
{
    note_pulse(0u);
}

#if WHEELS > 1
ISR(INT1_vect)
{
    note_pulse(1u);
}
#endif

#if SENSORS > 1
ISR(PCINT0_vect)
{
    if (board_ball_blocked(1u)) {
        fence_ball(1u);
    }
}
#endif

ISR(PCINT2_vect)
{
    if (board_ball_blocked(0u)) {
        fence_ball(0u);
    }
}

/* ---- time and locks ---- */

uint8_t board_lock(void)
{
    uint8_t before = SREG;

    cli();
    return before;
}

void board_unlock(uint8_t before)
{
    SREG = before;
}

uint32_t board_now_ms(void)
{
    uint8_t before = board_lock();
    uint32_t now = milliseconds;

    board_unlock(before);
    return now;
}

uint8_t board_start_cause(void)
{
    if ((start_flags & _BV(PORF)) != 0u) {
        return CAUSE_POWER; /* a rising supply trips the brown-out detector too */
    }
    if ((start_flags & _BV(BORF)) != 0u) {
        return CAUSE_BROWN_OUT; /* whatever a sagging supply made the watchdog do before */
    }
    return ((start_flags & _BV(WDRF)) != 0u) ? CAUSE_WATCHDOG : CAUSE_RESET;
}

void board_alive(void)
{
    wdt_reset();
}

/* ---- outputs ---- */

static void put(volatile uint8_t *port, uint8_t bit, bool on)
{
    uint8_t before = board_lock();

    if (on) {
        *port = (uint8_t)(*port | (1u << bit));
    } else {
        *port = (uint8_t)(*port & ~(1u << bit));
    }
    board_unlock(before);
}

void board_power(bool on)
{
    put(&PORTD, PD7, on);
}

/* At duty 0 the timer is taken off the pin: fast PWM leaves a sliver of one step. */
void board_wheel(uint8_t wheel, uint8_t duty)
{
    uint8_t connect = (wheel == 0u) ? _BV(COM0A1) : _BV(COM0B1);
    uint8_t before = board_lock();

    if (wheel == 0u) {
        OCR0A = duty;
    } else {
        OCR0B = duty;
    }
    if (duty > 0u) {
        TCCR0A |= connect;
    } else {
        TCCR0A &= (uint8_t)~connect;
    }
    board_unlock(before);
}

void board_gate(bool open)
{
    put(&PORTB, PB0, open);
}

void board_servo(uint8_t axis, uint16_t us)
{
    uint8_t connect = (axis == 0u) ? _BV(COM1A1) : _BV(COM1B1);
    uint8_t before = board_lock();

    if (us > 0u) {
        if (axis == 0u) {
            OCR1A = (uint16_t)(us * 2u);
        } else {
            OCR1B = (uint16_t)(us * 2u);
        }
        TCCR1A |= connect;
    } else {
        TCCR1A &= (uint8_t)~connect;
    }
    board_unlock(before);
}

#if STEPPERS != 0
void board_step(uint8_t axis, bool forward)
{
    uint8_t pin = (axis == 0u) ? PB1 : PB2;

    put(&PORTB, PB3, forward);
    _delay_us(STEP_US);
    put(&PORTB, pin, true);
    _delay_us(STEP_US);
    put(&PORTB, pin, false);
}
#endif

void board_lamp(bool on)
{
    put(&PORTB, PB5, on);
}

/* ---- inputs ---- */

const sensor_t board_sensors[] ROM = {
    {SENSES_BALL, 0u},
#if SENSORS > 1
    {SENSES_BALL, 1u},
#endif
    {SENSES_GATE, 0u},
#if VALVE != 0
    {SENSES_TANK, 0u},
#else
    {SENSES_WHEEL, 0u},
#endif
#if WHEELS > 1
    {SENSES_WHEEL, 1u},
#endif
#if STEPPERS != 0
    {SENSES_HOME, STEPPERS - 1u},
#endif
    {SENSES_SUPPLY, 0u},
    {SENSES_TEMPERATURE, 0u},
    {SENSES_END, 0u},
};

bool board_stop_loop_open(void)
{
    return (PINC & _BV(PC0)) != 0u;
}

bool board_arm_switch(void)
{
    return (PINC & _BV(PC1)) == 0u;
}

/* The pin that one axis or one more sensor may have. */
static bool spare_low(void)
{
    return (PINB & _BV(PB4)) == 0u;
}

bool board_ball_blocked(uint8_t sensor)
{
    return (sensor == 0u) ? ((PIND & _BV(PD4)) == 0u) : spare_low();
}

bool board_ball_ready(void)
{
    return (PINC & _BV(PC2)) == 0u;
}

#if VALVE != 0
bool board_tank_ready(void)
{
    return (PIND & _BV(PD2)) == 0u;
}
#endif

#if STEPPERS != 0
bool board_axis_near(uint8_t axis)
{
    (void)axis; /* there is one */
    return spare_low();
}
#endif

bool board_setup_jumper(void)
{
    return (PINC & _BV(PC3)) == 0u;
}

void board_tach(uint8_t wheel, uint16_t *count, uint32_t *stamp)
{
    uint8_t before = board_lock();

    *count = pulses[wheel];
    *stamp = stamps[wheel];
    board_unlock(before);
}

int32_t board_supply_mv(void)
{
    uint8_t before = board_lock();
    uint16_t raw = supply_raw;

    board_unlock(before);
    return ((int32_t)raw * SUPPLY_FULL_MV) / ADC_FULL;
}

int32_t board_temperature_c(uint8_t part)
{
    (void)part; /* there is one */
    uint8_t before = board_lock();
    uint16_t raw = temperature_raw;

    board_unlock(before);
    return ((int32_t)raw * 500L) / ADC_FULL;
}

/* ---- non-volatile memory ---- */

uint8_t board_store_read(uint16_t at)
{
    return eeprom_read_byte((const uint8_t *)at);
}

void board_store_write(uint16_t at, uint8_t value)
{
    eeprom_write_byte((uint8_t *)at, value);
    eeprom_busy_wait();
}

void board_store_commit(void)
{
    /* every byte was kept when it was written */
}

/* ---- start ---- */

static void pins(void)
{
    /* Outputs low before they are outputs; inputs pulled up, so that a broken wire reads as the
     * safe thing: loop open, switch off, no jumper. */
    PORTD = _BV(PD2) | _BV(PD3) | _BV(PD4);
    DDRD = _BV(PD5) | _BV(PD6) | _BV(PD7);
    PORTB = 0u;
    DDRB = _BV(PB0) | _BV(PB1) | _BV(PB2) | _BV(PB5);
#if STEPPERS != 0
    DDRB |= _BV(PB3);
#endif
#if (STEPPERS != 0) || (SENSORS > 1)
    PORTB |= _BV(PB4);
#endif
    PORTC = _BV(PC0) | _BV(PC1) | _BV(PC2) | _BV(PC3);
    DDRC = 0u;
    DIDR0 = _BV(ADC4D) | _BV(ADC5D);
}

static void timers(void)
{
    TCCR0A = _BV(WGM01) | _BV(WGM00);
    TCCR0B = _BV(CS01);
    ICR1 = 39999u;
    TCCR1A = _BV(WGM11);
    TCCR1B = _BV(WGM13) | _BV(WGM12) | _BV(CS11);
    TCCR2A = _BV(WGM21);
    OCR2A = TICK_STEPS - 1u;
    TCCR2B = _BV(CS22);
    TIMSK2 = _BV(OCIE2A);
}

static void sensors(void)
{
    EICRA = _BV(ISC01) | _BV(ISC11);
    EIMSK = _BV(INT0);
#if WHEELS > 1
    EIMSK |= _BV(INT1);
#endif
    PCMSK2 = _BV(PCINT20);
    PCICR = _BV(PCIE2);
#if SENSORS > 1
    PCMSK0 = _BV(PCINT4);
    PCICR |= _BV(PCIE0);
#endif
    ADMUX = (uint8_t)(_BV(REFS0) | 4u);
    ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
}

int main(void)
{
    pins();
    timers();
    serial_begin();
    sensors();
    wdt_enable(WDTO_120MS);
    launcher_begin();
    SMCR = _BV(SE); /* idle: only the processor sleeps */
    sei();
    for (;;) {
        launcher_poll();
        sleep_cpu(); /* until the next interrupt, a millisecond at most */
    }
}
