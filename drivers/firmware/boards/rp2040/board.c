/* RP2040 on its 12 MHz crystal alone (no PLL), running from SRAM, one core. The wiring table is in the
 * build guide (README.md).
 *
 * GP0, GP1              the cable's serial line, TX and RX (UART0)
 * GP2, GP3              tachometers of wheel 1 and 2, falling edge; of a valve's tank (VALVE=1u) GP2 is its
 *                       pressure's switch, low while closed
 * GP4                   ball sensor, low while blocked; GP5: a second one (SENSORS=2u)
 * GP6, GP8              motor drivers of wheel 1 and 2 (PWM slices 3 and 4, channel A)
 * GP10, GP12            pan and tilt servo (PWM slices 5 and 6, channel A)
 * GP11, GP13            direction of pan and tilt by stepping motor; its steps are at GP10 and GP12
 * GP14                  contactor of the motors' supply
 * GP15                  gate
 * GP16                  emergency stop loop, low while whole
 * GP17                  arming switch, low while on
 * GP18                  ball on the gate, low while there
 * GP19                  setup jumper, low while fitted
 * GP20, GP21            a radio module's serial line, TX and RX (UART1)
 * GP22, GP28            home sensor of pan and tilt by stepping motor, low while covered
 * GP25                  lamp: lit while drives may turn
 * GP26, GP27            supply voltage (1:6 divider), motor temperature (10 mV a degree)
 *
 * Timer alarm 0: the millisecond tick. PWM: wheels 7.8 kHz, servos 50 Hz, a microsecond a step.
 */
#include "board.h"

#include "guard/fence.h"
#include "launcher.h"
#include "registers.h"
#include "serial.h"
#include "store_flash.h"

#define TICK_US 1000u
#define ADC_EVERY_MS 10u
#define ADC_ONCE BIT(2)
#define ADC_ON BIT(0)
#define WATCHDOG_STEPS_MS 2000u /* counts twice a microsecond: the chip's erratum E1 */
#define WATCHDOG_MS 120u
#define STARTING_MS 4000u /* a sector of flash may have to be erased before the tick begins */
#define STEP_US 3u        /* of the timer, begun ones too: common drivers of stepping motors want 1 to 2 (from memory) */
#define EDGE_LOW 4uL      /* of the four bits a pin has in the registers of edges */

enum {
    PIN_TX = 0, PIN_RX = 1, PIN_TACH = 2, PIN_BALL = 4, PIN_POWER = 14, PIN_GATE = 15, PIN_LOOP = 16,
    PIN_SWITCH = 17, PIN_READY = 18, PIN_JUMPER = 19, PIN_RADIO_TX = 20, PIN_RADIO_RX = 21, PIN_LAMP = 25,
    PIN_SUPPLY = 26, PIN_WARMTH = 27
};
#if STEPPERS != 0
enum { PIN_STEP = 10, PIN_FORWARD = 11, PIN_NEAR = 22, PIN_NEAR_TILT = 28 };
#endif
enum { SLICE_WHEELS = 3, SLICE_SERVOS = 5, SLICES_END = 7 };
enum { PAD_OUT = 0x56, PAD_PULLED_UP = 0x4A, PAD_ANALOG = 0x80 };

_Static_assert((WHEELS <= 2u) && (AXES <= 2u), "this board has outputs for two of each");
_Static_assert(SENSORS <= 2u, "and inputs for two");

static volatile uint32_t milliseconds;
static uint32_t next_tick_us;
static volatile uint16_t pulses[WHEELS];
static volatile uint32_t stamps[WHEELS];
static volatile uint16_t measured[2]; /* supply, temperature */

/* ---- interrupts ---- */

static void measure(void)
{
    uint32_t channel = (REG(ADC_CS) >> 12) & 1u;

    measured[channel] = (uint16_t)REG(ADC_RESULT);
    REG(ADC_CS) = ADC_ON | ((channel ^ 1u) << 12) | ADC_ONCE;
}

