// At the side, of the feed that is chosen: how high it passes the net, and where it is met.
import { shape } from "./shapes.js";
import { length } from "./told.js";
import { _ } from "/static/words.js";

const between = (from, to, share) => from.map((one, axis) => one + share * (to[axis] - one));

// Where a way crosses the net, [x, y, z].
function overNet(path) {
  for (let at = 1; at < path.length; at += 1) {
    const [from, to] = [path[at - 1], path[at]];
    if (from[1] < 0 && to[1] >= 0) return between(from, to, -from[1] / (to[1] - from[1]));
  }
  return null;
}

// The place of a way that is nearest to somebody on the ground.
export function nearestTo(path, [x, y]) {
  let best = null, least = Infinity;
  for (let at = 1; at < path.length; at += 1) {
    const [from, to] = [path[at - 1], path[at]];
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    const along = ((x - from[0]) * dx + (y - from[1]) * dy) / (dx * dx + dy * dy || 1);
    const here = between(from, to, Math.min(1, Math.max(0, along)));
    const away = Math.hypot(here[0] - x, here[1] - y);
    if (away < least) [best, least] = [here, away];
  }
  return best;
}

function mark([, y, z], from, words, side) {
  return [
    shape("line", { x1: y, x2: y, y1: -from, y2: -z, class: "measure", "stroke-width": 0.05 }),
    shape("circle", { cx: y, cy: -z, r: 0.12, class: "measure-end" }),
    shape("text", { x: y + side * 0.25, y: -z - 0.3, "text-anchor": side > 0 ? "start" : "end", class: "measured" }, words),
  ];
}

// Words that would not end before `right`, with letters so high, stand on the other side.
const MOST_WORDS = 11; // as often as a letter is high
export function heightsOf(feed, right, high) {
  const drawn = [];
  const net = overNet(feed.path_m);
  if (net && feed.net_clearance_m > 0) {
    drawn.push(...mark(net, net[2] - feed.net_clearance_m, _("{n} over", { n: length(feed.net_clearance_m, 2) }), -1));
  }
  const met = feed.receiver_m && nearestTo([...feed.path_m, ...feed.after_m], feed.receiver_m);
  if (met && met[1] > 0) drawn.push(...mark(met, 0, _("{n} high there", { n: length(met[2], 1) }), met[1] > right - MOST_WORDS * high ? -1 : 1));
  return drawn;
}
