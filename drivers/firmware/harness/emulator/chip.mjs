// An RP2040 around rp2040js, stepped in its own time. What rp2040js leaves out or does otherwise, and a
// test of firmware needs, is put right here and in uart.mjs and flash.mjs: the start from flash as the
// boot ROM does it, the cause of a reset, the watchdog's bite, the pads' state after a reset.
import { BasePeripheral, GPIOPinState, RP2040 } from 'rp2040js';
import { Flash, PowerCut, SelectPin } from './flash.mjs';
import { Uart } from './uart.mjs';

export const FLASH_BYTES = 2 << 20;
export const HAD_POWER = 1 << 8; // also after a brown-out: the chip has one flag for both
export const HAD_RUN = 1 << 16;
const UART_IRQS = [20, 21];
const STAGE_AT = 0x41f00; // in SRAM, where the boot ROM copies the second stage
const STAGE_BYTES = 256;
const SRAM = 0x20000000;
const PAD_AFTER_RESET = 0x56;
const PERIPHERAL = { cacheControl: 0x14000, ssi: 0x18000, qspi: 0x40018, uarts: [0x40034, 0x40038], watchdog: 0x40058, chipReset: 0x40064 };
const SIO = 5; // a pin's function: what the program itself puts on it
const STEPS = [[10, 11], [12, 13]]; // step and direction of each axis
const STACK = [0x38000, 0x40000]; // in SRAM; as much as is ever looked at
const PAINT = 0xa5;
const ENDLESS = 0x30000; // SRAM that the image does not use

class Quiet extends BasePeripheral {
  readUint32() { return 0; }
  writeUint32() {}
}

class ChipReset extends BasePeripheral {
  constructor(rp, had) {
    super(rp, 'CHIP_RESET');
    this.had = had;
  }

  readUint32(at) { return at === 8 ? this.had : 0; }
  writeUint32() {}
}

function crc32(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte << 24;
    for (let i = 0; i < 8; i++) crc = crc & 0x80000000 ? (crc << 1) ^ 0x04c11db7 : crc << 1;
  }
  return crc >>> 0;
}

export class Chip {
  constructor(flash) {
    this.flash = new Uint8Array(FLASH_BYTES).fill(0xff);
    this.flash.set(flash);
    Object.assign(this, { levels: new Map(), adc: [0, 0, 0, 0, 0], sent: [[], []], steps: [0, 0], complaints: new Set(), before: 0, over: 0 });
    this.counts = { changes: 0, cutAt: -1, seed: 1 };
    this.start(HAD_POWER);
  }

  get nanos() { return this.before + this.rp.clock.nanos; }

  // A new chip each time (rp2040js's own reset keeps much and forgets the flash); what outlives the
  // reset is carried over.
  start(had, reason = 0) {
    const old = this.rp;
    if (old) {
      this.before += old.clock.nanos;
      this.flash.set(old.flash.subarray(0, FLASH_BYTES));
    }
    this.rp = new RP2040();
    this.rp.logger = this.logger();
    this.rp.flash.set(this.flash);
    if (old && had !== HAD_POWER) this.rp.sram.set(old.sram);
    else this.rp.sram.fill(PAINT, ...STACK);
    this.fit(had);
    this.fitWatchdog(reason);
    this.fitPins();
    this.bootRom();
  }

  logger() {
    const note = (name, text) => this.complaints.add(`${name}: ${text}`);
    return { debug() {}, info() {}, warn: note, error: note };
  }

  fit(had) {
    const { rp } = this;
    const flash = new Flash(rp, this.counts);
    UART_IRQS.forEach((irq, i) => {
      rp.uart[i] = new Uart(rp, irq, (byte) => this.sent[i].push(byte));
      rp.peripherals[PERIPHERAL.uarts[i]] = rp.uart[i];
    });
    rp.peripherals[PERIPHERAL.chipReset] = new ChipReset(rp, had);
    rp.peripherals[PERIPHERAL.ssi] = flash;
    rp.peripherals[PERIPHERAL.qspi] = new SelectPin(rp, flash);
    rp.peripherals[PERIPHERAL.cacheControl] = new Quiet(rp, 'XIP_CTRL');
    rp.clkSys = rp.clkPeri = rp.roscFreq; // rp2040js would begin at 125 MHz
  }