/* An alarm that is set in the past would come in 71 minutes: so it looks again. */
static void tick(void)
{
    do {
        REG(TIMER_INTR) = 1u;
        next_tick_us += TICK_US;
        REG(TIMER_ALARM0) = next_tick_us;
        milliseconds++;
        fence_tick();
    } while ((int32_t)(REG(TIMER_RAWL) - next_tick_us) >= 0);
    if ((milliseconds % ADC_EVERY_MS) == 0u) {
        measure();
    }
}

/* In steps of 4 us, and wrapping at 32 bits as the core expects it: so two bits of the timer's upper
 * word belong to it. */
static uint32_t tach_clock(void)
{
    uint32_t upper;
    uint32_t lower;

    do {
        upper = REG(TIMER_RAWH);
        lower = REG(TIMER_RAWL);
    } while (upper != REG(TIMER_RAWH));
    return (upper << 30) | (lower >> 2);
}

_Static_assert(TACH_HZ == 250000uL, "the clock of the tachometers counts steps of 4 us");

static uint32_t falling(uint32_t pin)
{
    return EDGE_LOW << (4u * (pin % 8u));
}

static void edges(void)
{
    uint32_t which = REG(IO_INTS(PIN_TACH));

    REG(IO_INTR(PIN_TACH)) = which;
    for (uint32_t wheel = 0u; wheel < WHEELS; wheel++) {
        if ((which & falling(PIN_TACH + wheel)) != 0u) {
            pulses[wheel]++;
            stamps[wheel] = tach_clock();
        }
    }
    for (uint8_t sensor = 0u; sensor < SENSORS; sensor++) {
        if (((which & falling(PIN_BALL + (uint32_t)sensor)) != 0u) && board_ball_blocked(sensor)) {
            fence_ball(sensor);
        }
    }
}

/* ---- time, locks, start ---- */

uint32_t board_now_ms(void)
{
    return milliseconds;
}

uint8_t board_lock(void)
{
    uint32_t before;

    __asm volatile("mrs %0, primask\n\tcpsid i" : "=r"(before)::"memory");
    return (uint8_t)before;
}

void board_unlock(uint8_t before)
{
    __asm volatile("msr primask, %0" ::"r"((uint32_t)before) : "memory");
}

/* The chip has one flag for power and brown-out: a dip of the supply is reported as power. */
uint8_t board_start_cause(void)
{
    if (REG(WATCHDOG_REASON) != 0u) {
        return CAUSE_WATCHDOG;
    }
    return ((REG(CHIP_RESET) & CHIP_RESET_HAD_RUN) != 0u) ? CAUSE_RESET : CAUSE_POWER;
}

void board_alive(void)
{
    REG(WATCHDOG_LOAD) = WATCHDOG_MS * WATCHDOG_STEPS_MS;
}

/* ---- outputs ---- */

static void put(uint32_t pin, bool on)
{
    REG(on ? SIO_OUT_SET : SIO_OUT_CLEAR) = BIT(pin);
}

void board_power(bool on)
{
    put(PIN_POWER, on);
}

void board_gate(bool open)
{
    put(PIN_GATE, open);
}

#if STEPPERS != 0
static void wait(void)
{
    uint32_t from = REG(TIMER_RAWL);

    while ((REG(TIMER_RAWL) - from) < STEP_US) {
    }
}

void board_step(uint8_t axis, bool forward)
{
    put((uint32_t)PIN_FORWARD + (2u * axis), forward);
    wait();
    put((uint32_t)PIN_STEP + (2u * axis), true);
    wait();
    put((uint32_t)PIN_STEP + (2u * axis), false);
}
#endif

void board_lamp(bool on)
{
    put(PIN_LAMP, on);
}

/* A slice takes a new compare value only when it wraps, up to 20 ms later: so "off" takes the pin away
 * from it. */
static void pulse(uint32_t slice, uint32_t high)
{
    REG(PWM_CC(slice)) = high;
    REG(IO_CTRL(slice * 2u)) = (high == 0u) ? FUNCTION_SIO : FUNCTION_PWM;
}

