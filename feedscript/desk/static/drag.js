// Things of the picture that are put elsewhere: by a pointer, or by the arrow keys.

const STARTS_AFTER_PX = 4;
const STEP_M = 0.1, STRIDE_M = 1;
// On paper the court's length runs to the right and its ad side lies below.
const KEYS = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowDown: [1, 0], ArrowUp: [-1, 0] };

// The point of the court under a pointer, [x, y] in metres.
function pointed(svg, event) {
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return [point.y, point.x];
}

// Steps of the keys that are under way, by what they move: the words and then the picture come later
// than the next key, which goes on from where the last one led.
const steps = new Map();

/** The picture shows the words as they stand: from here on, steps begin at what it shows. */
export function settled() {
  for (const [key, one] of steps) if (!one.busy) steps.delete(key);
}

async function step(key, what, by, on) {
  const way = steps.get(key) ?? { at: what.from_m, words_m: what.from_m, busy: false };
  steps.set(key, way);
  way.at = centimetres(way.at.map((metres, axis) => metres + by[axis]));
  if (way.busy) return;
  way.busy = true;
  while (way.words_m !== way.at) { // keys that came meanwhile are one step more
    const to = way.at;
    const made = await on.moved({ ...what, from_m: way.words_m }, to, false).catch(() => false);
    if (!made) return steps.delete(key);
    way.words_m = to;
  }
  way.busy = false;
}

const centimetres = (place) => place.map((metres) => Math.round(metres * 100) / 100);

// Makes an element of the picture movable. `what` is {thing, name, from_m}, of an area also {part,
// grip}; `on` has ghost(what, to_m), moved(what, to_m, snapped) and chosen(). What is `carried` is
// held where it was taken; all else comes to the pointer. With Alt held nothing snaps. Whether the words
// have changed is what `moved` comes to.
export function movable(element, what, on) {
  element.classList.add("movable");
  let from = null, to = null, taken = null;
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    element.focus({ preventScroll: true });
    event.stopPropagation();
    from = [event.clientX, event.clientY];
    taken = pointed(element.ownerSVGElement, event);
    element.setPointerCapture(event.pointerId);
  });
  element.addEventListener("pointermove", (event) => {
    if (!from) return;
    if (!to && Math.hypot(event.clientX - from[0], event.clientY - from[1]) < STARTS_AFTER_PX) return;
    const here = pointed(element.ownerSVGElement, event);
    to = centimetres(what.carried ? what.from_m.map((metres, axis) => metres + here[axis] - taken[axis]) : here);
    on.ghost(what, to);
  });
  const end = (event) => {
    if (!from) return;
    const place = to;
    from = to = null;
    if (event.type === "pointercancel") on.ghost(null);
    else if (place) on.moved(what, place, !event.altKey);
    else on.chosen();
  };
  element.addEventListener("pointerup", end);
  element.addEventListener("pointercancel", end);
  element.addEventListener("keydown", (event) => {
    const way = KEYS[event.key];
    if (event.key === "Escape") { from = to = null; on.ghost(null); }
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); on.chosen(); }
    if (!way) return;
    event.preventDefault();
    const metres = event.shiftKey ? STRIDE_M : event.altKey ? 0.01 : STEP_M;
    step(element.dataset.key, what, way.map((one) => one * metres), on);
  });
}
