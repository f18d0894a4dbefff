// A program without a board around it, as a Cortex-M0+ runs it from SRAM: what it writes goes to standard
// output and error, and how it ends is how this process ends (semihosting, see tests/chips/bare_cortex_m0.c).
// usage: node bare.mjs IMAGE [MOST]     after so many instructions it counts as one that does not end; how
//                                       many there were is the last line of standard error
import fs from 'node:fs';
import { RP2040 } from 'rp2040js';

const SRAM = 0x20000000;
const SEMIHOSTING = 0xab;
const SYS_OPEN = 0x01;
const TO_APPEND = 8;
const SYS_WRITE = 0x05;
const SYS_EXIT = 0x18;
const ENDED_WELL = 0x20026;
const ROUND = 100000;
const DOES_NOT_END = 3;

const rp = new RP2040();
const { core } = rp;
const fail = (name, text) => { throw new Error(`${name}: ${text}`); };
let ended = null;

// Its console is all that it may open: to append is standard error, to write standard output.
const opened = (at) => (rp.readUint32(at + 4) >= TO_APPEND ? 2 : 1);

function write(at) {
  const [file, from, count] = [0, 4, 8].map((offset) => rp.readUint32(at + offset));
  fs.writeSync(file, rp.sram.subarray(from - SRAM, from - SRAM + count));
}

rp.logger = { debug() {}, info() {}, warn: fail, error: fail };
rp.onBreak = (code) => {
  const [what, at] = core.registers;
  if (code === SEMIHOSTING && what === SYS_OPEN) core.registers[0] = opened(at);
  else if (code === SEMIHOSTING && what === SYS_WRITE) write(at);
  else if (code === SEMIHOSTING && what === SYS_EXIT) ended = at === ENDED_WELL ? 0 : 1;
  else fail('break', `${code}, ${what}`);
};
rp.sram.set(fs.readFileSync(process.argv[2]));
core.SP = rp.readUint32(SRAM);
core.PC = rp.readUint32(SRAM + 4) & ~1;
const most = Number(process.argv[3] ?? Infinity);
let done = 0;
for (; ended === null; done += ROUND) {
  if (done >= most) ended = DOES_NOT_END;
  for (let i = 0; i < ROUND && ended === null; i++) core.executeInstruction();
}
if (most < Infinity) process.stderr.write(`${done}\n`);
// Not process.exit(): it waits for threads that compile, and they may be waiting for this one.
process.exitCode = ended;