void board_wheel(uint8_t wheel, uint8_t duty)
{
    pulse((uint32_t)SLICE_WHEELS + wheel, duty);
}

void board_servo(uint8_t axis, uint16_t us)
{
    pulse((uint32_t)SLICE_SERVOS + axis, us);
}

/* ---- inputs ---- */

const sensor_t board_sensors[] = {
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
    {SENSES_HOME, 0u},
    {SENSES_HOME, 1u},
#endif
    {SENSES_SUPPLY, 0u},
    {SENSES_TEMPERATURE, 0u},
    {SENSES_END, 0u},
};

static bool low(uint32_t pin)
{
    return (REG(SIO_IN) & BIT(pin)) == 0u;
}

#if VALVE != 0
bool board_tank_ready(void)
{
    return low(PIN_TACH);
}
#endif

#if STEPPERS != 0
bool board_axis_near(uint8_t axis)
{
    return low((axis == 0u) ? PIN_NEAR : PIN_NEAR_TILT);
}
#endif

bool board_stop_loop_open(void)
{
    return !low(PIN_LOOP);
}

bool board_arm_switch(void)
{
    return low(PIN_SWITCH);
}

bool board_ball_blocked(uint8_t sensor)
{
    return low(PIN_BALL + (uint32_t)sensor);
}

bool board_ball_ready(void)
{
    return low(PIN_READY);
}

bool board_setup_jumper(void)
{
    return low(PIN_JUMPER);
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
    return ((int32_t)measured[0] * 19800) / 4096; /* 3.3 V behind 1:6 */
}

int32_t board_temperature_c(uint8_t part)
{
    (void)part; /* there is one */
    return ((int32_t)measured[1] * 330) / 4096;
}

/* ---- start ---- */

static void crystal(void)
{
    REG(XOSC_STARTUP) = 47u; /* a millisecond, in 256 periods */
    REG(XOSC_CTRL) = 0x00FABAA0u;
    while ((REG(XOSC_STATUS) >> 31) == 0u) {
    }
}

static void clocks(void)
{
    crystal();
    REG(CLK_REF_CTRL) = 2u; /* reference and system from the crystal */
    while ((REG(CLK_REF_SELECTED) & BIT(2)) == 0u) {
    }
    REG(CLK_SYS_CTRL) = 0u;
    REG(CLK_PERI_CTRL) = BIT(11);
    REG(CLK_ADC_CTRL) = BIT(11) | (3u << 5);
    REG(WATCHDOG_TICK) = BIT(9) | 12u; /* 1 MHz for timer and watchdog */
}

static void peripherals(void)
{
    /* ADC, IO, pads, PWM, timer, UART0, UART1 */
    uint32_t need = BIT(0) | BIT(5) | BIT(8) | BIT(14) | BIT(21) | BIT(22) | BIT(23);

    CLEAR(RESETS_RESET) = need;
    while ((REG(RESETS_DONE) & need) != need) {
    }
}

static void pin_as(uint32_t pin, uint32_t pad, uint32_t function)
{
    REG(PADS(pin)) = pad;
    REG(IO_CTRL(pin)) = function;
}

/* Low before it is an output. */
static void output(uint32_t pin)
{
    REG(SIO_OUT_CLEAR) = BIT(pin);
    REG(SIO_OE_SET) = BIT(pin);
    pin_as(pin, PAD_OUT, FUNCTION_SIO);
}

/* Pulled up, so that a broken wire reads as the safe thing: loop open, switch off, no jumper. */
static void input(uint32_t pin)
{
    pin_as(pin, PAD_PULLED_UP, FUNCTION_SIO);
}

