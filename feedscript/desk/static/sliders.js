// Sliders of the feed that is chosen: what its launcher can do at this landing, what the receiver
// would meet, what the rules allow. While one is moved its ball is drawn; let go, the words change.
import { letGo } from "./pressed.js";
import { atRest, givenUp } from "./rest.js";
import { aside, points, shape } from "./shapes.js";
import { length, speed } from "./told.js";
import { _, figure } from "/static/words.js";

const KEYS_REST_MS = 350;
// Usual sliders of a feed, whose room is kept until they are known: its speed, its spin, the time before it.
const USUAL = 3;
const CALLED = { speed: _("Speed"), top: _("Topspin"), side: _("Side spin"), gap: _("Time before it") };

function element(name, attributes = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

const state = (ball) => (!ball.can ? "cannot" : ball.why ? "refused" : "allowed");

// Stretches of a slider that are alike, from and to in its own unit.
function stretches({ tries, least, most }) {
  const found = [];
  tries.forEach(({ value, ball }, at) => {
    const from = at ? (tries[at - 1].value + value) / 2 : least;
    const to = at < tries.length - 1 ? (value + tries[at + 1].value) / 2 : most;
    const last = found.at(-1);
    if (last?.state === state(ball)) last.to = to;
    else found.push({ state: state(ball), from, to });
  });
  return found;
}

// The tries on both sides of a value, and how far it is from the lower to the upper.
function around(tries, value) {
  const upper = tries.findIndex((one) => one.value >= value);
  if (upper <= 0) return [tries.at(upper), tries.at(upper), 0];
  const [low, high] = [tries[upper - 1], tries[upper]];
  return [low, high, (value - low.value) / (high.value - low.value)];
}

const nearest = ([low, high, share]) => (share < 0.5 ? low : high).ball;

function met(ball, other, share) {
  const between = (one, two) => one + share * (two - one);
  const at = (name) => between(ball.meets[name], other.meets[name]);
  const parts = {
    net: length(between(ball.net_m, other.net_m), 2), height: length(at("height_m"), 1),
    time: figure(at("time_s"), 1), speed: speed(at("speed_kmh")),
  };
  return ball.meets.at_receiver
    ? _("{net} over the net, met {height} high after {time} s at {speed}", parts)
    : _("{net} over the net, down after {time} s at {speed}", parts);
}

function reading(figure, value) {
  const [low, high, share] = around(figure.tries, value);
  const ball = nearest([low, high, share]);
  if (!ball.can) return _("✗ Beyond the launcher here: {why}", { why: ball.why });
  const both = low.ball.can && high.ball.can;
  const words = both ? met(low.ball, high.ball, share) : met(ball, ball, 0);
  return ball.why ? `✗ ${ball.why}. ${words}` : words;
}

const sided = (figure, value) => {
  if (figure === "top") return value < 0 ? _("back {n}", { n: `${-value}` }) : `${value}`;
  if (figure === "side") return value < 0 ? _("deuce {n}", { n: `${-value}` }) : value > 0 ? _("ad {n}", { n: `${value}` }) : "0";
  return `${value}`;
};

// The ball of a slider that is moved, above and at the side.
function drawBall(above, side, ball) {
  for (const svg of [above, side]) svg.querySelector(".tried-ball")?.remove();
  if (!ball?.can) return;
  const way = (drawn, path, kind) => shape("polyline", { points: drawn(path), class: kind });
  const layer = (drawn) => shape("g", { class: "tried-ball" }, way(drawn, ball.path_m, "way"), way(drawn, ball.after_m, "on"));
  above.append(layer(points));
  side.append(layer(aside));
}

// `ask(name)` gives what the sliders show of the words, `text()`; `figured(wanted)` changes them.
export function openSliders(box, { above, side, ask, text, figured }) {
  const roomFor = new Map(); // by feed: how many sliders it had
  let feed = null, of = null, told = null, asked = 0;

  function band(parts, least, most) {
    const drawn = element("div", { class: "band", "aria-hidden": "true" });
    for (const { state: kind, from, to } of parts) {
      const part = element("i", { class: kind });
      part.style.left = `${((from - least) / (most - least)) * 100}%`;
      part.style.width = `${((to - from) / (most - least)) * 100}%`;
      drawn.append(part);
    }
    return drawn;
  }

  function slider(key, label, { figure, part = 0, unit, value, least, most, step, parts, read, ball, fixed }) {
    const input = element("input", { type: "range", id: `slider-${key}`, min: least, max: most, step, "data-key": key });
    input.value = value;
    input.disabled = Boolean(fixed);
    // A slider ends where its launcher does; the words may ask for more.
    const beyond = value < least || value > most;
    const shown = element("b", {}, `${sided(figure, beyond ? value : Number(input.value))} ${unit}`);
    const words = element("p", { class: "reading" }, beyond
      ? _("✗ Asked for is more or less than can be had here: {least} to {most} {unit}", { least: sided(figure, least), most: sided(figure, most), unit })
      : read(value));
    input.setAttribute("aria-valuetext", `${shown.textContent}; ${words.textContent}`);
    let rest = 0, byKey = false;
    const commit = () => {
      clearTimeout(rest);
      figured({ figure, name: feed.name, part, value: Number(input.value), unit });
    };
    input.addEventListener("pointerdown", () => { byKey = false; });
    input.addEventListener("keydown", () => { byKey = true; });
    input.addEventListener("input", () => {
      const now = Number(input.value);
      shown.textContent = `${sided(figure, now)} ${unit}`;
      words.textContent = read(now);
      input.setAttribute("aria-valuetext", `${shown.textContent}; ${words.textContent}`);
      if (ball) drawBall(above, side, ball(now));
    });
    input.addEventListener("change", () => {
      clearTimeout(rest);
      if (byKey) rest = setTimeout(commit, KEYS_REST_MS);
      else commit();
    });
    return element("div", { class: "slider" },
      element("label", { for: input.id }, label, shown), band(parts, least, most), input, words);
  }

  function ofFigure(one) {
    const note = one.note ? ` (${one.note})` : "";
    return slider(one.figure, `${CALLED[one.figure]}${note} `, {
      ...one, fixed: told.fixed, parts: stretches(one), read: (value) => reading(one, value),
      ball: (value) => nearest(around(one.tries, value)),
    });
  }

  function ofGap(one, all) {
    const [least, most] = one.ends;
    const label = all.length > 1 ? [CALLED.gap, _("line {n}", { n: one.line })].join(", ") : CALLED.gap;
    return slider(`gap-${one.part}`, `${label} `, {
      figure: "gap", part: one.part, unit: "s", value: one.value, least, most, step: one.step,
      parts: [{ state: "refused", from: least, to: one.least_s }, { state: "allowed", from: one.least_s, to: most }],
      read: (value) => (value < one.least_s - 1e-9 ? `✗ ${one.why}` : _("From {n} s on everybody and everything is ready.", { n: one.least_s })),
    });
  }

  // What stands below must not go away under the hand when the sliders come.
  function room() {
    const words = element("p", { class: "legend" }, _("Balls are tried …"));
    const many = roomFor.get(feed.wish) ?? USUAL;
    const one = () => element("div", { class: "slider", "aria-hidden": "true" }, element("label", {}, "\u00a0"),
      element("div", { class: "band" }), element("span", { class: "slider-room" }), element("p", { class: "reading" }));
    return [words, element("div", { class: "slider-grid" }, ...Array.from({ length: many }, one))];
  }

  function draw() {
    const focused = box.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    box.parentElement.classList.toggle("sliding", Boolean(feed));
    box.ariaBusy = String(Boolean(feed) && !told);
    if (!feed) return box.replaceChildren();
    const head = element("h3", {}, _("Slide {feed}", { feed: feed.wish }));
    if (!told) return box.replaceChildren(head, ...room());
    if (told.refused) return box.replaceChildren(head, element("p", { class: "reading" }, told.refused));
    const legend = element("p", { class: "legend" }, ...[["allowed", _("allowed")], ["refused", _("a rule refuses it")],
      ["cannot", _("beyond the launcher")]].flatMap(([kind, words]) => [element("i", { class: kind }), ` ${words} `]));
    if (told.fixed) head.append(element("small", {}, ` ${told.fixed} `, _("Copy it here to change it.")));
    roomFor.set(feed.wish, told.figures.length + told.gaps.length);
    box.replaceChildren(head, legend, element("div", { class: "slider-grid" },
      ...told.figures.map(ofFigure), ...told.gaps.map((one) => ofGap(one, told.gaps))));
    if (focused) box.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
  }

  async function load() {
    const mine = (asked += 1), name = feed.name, before = text();
    const found = await ask(name).catch(() => null);
    await letGo();
    if (mine !== asked || feed?.name !== name || !found || text() !== before) return;
    told = found;
    draw();
  }

  // The view from the side stays in sight beside the sliders.
  new ResizeObserver(([{ target }]) => {
    target.parentElement.style.setProperty("--above", `${target.getBoundingClientRect().height}px`);
  }).observe(above);

  // The words have changed: what stands here is of older ones, until it is asked for again.
  function older() {
    if (feed) box.ariaBusy = "true";
  }

  return {
    older,
    // The feed that is chosen, of what was seen last; asked for when things have come to rest.
    show(chosen, seen) {
      if (chosen?.name === feed?.name && seen === of) return;
      if (chosen?.name !== feed?.name) { told = null; drawBall(above, side, null); }
      [feed, of] = [chosen, seen];
      if (!feed) { givenUp("sliders"); return draw(); }
      if (!told) draw();
      older();
      atRest("sliders", load);
    },
  };
}