  fitWatchdog(reason) {
    const dog = this.rp.peripherals[PERIPHERAL.watchdog];
    this.bitten = false;
    dog.reason = reason;
    dog.onWatchdogTrigger = () => {
      this.bitten = true;
      dog.timer.enable = false; // or it would be called again and again in no time
    };
  }

  fitPins() {
    this.rp.adc.channelValues = this.adc;
    for (const gpio of this.rp.gpio) {
      gpio.padValue = PAD_AFTER_RESET;
      gpio.setInputValue(this.levels.get(gpio.index) ?? false);
    }
    STEPS.forEach(([step, forward], axis) => this.rp.gpio[step].addListener((state) => {
      if (state === GPIOPinState.High && this.rp.gpio[step].functionSelect === SIO) this.steps[axis] += this.high(forward) ? 1 : -1;
    }));
  }

  bootRom() {
    const { flash, sram, core } = this.rp;
    const stage = flash.subarray(0, STAGE_BYTES);
    const check = new DataView(flash.buffer, flash.byteOffset).getUint32(STAGE_BYTES - 4, true);
    if (crc32(stage.subarray(0, -4)) !== check) throw new Error('the second stage fails its check');
    sram.set(stage, STAGE_AT);
    core.SP = core.PC = SRAM + STAGE_AT;
    this.over = 0;
  }

  advance(us) {
    const until = this.nanos + us * 1000 - this.over;
    while (this.nanos < until) this.runOrRestart(until);
    this.over = this.nanos - until; // an instruction may end a little late: repaid next time
  }

  runOrRestart(until) {
    try {
      this.run(until - this.before);
    } catch (error) {
      if (!(error instanceof PowerCut)) throw error;
      this.start(HAD_POWER);
    }
    if (this.bitten) this.start(0, 1);
  }

  run(end) {
    const { core, clock } = this.rp;
    while (clock.nanos < end && !this.bitten) {
      if (core.waiting) this.sleep(clock, end);
      else clock.tick((core.executeInstruction() * 1e9) / this.rp.clkSys);
    }
  }

  sleep(clock, end) {
    const next = clock.nextAlarm;
    clock.tick((next && next.nanos < end ? next.nanos : end) - clock.nanos);
  }

  // The level on a pin from outside; rp2040js sees an edge in every call, so only changes are told.
  drive(pin, high) {
    if (this.levels.get(pin) === high) return;
    this.levels.set(pin, high);
    this.rp.gpio[pin].setInputValue(high);
  }

  high(pin) { return this.rp.gpio[pin].value === GPIOPinState.High; }

  // Steps high, of how many: what channel A of the pin's slice has latched, or the pin's own level.
  duty(pin) {
    const slice = this.rp.pwm.channels[(pin >> 1) & 7];
    if (this.rp.gpio[pin].functionSelect !== 4 || !(slice.csr & 1)) return { on: this.high(pin) ? 65535 : 0, of: 65535 };
    const of = slice.timer.top + 1;
    return { on: Math.min(slice.alarmA.target, of), of };
  }

  // The main program becomes one instruction that jumps to itself; interrupts still run.
  hang() {
    while (this.rp.core.IPSR !== 0) this.advance(1);
    this.rp.sram[ENDLESS] = 0xfe;
    this.rp.sram[ENDLESS + 1] = 0xe7;
    this.rp.core.PC = SRAM + ENDLESS;
    this.rp.core.waiting = false;
  }

  // The tick's interrupt is shut out for good, by a stray write to the timer's mask for instance.
  loseTick() { this.rp.writeUint32(0x40054038, 0); }

  // Bytes of the stack that were ever used since power came.
  get stackMost() {
    const from = this.rp.sram.subarray(...STACK).findIndex((byte) => byte !== PAINT);
    return from < 0 ? 0 : STACK[1] - STACK[0] - from;
  }
}
