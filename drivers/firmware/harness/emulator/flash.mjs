// The serial flash chip behind the flash interface (a stub in rp2040js): spoken to in frames of 8 bits
// while the select pin is forced low. Times are typical ones of common parts, from memory. While it is
// busy it answers nothing but its status. Power may fail in the middle of a change: see `cutAt`.
import { BasePeripheral } from 'rp2040js';

export const SECTOR = 4096;
const PAGE_NANOS = 700e3;
const SECTOR_NANOS = 45e6;
const COMMAND = { program: 0x02, status: 0x05, enable: 0x06, erase: 0x20 };
const AT = { enabled: 0x08, status: 0x28, data: 0x60 };
const READY = 6;
const RECEIVED = 8;

export class PowerCut extends Error {}

// Which of the bits that were to change did so before the power went, told by a seed: none, all, those of
// the first bytes, or any of them.
function someBits(seed, count) {
  if (seed % 4 < 2) return () => (seed % 4) * 0xff;
  if (seed % 4 === 2) return (i) => (i < count / 2 ? 0xff : 0);
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state >>> 24;
  };
}

export class Flash extends BasePeripheral {
  constructor(rp, counts) {
    super(rp, 'SSI');
    Object.assign(this, { counts, regs: new Map(), out: [], heard: [], selected: false, writable: false, until: 0 });
  }

  get busy() { return this.rp2040.clock.nanos < this.until; }

  select(on) {
    if (on && !this.selected) this.heard = [];
    if (!on && this.selected && !this.busy) this.obey();
    this.selected = on;
  }

  obey() {
    const [command, high = 0, middle = 0, low = 0, ...data] = this.heard;
    const at = (high << 16) | (middle << 8) | low;
    if (command === COMMAND.enable) this.writable = true;
    else if (this.writable && command === COMMAND.erase) this.erase(at & ~(SECTOR - 1));
    else if (this.writable && command === COMMAND.program) this.program(at, data.slice(-256));
  }

  erase(at) {
    this.change(SECTOR_NANOS, [...Array(SECTOR).keys()].map((i) => [at + i, 0xff]));
  }

  program(at, data) {
    const { flash } = this.rp2040;
    this.change(PAGE_NANOS, data.map((byte, i) => {
      const to = (at & ~255) | ((at + i) & 255);
      return [to, flash[to] & byte];
    }));
  }

  change(nanos, bytes) {
    const { flash } = this.rp2040;
    const cut = this.counts.changes === this.counts.cutAt;
    const mask = cut ? someBits(this.counts.seed, bytes.length) : () => 0xff;
    bytes.forEach(([at, value], i) => { flash[at] ^= (flash[at] ^ value) & mask(i); });
    this.counts.changes++;
    this.until = this.rp2040.clock.nanos + nanos;
    this.writable = false;
    if (cut) throw new PowerCut();
  }

  readUint32(at) {
    if (at === AT.status) return READY | (this.out.length > 0 ? RECEIVED : 0);
    return at === AT.data ? (this.out.shift() ?? 0) : (this.regs.get(at) ?? 0);
  }

  writeUint32(at, value) {
    if (at === AT.data) this.frame(value & 0xff);
    else this.regs.set(at, value);
  }

  frame(byte) {
    if (!this.regs.get(AT.enabled) || !this.selected) throw new Error('a frame to nobody');
    this.heard.push(byte);
    const asked = this.heard.length > 1 && this.heard[0] === COMMAND.status;
    this.out.push(asked ? (this.busy ? 1 : 0) | (this.writable ? 2 : 0) : 0xff);
  }
}

// The pins of the flash chip: only its select is looked at.
export class SelectPin extends BasePeripheral {
  constructor(rp, flash) {
    super(rp, 'IO_QSPI');
    Object.assign(this, { flash, regs: new Map() });
  }

  readUint32(at) { return this.regs.get(at) ?? 0; }

  writeUint32(at, value) {
    this.regs.set(at, value);
    if (at === 0xc) this.flash.select(((value >> 8) & 3) === 2);
  }
}
