// The court from above, turned as it lies before whoever holds the device.

import { _ } from "./words.js";

const NS = "http://www.w3.org/2000/svg";
const HALF_LENGTH = 11.885;
const HALF_SINGLES = 4.115;
const HALF_DOUBLES = 5.485;
const SERVICE = 6.4;

function shape(name, attributes, words) {
  const element = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (words !== undefined) element.textContent = words;
  return element;
}

function line(x1, y1, x2, y2, width = 0.09) {
  return shape("line", { x1, y1: -y1, x2, y2: -y2, stroke: "#333", "stroke-width": width });
}

function lines() {
  const drawn = [];
  for (const x of [-HALF_DOUBLES, -HALF_SINGLES, HALF_SINGLES, HALF_DOUBLES]) {
    drawn.push(line(x, -HALF_LENGTH, x, HALF_LENGTH));
  }
  for (const y of [-HALF_LENGTH, HALF_LENGTH]) drawn.push(line(-HALF_DOUBLES, y, HALF_DOUBLES, y));
  for (const y of [-SERVICE, SERVICE]) drawn.push(line(-HALF_SINGLES, y, HALF_SINGLES, y));
  drawn.push(line(0, -SERVICE, 0, SERVICE));
  drawn.push(line(-6.4, 0, 6.4, 0, 0.2));
  return drawn;
}

function launchers(view) {
  return view.launchers.map((launcher) => {
    const [x, y] = launcher.mouth_m;
    return shape("rect", {
      x: x - 0.5, y: -y - 0.5, width: 1, height: 1, fill: launcher.linked ? "#111" : "#b00020",
    });
  });
}

// What the players aim at: hatched, so that it is told from everything else without its colour.
function target(view) {
  const areas = view.aims?.target?.outlines_m ?? [];
  return areas.flatMap((outline) => {
    const points = outline.map(([x, y]) => `${x},${-y}`).join(" ");
    return [
      shape("polygon", { points, fill: "url(#hatch)", stroke: "#222", "stroke-width": 0.16,
        "stroke-dasharray": "0.5 0.25" }),
    ];
  });
}

function hatch() {
  const pattern = shape("pattern", {
    id: "hatch", width: 0.7, height: 0.7, patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)",
  });
  pattern.append(shape("rect", { width: 0.7, height: 0.7, fill: "#F0E442", opacity: 0.55 }),
    shape("line", { x1: 0, y1: 0, x2: 0, y2: 0.7, stroke: "#222", "stroke-width": 0.12 }));
  return pattern;
}

// Where the last feeds were aimed, the newest strongest.
function gone(view) {
  return view.gone.slice(0, 8).reverse().map((ball, index, all) => shape("circle", {
    cx: ball.landing_m[0], cy: -ball.landing_m[1], r: 0.34, fill: "#0072B2",
    opacity: 0.25 + (0.55 * (index + 1)) / all.length,
  }));
}

// Where the players' shots came down, as the coach marked them.
function marked(view) {
  const colour = (result) => view.controls.find((one) => one.name === result)?.colour;
  return (view.private?.landings ?? []).slice().reverse().map((one) => {
    const [x, y] = one.landing_m;
    return shape("path", {
      d: `M${x} ${-y - 0.55}l.55 .55l-.55 .55l-.55 -.55z`, fill: colour(one.result),
      stroke: "#fff", "stroke-width": 0.1,
    });
  });
}

function coming(view) {
  return view.coming.slice(0, 1).flatMap((ball) => {
    const [x, y] = ball.landing_m;
    const from = view.launchers[ball.launcher]?.mouth_m ?? [0, -12];
    return [
      shape("line", {
        x1: from[0], y1: -from[1], x2: x, y2: -y, stroke: "#D55E00", "stroke-width": 0.14,
        "stroke-dasharray": "0.5 0.35",
      }),
      shape("circle", { cx: x, cy: -y, r: 0.65, fill: "none", stroke: "#D55E00", "stroke-width": 0.25 }),
    ];
  });
}

// The whole court, and behind the launcher room for the shots that fly long.
const WHOLE = [-6.9, -16.2, 6.9, 13.4];
// Where a player's shot may come down: the launcher's half, and a little beyond the net.
const LANDINGS = [-6.9, -16.2, 6.9, 1.4];

// Where the launcher's own balls come down: the receiver's half, and behind it.
const FEEDS = [-6.9, -1.4, 6.9, 16.2];

// The box of these corners (court axes) in a picture that is turned.
function box([x1, y1, x2, y2], degrees) {
  const turn = new DOMMatrix().rotate(degrees);
  const [a, b] = [[x1, -y1], [x2, -y2]].map(([x, y]) => new DOMPoint(x, y).matrixTransform(turn));
  const sides = [Math.min(a.x, b.x), Math.min(a.y, b.y), Math.abs(a.x - b.x), Math.abs(a.y - b.y)];
  return sides.map((side) => side.toFixed(2)).join(" ");
}

function draw(svg, region, stand, words, shapes) {
  svg.setAttribute("viewBox", box(region, stand.turn_deg));
  const court = shape("g", { transform: `rotate(${stand.turn_deg})` });
  court.append(...lines(), ...shapes);
  const defs = shape("defs", {});
  defs.append(hatch());
  svg.replaceChildren(shape("title", {}, words), defs, court);
}

export function drawCourt(svg, view, stand) {
  const next = view.coming[0];
  const words = next
    ? _("The court; next ball: {feed}", { feed: next.feed }) : _("The court; no ball is coming");
  draw(svg, WHOLE, stand, words,
    [...target(view), ...launchers(view), ...gone(view), ...marked(view), ...coming(view)]);
}

// Where the balls of a lesson that measures came down, and where the one that is asked about
// was to.
function fedBalls(view, fed) {
  const [x, y] = fed.asked_m;
  const places = view.private.fed.filter((one) => one.landing_m !== null);
  return [
    ...places.map((one) => shape("circle", {
      cx: one.landing_m[0], cy: -one.landing_m[1], r: 0.2, fill: "#0072B2",
    })),
    shape("circle", { cx: x, cy: -y, r: 0.5, fill: "none", stroke: "#D55E00", "stroke-width": 0.14 }),
  ];
}

// One half alone, as large as there is room, with a cross where the keys have moved it: of players'
// shots the launcher's, of a ball that was `fed` the receiver's.
export function drawLandings(svg, view, stand, [x, y], fed = null) {
  const cross = shape("path", {
    d: `M${x - 0.6} ${-y}h1.2M${x} ${-y - 0.6}v1.2`, stroke: "#111", "stroke-width": 0.12,
  });
  if (fed) {
    draw(svg, FEEDS, stand, _("The receiver's half of the court"), [...fedBalls(view, fed), cross]);
    return;
  }
  draw(svg, LANDINGS, stand, _("The launcher's half of the court"),
    [...target(view), ...launchers(view), ...marked(view), cross]);
}

// The point of the court, [x, y] in metres and to a centimetre, that was tapped.
export function tapped(svg, event) {
  const court = svg.querySelector("g");
  const point = new DOMPoint(event.clientX, event.clientY)
    .matrixTransform(court.getScreenCTM().inverse());
  return [point.x, -point.y].map((metres) => Math.round(100 * metres) / 100);
}

// A step of the cross on the screen, in court axes.
export function turned([right, down], stand) {
  const back = new DOMPoint(right, down).matrixTransform(new DOMMatrix().rotate(-stand.turn_deg));
  return [Math.round(100 * back.x) / 100, Math.round(-100 * back.y) / 100];
}
