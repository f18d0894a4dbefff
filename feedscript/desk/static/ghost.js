// The flight of a landing under way: read between the flights to a grid of places, which the server
// sends when the pointer comes near, so that it follows the hand without a question on the way.
import { shape } from "./shapes.js";

const SIGMAS = [1, 3];

// The share that each of four evenly spaced values has in a cubic through them, at u in [0, 3].
const cubic = (u) => [
  -(u - 1) * (u - 2) * (u - 3) / 6, u * (u - 2) * (u - 3) / 2, -u * (u - 1) * (u - 3) / 2, u * (u - 1) * (u - 2) / 6,
];

// Where a value lies on an even grid: the first of the places to be looked at, and their shares.
function between(grid, value, count) {
  const at = (value - grid[0]) / (grid[1] - grid[0]);
  if (at < 0 || at > grid.length - 1) return null;
  const before = Math.min(Math.floor(at), grid.length - 2);
  if (count === 2) return { first: before, shares: [1 - (at - before), at - before] };
  const first = Math.max(0, Math.min(before - 1, grid.length - 4));
  return { first, shares: cubic(at - first) };
}

function mixed(field, to, count) {
  const across = between(field.xs, to[0], count), along = between(field.ys, to[1], count);
  if (!across || !along) return null;
  const shares = [], flights = [];
  for (let i = 0; i < count; i += 1) {
    for (let j = 0; j < count; j += 1) {
      const flight = field.flights[(across.first + i) * field.ys.length + along.first + j];
      if (!flight) return null;
      shares.push(across.shares[i] * along.shares[j]);
      flights.push(flight);
    }
  }
  const mean = (name) => {
    const sum = new Array(flights[0][name].length).fill(0);
    flights.forEach((flight, part) => {
      const share = shares[part], values = flight[name];
      for (let index = 0; index < sum.length; index += 1) sum[index] += share * values[index];
    });
    return sum;
  };
  return { path: mean("path"), after: mean("after"), spread: mean("spread") };
}

// The flight to a place; null where it is not known, or cannot be.
export function flightTo(field, to) {
  return field && (mixed(field, to, 4) ?? mixed(field, to, 2));
}

// Places [x, y, z, x, y, z, ...] as the points of a line; `down` is what the paper has downwards.
function pointsOf(flat, down) {
  let points = "";
  for (let at = 0; at < flat.length; at += 3) points += `${flat[at + 1].toFixed(3)},${down(flat, at).toFixed(3)} `;
  return points;
}
const above = (flat) => pointsOf(flat, (all, at) => all[at]);
const aside = (flat) => pointsOf(flat, (all, at) => -all[at + 2]);

function ellipses([xx, xy, yy], [x, y]) {
  const mean = (xx + yy) / 2, apart = Math.hypot((xx - yy) / 2, xy);
  const turn = Math.atan2(2 * xy, xx - yy) / 2 * 180 / Math.PI; // from court x towards court y
  const half = (square) => Math.sqrt(Math.max(square, 0));
  return SIGMAS.map((sigmas) => shape("ellipse", {
    cx: y, cy: x, rx: sigmas * half(mean + apart), ry: sigmas * half(mean - apart), "stroke-width": 0.04,
    transform: `rotate(${90 - turn} ${y} ${x})`, "stroke-dasharray": sigmas === 1 ? null : "0.2 0.15",
  }));
}

const line = (points) => shape("polyline", { points, "stroke-width": 0.07 });
const dotted = (points) => shape("polyline", {
  points, "stroke-width": 0.06, "stroke-dasharray": "0.06 0.16", "stroke-linecap": "round",
});

// `ask(feed)` gives the flights of a feed, by its index, to many places.
export function openGhosts(ask) {
  let known = new Map();
  return {
    // Other words: other flights.
    forget() { known = new Map(); },
    near(feed) {
      const here = known;
      if (here.has(feed)) return;
      here.set(feed, null);
      ask(feed).then((field) => here.set(feed, field), () => here.delete(feed));
    },
    // Beside the mark under the hand, which is drawn already, the flight from above and from the side.
    draw(pictureAbove, pictureAside, what, to) {
      pictureAside.querySelector(".ghost")?.remove();
      if (what?.thing !== "landing") return;
      this.near(what.feed);
      const flight = flightTo(known.get(what.feed), to);
      if (!flight) return;
      const mark = pictureAbove.querySelector(".ghost");
      mark.querySelector("line")?.remove();
      mark.append(line(above(flight.path)), dotted(above(flight.after)), ...ellipses(flight.spread, to));
      pictureAside.append(shape("g", { class: "ghost" }, line(aside(flight.path)), dotted(aside(flight.after))));
    },
  };
}
