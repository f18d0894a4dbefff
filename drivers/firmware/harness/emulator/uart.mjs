// A PL011 that takes its time: a byte lasts ten bits, the FIFOs have thresholds, a rest that ends
// them, and an overrun. (rp2040js's own sends in no time and never overruns.) Register offsets and bits:
// RP2040 data sheet, chapter UART.
import { BasePeripheral } from 'rp2040js';

const DEPTH = 32;
const LEVELS = [4, 8, 16, 24, 28];
const FLAG = { busy: 1 << 3, rxEmpty: 1 << 4, txFull: 1 << 5, rxFull: 1 << 6, txEmpty: 1 << 7 };
const INTERRUPT = { rx: 1 << 4, tx: 1 << 5, rest: 1 << 6, overrun: 1 << 10 };
const FIFOS = 1 << 4;
const RECEIVER_ON = 0x201;
const SENDER_ON = 0x101;
const AT = { data: 0x00, flags: 0x18, whole: 0x24, part: 0x28, line: 0x2c, control: 0x30, levels: 0x34, mask: 0x38, raw: 0x3c, masked: 0x40, clear: 0x44 };

export class Uart extends BasePeripheral {
  constructor(rp, irq, sent) {
    super(rp, 'UART');
    Object.assign(this, { irq, sent, rx: [], tx: [], pending: 0, shifting: false });
    this.regs = new Map([[AT.control, 0x300], [AT.levels, 0x12]]);
    this.shift = rp.clock.createAlarm(() => this.shifted());
    this.rest = rp.clock.createAlarm(() => this.rested());
  }

  clkPeriChanged() {}

  reg(at) { return this.regs.get(at) ?? 0; }
  get bitNanos() { return (1e9 * 16 * (this.reg(AT.whole) + this.reg(AT.part) / 64)) / this.rp2040.clkPeri; }
  get buffered() { return (this.reg(AT.line) & FIFOS) !== 0; }
  get depth() { return this.buffered ? DEPTH : 1; }
  level(shift) { return this.buffered ? LEVELS[(this.reg(AT.levels) >> shift) & 7] : 1; }

  tell() { this.rp2040.setInterrupt(this.irq, (this.pending & this.reg(AT.mask)) !== 0); }
  raise(bits) { this.pending |= bits; this.tell(); }
  drop(bits) { this.pending &= ~bits; this.tell(); }

  // A byte whose stop bit has just ended; false: overrun.
  feed(byte) {
    if ((this.reg(AT.control) & RECEIVER_ON) !== RECEIVER_ON) return true; // nobody listens
    if (this.rx.length >= this.depth) {
      this.raise(INTERRUPT.overrun);
      return false;
    }
    this.rx.push(byte);
    this.rest.schedule(32 * this.bitNanos);
    if (this.rx.length >= this.level(3)) this.raise(INTERRUPT.rx);
    return true;
  }

  rested() { if (this.rx.length > 0) this.raise(INTERRUPT.rest); }

  send() {
    if (this.shifting || this.tx.length === 0 || (this.reg(AT.control) & SENDER_ON) !== SENDER_ON) return;
    this.moving = this.tx.shift();
    this.shifting = true;
    this.shift.schedule(10 * this.bitNanos);
    if (this.tx.length === (this.buffered ? this.level(0) : 0)) this.raise(INTERRUPT.tx);
  }

  shifted() {
    this.shifting = false;
    this.sent(this.moving);
    this.send();
  }

  take() {
    const byte = this.rx.shift() ?? 0;
    if (this.rx.length < this.level(3)) this.drop(INTERRUPT.rx);
    if (this.rx.length === 0) {
      this.rest.cancel();
      this.drop(INTERRUPT.rest);
    }
    return byte;
  }

  put(byte) {
    if (this.tx.length < this.depth) this.tx.push(byte);
    if (this.tx.length > this.level(0)) this.drop(INTERRUPT.tx);
    this.send();
  }

  flags() {
    return (this.shifting ? FLAG.busy : 0)
      | (this.rx.length === 0 ? FLAG.rxEmpty : 0) | (this.rx.length >= this.depth ? FLAG.rxFull : 0)
      | (this.tx.length === 0 && !this.shifting ? FLAG.txEmpty : 0) | (this.tx.length >= this.depth ? FLAG.txFull : 0);
  }

  readUint32(at) {
    switch (at) {
      case AT.data: return this.take();
      case AT.flags: return this.flags();
      case AT.raw: return this.pending;
      case AT.masked: return this.pending & this.reg(AT.mask);
      default: return this.reg(at);
    }
  }

  writeUint32(at, value) {
    if (at === AT.data) this.put(value & 0xff);
    else if (at === AT.clear) this.drop(this.rawWriteValue);
    else {
      this.regs.set(at, value);
      this.tell();
      this.send();
    }
  }
}
