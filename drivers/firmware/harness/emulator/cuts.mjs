// Power that fails in the middle of a change of the flash, at each change in turn.
// usage: node cuts.mjs IMAGE MEMORY <questions
//
// Standard input is JSON: {commands: [line...], questions: [line...], dearest: bool}; the command "reset" is
// no line but the reset pin. The commands are carried
// out once, and the memory before each is kept, with its answers to the questions. Then, for each command (dearest: only for the one that
// changes the flash most often, which is a move to the other sector), the chip is started on the memory
// before it and given the command, once for every change: power fails in the middle of that change, the
// start's own included, comes back, and the questions are asked. Each point is a line of JSON on
// standard output: {command, change, before, answers, ever}; `ever`: an output was on at any moment.
import fs from 'node:fs';
import { Chip, FLASH_BYTES, HAD_POWER, HAD_RUN } from './chip.mjs';

const STORE_AT = 0xfe000;
const LOOP = 16; // low while whole
const OUTPUTS = [6, 8, 14, 15];
const STEP_US = 1000;

const image = fs.readFileSync(process.argv[2]);
const memory = fs.readFileSync(process.argv[3]);
const { commands, questions, dearest } = JSON.parse(fs.readFileSync(0, 'utf8'));

class Bench {
  constructor(stored, counts = {}) {
    const flash = new Uint8Array(FLASH_BYTES).fill(0xff);
    flash.set(image);
    flash.set(stored, STORE_AT);
    this.chip = new Chip(flash);
    Object.assign(this.chip.counts, counts);
    for (const pin of [2, 3, 4, 17, 18, 19]) this.chip.drive(pin, true);
    this.chip.drive(LOOP, false);
    this.ever = false;
    this.run(40);
  }

  get stored() { return this.chip.rp.flash.slice(STORE_AT, STORE_AT + memory.length); }

  run(ms) {
    for (let i = 0; i < ms; i++) {
      this.chip.advance(STEP_US);
      this.ever ||= OUTPUTS.some((pin) => this.chip.high(pin));
    }
  }

  // Eight bytes in a millisecond: the line carries eleven.
  say(line) {
    if (line === 'reset') {
      this.chip.start(HAD_RUN);
      return;
    }
    for (let at = 0; at < line.length; at += 8) {
      for (const byte of Buffer.from(line.slice(at, at + 8), 'latin1')) this.chip.rp.uart[0].feed(byte);
      this.run(1);
    }
  }

  ask(lines, ms) {
    this.chip.sent[0].length = 0;
    for (const line of lines) {
      this.say(line);
      this.run(ms);
    }
    return Buffer.from(this.chip.sent[0]).toString('latin1').split('\n');
  }
}

function rehearse() {
  const bench = new Bench(memory);
  return commands.map((line) => {
    const before = bench.stored;
    const told = bench.ask(questions, 10);
    const from = bench.chip.counts.changes;
    bench.ask([line], 120);
    return { before, told, made: bench.chip.counts.changes - from };
  });
}

// How much of the change had come about is another thing at each point: see flash.mjs.
function tryCut({ before, told }, command, change) {
  const bench = new Bench(before, { cutAt: change, seed: change + (command >> 1) });
  bench.ask([commands[0], commands[command]], 60);
  if (bench.chip.counts.changes <= change) return null;
  bench.chip.start(HAD_POWER);
  bench.run(120); // all that may have to be put right in the flash
  return { command, change, before: told, answers: bench.ask(questions, 10), ever: bench.ever };
}

function tryAll(row, command) {
  for (let change = 0; ; change++) {
    const point = tryCut(row, command, change);
    if (point === null) return;
    console.log(JSON.stringify(point));
  }
}

const rows = rehearse();
const most = Math.max(...rows.map((row) => row.made));
rows.forEach((row, command) => {
  if (row.made > 0 && (!dearest || row.made === most)) tryAll(row, command);
});
