// The chip at the end of a pipe, for rp2040_main.c. usage: node serve.mjs IMAGE
//
// Little-endian, one letter and what belongs to it; those marked > are answered.
//   L memory               the stored bytes, before the start
//   A us32 levels32 supply16 temperature16, for each UART count16 and bytes >   run on; see answerPins()
//   R, P                   reset pin, power gone and back
//   H, T                   main program hung, tick lost
//   M >                    the stored bytes
//   S > u32                deepest stack
import fs from 'node:fs';
import { Chip, FLASH_BYTES, HAD_POWER, HAD_RUN } from './chip.mjs';

const INPUTS = [2, 3, 4, 16, 17, 18, 19, 22, 28, 5];
const [POWER, GATE] = [14, 15];
const WHEELS = [6, 8];
const SERVOS = [10, 12];
const STORE_AT = 0xfe000;
const STORE_BYTES = 8192;

const flash = new Uint8Array(FLASH_BYTES).fill(0xff);
flash.set(fs.readFileSync(process.argv[2]));
const asked = Buffer.alloc(1 << 16);
const answer = Buffer.alloc(1 << 15);
let chip;

class Ended extends Error {}

function take(count) {
  for (let got = 0; got < count;) {
    const some = fs.readSync(0, asked, got, count - got);
    if (some === 0) throw new Ended();
    got += some;
  }
  return asked;
}

function give(data) {
  for (let at = 0; at < data.length;) at += fs.writeSync(1, data, at);
}

function giveNumber(value) {
  const four = Buffer.alloc(4);
  four.writeUInt32LE(value);
  give(four);
}

// power and gate, on and of for each wheel, microseconds for each servo, bytes lost, steps32 of each axis; for each UART count, bytes sent
function answerPins(lost) {
  let at = answer.writeUInt8((chip.high(POWER) ? 1 : 0) | (chip.high(GATE) ? 2 : 0), 0);
  for (const pin of WHEELS) {
    const { on, of } = chip.duty(pin);
    at = answer.writeUInt16LE(on, at);
    at = answer.writeUInt16LE(of, at);
  }
  for (const pin of SERVOS) at = answer.writeUInt16LE(chip.duty(pin).on, at);
  at = answer.writeUInt8(lost, at);
  for (const steps of chip.steps) at = answer.writeInt32LE(steps, at);
  for (const sent of chip.sent) {
    at = answer.writeUInt16LE(sent.length, at);
    for (const byte of sent.splice(0)) at = answer.writeUInt8(byte, at);
  }
  give(answer.subarray(0, at));
}

function runOn() {
  take(12);
  const [us, levels] = [asked.readUInt32LE(0), asked.readUInt32LE(4)];
  chip.adc[0] = asked.readUInt16LE(8);
  chip.adc[1] = asked.readUInt16LE(10);
  for (const pin of INPUTS) chip.drive(pin, ((levels >>> pin) & 1) === 1);
  let lost = 0;
  for (const uart of chip.rp.uart) {
    const count = take(2).readUInt16LE(0);
    if (count > 0) lost += [...take(count).subarray(0, count)].filter((byte) => !uart.feed(byte)).length;
  }
  chip.advance(us);
  answerPins(lost);
}

const OBEY = {
  A: runOn,
  R: () => chip.start(HAD_RUN),
  P: () => chip.start(HAD_POWER),
  H: () => chip.hang(),
  T: () => chip.loseTick(),
  M: () => give(Buffer.from(chip.rp.flash.subarray(STORE_AT, STORE_AT + STORE_BYTES))),
  S: () => giveNumber(chip.stackMost),
};

function obey() {
  const what = String.fromCharCode(take(1)[0]);
  if (what === 'L') {
    flash.set(take(STORE_BYTES).subarray(0, STORE_BYTES), STORE_AT);
    return;
  }
  chip ??= new Chip(flash);
  OBEY[what]();
}

// Not process.exit(): it waits for threads that compile, and they may be waiting for this one.
try {
  for (;;) obey();
} catch (end) {
  if (!(end instanceof Ended)) throw end;
}