static void pins(void)
{
    static const uint8_t out[] = {PIN_POWER, PIN_GATE, PIN_LAMP};
    static const uint8_t in[] = {
        PIN_TACH, PIN_TACH + 1, PIN_BALL, PIN_LOOP, PIN_SWITCH, PIN_READY, PIN_JUMPER,
    };

    for (uint32_t i = 0u; i < sizeof out; i++) {
        output(out[i]);
    }
    for (uint32_t i = 0u; i < sizeof in; i++) {
        input(in[i]);
    }
#if SENSORS > 1
    input(PIN_BALL + 1);
#endif
#if STEPPERS != 0
    output(PIN_FORWARD);
    output(PIN_FORWARD + 2);
    input(PIN_NEAR);
    input(PIN_NEAR_TILT);
#endif
    pin_as(PIN_SUPPLY, PAD_ANALOG, FUNCTION_NONE);
    pin_as(PIN_WARMTH, PAD_ANALOG, FUNCTION_NONE);
    pin_as(PIN_TX, PAD_OUT, FUNCTION_UART);
    pin_as(PIN_RX, PAD_PULLED_UP, FUNCTION_UART); /* where nobody is, the line rests */
    pin_as(PIN_RADIO_TX, PAD_OUT, FUNCTION_UART);
    pin_as(PIN_RADIO_RX, PAD_PULLED_UP, FUNCTION_UART);
}

static void slices(void)
{
    for (uint32_t slice = SLICE_WHEELS; slice < (uint32_t)SLICES_END; slice++) {
        bool wheel = slice < (uint32_t)SLICE_SERVOS;
        REG(PWM_DIV(slice)) = (wheel ? 6u : 12u) << 4;
        REG(PWM_TOP(slice)) = wheel ? 254u : 19999u; /* 255 is full */
        REG(PWM_CC(slice)) = 0u;
        REG(PWM_CSR(slice)) = 1u;
        output(slice * 2u);
    }
}

static void watchdog(void)
{
    REG(PSM_WDSEL) = 0x1FFFCu; /* resets all but the oscillators */
    REG(WATCHDOG_LOAD) = STARTING_MS * WATCHDOG_STEPS_MS;
    REG(WATCHDOG_CTRL) = BIT(30);
}

static void interrupts(void)
{
    next_tick_us = REG(TIMER_RAWL) + TICK_US;
    REG(TIMER_ALARM0) = next_tick_us;
    REG(TIMER_INTE) = 1u;
    REG(IO_INTR(PIN_TACH)) = 0xCCCCCCCCu;
    REG(IO_INTE(PIN_TACH)) = falling(PIN_TACH) | falling(PIN_TACH + 1u) | falling(PIN_BALL);
#if SENSORS > 1
    REG(IO_INTE(PIN_TACH)) |= falling(PIN_BALL + 1u);
#endif
    REG(NVIC_ISER) = BIT(IRQ_TIMER_0) | BIT(IRQ_IO_BANK0) | BIT(IRQ_UART0) | BIT(IRQ_UART1);
    __asm volatile("cpsie i");
}

static void begin(void)
{
    clocks();
    peripherals();
    pins();
    slices();
    watchdog();
    serial_begin();
    REG(ADC_CS) = ADC_ON | ADC_ONCE;
    store_flash_begin();
    launcher_begin();
    board_alive();
    interrupts();
}

int main(void)
{
    begin();
    for (;;) {
        launcher_poll();
        __asm volatile("wfi"); /* until the next interrupt, a millisecond at most */
    }
}

/* ---- vectors ---- */

/* What must never happen: the watchdog ends it. */
static void stuck(void)
{
    for (;;) {
    }
}

typedef void (*vector_t)(void);
extern uint8_t __stack_end[];
extern const vector_t vectors[48];
const vector_t vectors[48] __attribute__((section(".vectors"), used)) = {
    (vector_t)(uintptr_t)__stack_end, (vector_t)(uintptr_t)main, [2 ... 15] = stuck,
    [16 + IRQ_TIMER_0] = tick, [16 + IRQ_IO_BANK0] = edges, [16 + IRQ_UART0] = serial_interrupt_0,
    [16 + IRQ_UART1] = serial_interrupt_1,
};
