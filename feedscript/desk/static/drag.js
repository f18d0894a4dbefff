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

const centimetres = (place) => place.map((metres) => Math.round(metres * 100) / 100);

// Makes an element of the picture movable. `what` is {thing, name, corner, from_m}; `on` has
// ghost(what, to_m), moved(what, to_m, snapped) and chosen(). With Alt held nothing snaps.
export function movable(element, what, on) {
  element.classList.add("movable");
  let from = null, to = null;
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    element.focus({ preventScroll: true });
    from = [event.clientX, event.clientY];
    element.setPointerCapture(event.pointerId);
  });
  element.addEventListener("pointermove", (event) => {
    if (!from) return;
    if (!to && Math.hypot(event.clientX - from[0], event.clientY - from[1]) < STARTS_AFTER_PX) return;
    to = centimetres(pointed(element.ownerSVGElement, event));
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
    const step = event.shiftKey ? STRIDE_M : event.altKey ? 0.01 : STEP_M;
    on.moved(what, centimetres(what.from_m.map((metres, axis) => metres + way[axis] * step)), false);
  });
}
