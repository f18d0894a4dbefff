// What can wait until the hand rests. The desk works out, and the page draws, one thing at a time: what
// is only wanted beside the verdict and the picture would stand in the way of the next key.

const REST_MS = 200;

let stirred_ms = -Infinity, timer = 0;
const waiting = new Map(); // by its name

/** The hand does something: what waits for its rest waits longer. */
export const stir = () => { stirred_ms = performance.now(); };
for (const happens of ["keydown", "input", "pointerdown", "pointerup", "pointercancel"]) addEventListener(happens, stir, true);
// A pointer that is only on its way over the page is at rest.
addEventListener("pointermove", ({ buttons }) => { if (buttons) stir(); }, true);

const left_ms = () => Math.max(0, stirred_ms + REST_MS - performance.now());

function look() {
  clearTimeout(timer);
  if (waiting.size) timer = setTimeout(next, left_ms());
}

// One in each turn of the page, so that a key that comes meanwhile is heard before the others.
function next() {
  if (left_ms() || !waiting.size) return look();
  const [[name, work]] = waiting;
  waiting.delete(name);
  look();
  work();
}

/** Does `work` when the hand rests; what else waits under this `name` is given up for it. */
export function atRest(name, work) {
  waiting.delete(name);
  waiting.set(name, work);
  look();
}

/** Gives up what waits under this name. */
export function givenUp(name) {
  waiting.delete(name);
}
