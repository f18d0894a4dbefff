// Areas of the court as seen from above: what players aim at (dotted), what is kept clear (edged).
import { movable } from "./drag.js";
import { onPaper, points, shape } from "./shapes.js";
import { _, p_ } from "/static/words.js";

// The ground of targets: dots, so that they are told from what is kept clear without colour.
export function dots() {
  const pattern = shape("pattern", { id: "dots", width: 0.4, height: 0.4, patternUnits: "userSpaceOnUse" },
    shape("circle", { cx: 0.1, cy: 0.1, r: 0.05 }), shape("circle", { cx: 0.3, cy: 0.3, r: 0.05 }));
  return shape("defs", {}, pattern);
}

const boxOf = (outline) => {
  const xs = outline.map(([x]) => x), ys = outline.map(([, y]) => y);
  return [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
};
const outlineOf = ([x1, x2, y1, y2]) => [[x1, y1], [x2, y1], [x2, y2], [x1, y2]];

// The box after what is held of it came to `to`: its middle, or a corner.
function pulled([x1, x2, y1, y2], [gripX, gripY], [x, y]) {
  if (!gripX && !gripY) {
    const byX = x - (x1 + x2) / 2, byY = y - (y1 + y2) / 2;
    return [x1 + byX, x2 + byX, y1 + byY, y2 + byY];
  }
  return [gripX < 0 ? x : x1, gripX > 0 ? x : x2, gripY < 0 ? y : y1, gripY > 0 ? y : y2];
}

export const areaKey = (kind, one) => `${kind} ${one.name} ${one.held?.part ?? one.outline_m.join()}`;

function what(one, box, grip) {
  const [x1, x2, y1, y2] = box;
  const from_m = [[x1, (x1 + x2) / 2, x2][grip[0] + 1], [y1, (y1 + y2) / 2, y2][grip[1] + 1]];
  const { thing, name, part } = one.held;
  return { thing, name, part, grip, from_m, carried: true, outline: (to) => outlineOf(pulled(box, grip, to)) };
}

const CORNERS = [[-1, -1], [1, -1], [1, 1], [-1, 1]];
const whichCorner = ([gripX, gripY]) => [
  gripX > 0 ? _("ad side") : _("deuce side"), gripY > 0 ? _("far end") : _("near end"),
].join(", ");
// What kinds of area there are, in words.
const KINDS = { target: p_("picture", "target"), "keep out": _("keep out") };

function handles(one, key, box, on) {
  return CORNERS.map((grip) => {
    const held = what(one, box, grip);
    const [x, y] = onPaper(held.from_m);
    const handle = shape("g", { class: "handle", tabindex: 0, role: "button", "data-key": `${key} ${grip}`,
      "aria-label": _("Corner of {area}, {corner}; to be moved by the arrow keys", { area: one.name, corner: whichCorner(grip) }) },
    shape("circle", { cx: x, cy: y, r: 0.7, class: "hit" }),
    shape("rect", { x: x - 0.25, y: y - 0.25, width: 0.5, height: 0.5, "stroke-width": 0.08 }));
    movable(handle, held, { ...on, chosen: () => {} });
    return handle;
  });
}

// Names of an area, one below the other from its edge in: through the middle balls fly. A low one has
// them in its middle. `high`: of a letter, in metres; `words`: lines that stand already, below which
// these go where both would lie on one another.
function labels(names, box, high, words) {
  const [x, middle] = onPaper([(box[0] + box[1]) / 2, (box[2] + box[3]) / 2]);
  const lines = names.length * LINE * high, low = box[1] - box[0] < lines + 2 * high;
  const first = (low ? middle - lines / 2 : middle - (box[1] - box[0]) / 2 + 0.3 * high) + 0.8 * LINE * high;
  return names.map((name, at) => {
    const mine = { x, y: first + at * LINE * high, half: (name.length * LETTER * high) / 2 };
    for (let over = true; over;) {
      over = words.some((one) => Math.abs(one.x - x) < one.half + mine.half && Math.abs(one.y - mine.y) < 0.99 * LINE * high);
      if (over) mine.y += LINE * high;
    }
    words.push(mine);
    return shape("text", { x, y: mine.y, "text-anchor": "middle", class: "word" }, name);
  });
}

// From one line of words to the next, in heights of a letter.
const LINE = 1.15;
const LETTER = 0.55; // about how wide one is, in heights
function area(kind, one, named, high, words, on) {
  const key = areaKey(kind, one), box = boxOf(one.outline_m);
  const called = [`${KINDS[kind]}: ${one.name}`, one.height_m ? _("up to {n} m", { n: one.height_m }) : ""].filter(Boolean).join(", ");
  const chosen = on.area === key;
  const group = shape("g", { class: `area${chosen ? " chosen" : ""}`, "data-key": key },
    shape("title", {}, called),
    shape("polygon", { points: points(one.outline_m), class: kind.replace(" ", "-"), "stroke-width": 0.05 }),
    ...labels(named, box, high, words));
  if (!one.held) {
    group.addEventListener("click", () => on.show(one.words));
    return group;
  }
  const moves = one.held.resizable
    ? _("{thing}; to be moved by the arrow keys; Enter shows its corners", { thing: called })
    : _("{thing}; to be moved by the arrow keys", { thing: called });
  for (const [name, value] of Object.entries({ tabindex: 0, role: "button", "aria-pressed": String(chosen),
    "aria-label": moves })) group.setAttribute(name, value);
  movable(group, what(one, box, [0, 0]), { ...on, chosen: () => on.hold(key, one.words) });
  return group;
}

// So many areas are drawn, what is kept clear before what is aimed at.
const MOST_AREAS = 120;
export function drawnAreas({ targets, keep_outs: kept }) {
  const kept_drawn = kept.slice(0, MOST_AREAS);
  return { targets: targets.slice(0, MOST_AREAS - kept_drawn.length), keep_outs: kept_drawn };
}

// The corners of the area that is held: drawn last, since a way may lie over them.
export function cornersAbove(seen, on) {
  const all = [...seen.targets.map((one) => ["target", one]), ...seen.keep_outs.map((one) => ["keep out", one])];
  const held = all.find(([kind, one]) => one.held?.resizable && areaKey(kind, one) === on.area);
  return held ? handles(held[1], on.area, boxOf(held[1].outline_m), on) : [];
}

// Targets below what is kept clear; one that is held lies on top. Those that lie in the same place
// have their names in one place, each once.
export function areasAbove(seen, high, on) {
  const names = new Map();
  for (const one of seen.targets) {
    const place = one.outline_m.join();
    names.set(place, (names.get(place) ?? new Set()).add(one.name));
  }
  const named = (one) => {
    const found = names.get(one.outline_m.join());
    names.delete(one.outline_m.join());
    return [...(found ?? [])];
  };
  const all = [
    ...seen.targets.map((one) => ["target", one, named(one)]),
    ...seen.keep_outs.map((one) => ["keep out", one, [one.name]]),
  ];
  all.sort(([kindA, a], [kindB, b]) => (areaKey(kindA, a) === on.area) - (areaKey(kindB, b) === on.area));
  const words = [];
  return all.map(([kind, one, label]) => area(kind, one, label, high, words, on));
}
