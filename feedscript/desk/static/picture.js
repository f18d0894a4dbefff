// The court from above and from the side, to scale, launcher at the left: metres in both.
import { areasAbove, cornersAbove, dots, drawnAreas } from "./areas.js";
import { movable } from "./drag.js";
import { heightsOf } from "./heights.js";
import { drawParts } from "./redraw.js";
import { aside, onPaper, points, shape } from "./shapes.js";
import { length, speed } from "./told.js";
import { _, figure, n_, p_ } from "/static/words.js";

export { onPaper, shape };

function line(from, to, width = 0.06, extra = {}) {
  const [x1, y1] = onPaper(from), [x2, y2] = onPaper(to);
  return shape("line", { x1, y1, x2, y2, class: "court-line", "stroke-width": width, ...extra });
}

function ground(court) {
  const { half_length_m: back, singles_half_width_m: single, service_line_m: service } = court;
  const wide = court.doubles_half_width_m ?? court.half_width_m;
  const drawn = [shape("rect", { x: -back, y: -wide, width: 2 * back, height: 2 * wide, class: "inside" })];
  for (const x of new Set([-wide, -single, single, wide])) drawn.push(line([x, -back], [x, back]));
  for (const y of [-back, back]) drawn.push(line([-wide, y], [wide, y]));
  for (const y of [-service, service]) drawn.push(line([-single, y], [single, y]));
  drawn.push(line([0, -service], [0, service]));
  for (const y of [-back, back]) drawn.push(line([0, y], [0, y - Math.sign(y) * 0.2]));
  drawn.push(line([-court.net_half_m, 0], [court.net_half_m, 0], 0.14, { class: "net" }));
  return drawn;
}

function sideWords(court) {
  const wide = (court.doubles_half_width_m ?? court.half_width_m) - 0.25;
  const at = court.half_length_m - 0.3;
  return [[_("deuce side"), -wide + 0.35], [_("ad side"), wide]].map(([words, x]) =>
    shape("text", { x: at, y: x, "text-anchor": "end", class: "word" }, words));
}

function turnedEllipse(feed, sigmas) {
  const [major, minor, turn] = feed.scatter;
  const [x, y] = onPaper(feed.landing_m);
  // Turned from court x towards court y; on paper the axes are exchanged.
  return shape("ellipse", {
    cx: x, cy: y, rx: major * sigmas, ry: minor * sigmas, transform: `rotate(${90 - turn} ${x} ${y})`,
    fill: feed.colour, "fill-opacity": sigmas === 1 ? 0.25 : 0,
    stroke: sigmas === 3 ? feed.colour : "none", "stroke-width": 0.04, "stroke-dasharray": "0.2 0.15",
  });
}

function path(feed, drawn, after, width) {
  const parts = [shape("polyline", {
    points: drawn, fill: "none", stroke: feed.colour, "stroke-width": width,
    "stroke-dasharray": feed.dash ? feed.dash.split(" ").map((one) => one * 0.05).join(" ") : null,
  })];
  if (after) {
    parts.push(shape("polyline", {
      points: after, fill: "none", stroke: feed.colour, "stroke-width": width * 0.8,
      "stroke-dasharray": "0.06 0.16", "stroke-linecap": "round",
    }));
  }
  return parts;
}

function label(feed) {
  return _("{feed}: {speed}, {net} over the net, {time} s", {
    feed: feed.wish, speed: speed(feed.speed_kmh), net: length(feed.net_clearance_m, 2), time: figure(feed.flight_s, 2),
  });
}

// So many feeds are drawn, and listed, in full; of the others the places where they land. A page of
// thousands of ways shows nothing, and takes no click any more.
const MOST_DRAWN = 120;
const drawnOf = (seen, chosen) => {
  const full = seen.feeds.filter((feed, at) => at < MOST_DRAWN || feed.wish === chosen).slice(-2 * MOST_DRAWN);
  return { full, rest: seen.feeds.filter((feed) => !full.includes(feed)) };
};

function onlyLandings(rest) {
  const dots = rest.map((feed) => `M${points([feed.landing_m]).replace(",", " ")}h0`).join("");
  return rest.length ? [shape("path", { d: dots, class: "landings", "stroke-width": 0.3, "stroke-linecap": "round" })] : [];
}

// Says what is not drawn in full; "" where all is.
export function thinned(seen) {
  const { targets, keep_outs: kept } = drawnAreas(seen), words = [];
  if (seen.feeds.length > MOST_DRAWN) words.push(_(
    "{n} of {all} feeds are drawn in full, of the others the places where they land. The cursor in a feed's words shows it.",
    { n: MOST_DRAWN, all: seen.feeds.length }));
  const areas = { n: targets.length + kept.length, all: seen.targets.length + seen.keep_outs.length };
  if (areas.n < areas.all) words.push(_("{n} of {all} areas are drawn, what is kept clear before what is aimed at.", areas));
  return words.join(" ");
}

// How far around a landing a hand takes hold of it: not past half the way to another one's.
const HOLD_M = 0.9, DISC_M = 0.36, SAME_PLACE_M = 0.05;
function holdOf({ landing_m: [x, y] }, feeds) {
  let hold = HOLD_M;
  for (const { landing_m: [otherX, otherY] } of feeds) {
    const metres = Math.hypot(otherX - x, otherY - y);
    if (metres > SAME_PLACE_M) hold = Math.min(hold, metres / 2);
  }
  return Math.max(DISC_M, hold);
}

function feedAbove(feed, hold, chosen, on) {
  const [x, y] = onPaper(feed.landing_m);
  const group = shape("g", {
    class: `feed${feed.wish === chosen ? " chosen" : ""}${chosen && feed.wish !== chosen ? " others" : ""}`,
    tabindex: feed.leads ? 0 : null, role: "button", "aria-label": label(feed), "data-index": feed.index, "data-key": `feed ${feed.index}`,
  },
  shape("title", {}, label(feed)),
  turnedEllipse(feed, 3), turnedEllipse(feed, 1),
  ...(feed.within_m && feed.wish === chosen ? [shape("circle", { cx: x, cy: y, r: feed.within_m, class: "within" },
    shape("title", {}, _("wanted within {n} m of here", { n: feed.within_m })))] : []),
  ...path(feed, points(feed.path_m), feed.after_m.length ? points(feed.after_m) : null, 0.07),
  shape("circle", { cx: x, cy: y, r: 0.55, "stroke-width": 0.08, class: "halo" }),
  shape("circle", { cx: x, cy: y, r: hold, class: "hit" }),
  shape("circle", { cx: x, cy: y, r: DISC_M, fill: feed.colour, stroke: "#fff", "stroke-width": 0.06 }));
  if (feed.leads) {
    const letter = shape("text", { x, y: y + 0.16, "text-anchor": "middle" }, feed.letter);
    letter.style.fill = "#fff";
    letter.style.fontSize = "0.46px";
    group.append(letter);
  }
  movable(group, { thing: "landing", feed: feed.index, name: feed.name, from_m: feed.landing_m, from: on.mouth(feed) },
    { ...on, chosen: () => on.choose(feed) });
  return group;
}

function launcherAbove(launcher, many, on) {
  const [x, y] = onPaper(launcher.mouth_m);
  const called = launcher.name || p_("picture", "launcher");
  const group = shape("g", { class: "launcher", transform: `translate(${x} ${y})`, tabindex: 0,
    "data-key": `launcher ${launcher.name}`, role: "button", "aria-label": _("{thing}; to be moved by the arrow keys", { thing: called }) },
    shape("title", {}, called),
    shape("rect", { x: -0.75, y: -0.4, width: 0.8, height: 0.8, rx: 0.12,
      transform: `rotate(${launcher.heading_deg})` }));
  if (many) group.append(shape("text", { x: -0.4, y: 1, "text-anchor": "middle" }, launcher.name));
  movable(group, { thing: "launcher", name: launcher.name, from_m: launcher.mouth_m.slice(0, 2) },
    { ...on, chosen: () => on.show(launcher.words) });
  return group;
}

// Where players wait: each place once, moved by the words of the group, of a player, else by the
// first feed's.
function people(seen, on) {
  const places = new Map();
  const note = (place, what, who) => place && !places.has(place.join()) && places.set(place.join(), { place, what, who });
  note(seen.receiver_m, { thing: "receiver", name: "" }, _("a player waits here"));
  for (const one of seen.players) note(one.receiver_m, { thing: "player", name: one.name }, _("{player} waits here", { player: one.name }));
  for (const feed of drawnOf(seen, null).full) note(feed.receiver_m, { thing: "waits", name: feed.name }, _("a player waits here"));
  return [...places.values()].map(({ place, what, who }) => {
    const [x, y] = onPaper(place);
    const group = shape("g", { tabindex: 0, role: "button", "data-key": `${what.thing} ${what.name}`,
      "aria-label": _("{thing}; to be moved by the arrow keys", { thing: who }) },
    shape("title", {}, who),
    shape("circle", { cx: x, cy: y, r: 0.32, class: "person", "stroke-width": 0.08 }));
    movable(group, { ...what, from_m: place }, { ...on, chosen: () => {} });
    return group;
  });
}

const away = ([x, y]) => ({ across: figure(Math.abs(x), 1), along: figure(Math.abs(y), 1) });

// A thing that is under way: its mark where the pointer is, and the straight way to it.
export function drawGhost(svg, what, to) {
  svg.querySelector(".ghost")?.remove();
  if (!what) return;
  const [x, y] = onPaper(to);
  const parts = what.outline
    ? [shape("polygon", { points: points(what.outline(to)), "stroke-width": 0.08 })]
    : [shape("circle", { cx: x, cy: y, r: 0.4, "stroke-width": 0.08 })];
  if (what.from) {
    const [fx, fy] = onPaper(what.from);
    parts.push(shape("line", { x1: fx, y1: fy, x2: x, y2: y, "stroke-width": 0.05, "stroke-dasharray": "0.25 0.2" }));
  }
  const words = shape("text", { x: x + 0.6, y: y - 0.5 },
    to[0] < 0 ? _("{across} m deuce, {along} m from net", away(to)) : _("{across} m ad, {along} m from net", away(to)));
  svg.append(shape("g", { class: "ghost" }, ...parts, words));
}

// To the next half metre, so that a feed a little faster does not move the whole picture.
const roundly = (metres) => Math.ceil(2 * metres) / 2;

function reach(seen) {
  const court = seen.court;
  let far = court.half_length_m + 2.2;
  for (const launcher of seen.launchers) far = Math.max(far, Math.abs(launcher.mouth_m[1]) + 1.2);
  for (const feed of seen.feeds) for (const [, y] of feed.after_m) far = Math.max(far, Math.min(y + 0.5, court.half_length_m + 6));
  const kept = drawnAreas(seen).keep_outs.flatMap((one) => one.outline_m.map(([x]) => Math.abs(x) + 0.4));
  const wide = Math.max((court.doubles_half_width_m ?? court.half_width_m) + 1.5, ...kept);
  const named = seen.launchers.length > 1 ? 0.6 : 0; // several are told by their names
  const left = Math.max(court.half_length_m + 1.2, ...seen.launchers.map((one) => -one.mouth_m[1] + 1.2 + named));
  return { left: -left, right: roundly(far), wide };
}

// So high, in metres, are letters that are as large on a short court as on a long one, and can be read on a phone.
const PHONE = matchMedia("(max-width: 760px)");
const letters = ({ left, right }) => (right - left) / (PHONE.matches ? 44 : 64);

function sideView(svg, seen, chosen, on) {
  const { left, right } = reach(seen), high = letters({ left, right });
  const court = seen.court;
  const top = roundly(Math.max(4, ...seen.feeds.map((feed) => feed.apex_m + 0.8)));
  svg.setAttribute("viewBox", `${left} ${-top} ${right - left} ${top + 0.4}`);
  const leads = seen.feeds.find((feed) => feed.wish === chosen && feed.leads);
  drawParts(svg, [
    { key: "ground", said: [left, right, top, high, court, seen.launchers.map((one) => one.mouth_m)], draw: () => groundAside(seen, left, right, top, high) },
    ...drawnOf(seen, chosen).full.map((feed) => {
      const others = Boolean(chosen) && feed.wish !== chosen;
      return { key: `feed ${feed.index}`, said: [feed.said, others], draw: () => feedAside(feed, others, on) };
    }),
    { key: "heights", said: leads ? [leads.said, right, high] : null, draw: () => (leads ? heightsOf(leads, right, high) : []) },
  ]);
}

function feedAside(feed, others, on) {
  const group = shape("g", { class: `feed${others ? " others" : ""}` },
    shape("title", {}, label(feed)),
    ...path(feed, aside(feed.path_m), feed.after_m.length ? aside(feed.after_m) : null, 0.07));
  group.addEventListener("click", () => on.choose(feed));
  return group;
}

function groundAside({ court, launchers }, left, right, top, high) {
  const drawn = [
    shape("title", {}, _("The court from the side")),
    shape("line", { x1: left, y1: 0, x2: right, y2: 0, class: "court-line", "stroke-width": 0.06 }),
    shape("line", { x1: 0, y1: 0, x2: 0, y2: -court.net_centre_m, class: "net", "stroke-width": 0.12 }),
  ];
  for (const y of [-court.half_length_m, -court.service_line_m, court.service_line_m, court.half_length_m]) {
    drawn.push(shape("line", { x1: y, y1: 0, x2: y, y2: 0.2, class: "court-line", "stroke-width": 0.08 }));
  }
  // A launcher at the edge would stand on the lowest figures.
  const behind = Math.max(0, ...launchers.filter(({ mouth_m: [, y] }) => y < left + 2.5).map((one) => one.mouth_m[2] + 0.2));
  for (let metres = 1; metres < top; metres += 1) {
    drawn.push(shape("line", { x1: left, y1: -metres, x2: right, y2: -metres, class: "court-line",
      "stroke-width": 0.015, "stroke-dasharray": "0.1 0.2" }));
    if (metres > behind && metres + high < top) drawn.push(shape("text", { x: left + 0.1, y: -metres - 0.06, class: "word" }, `${metres} m`));
  }
  for (const launcher of launchers) {
    const [, y, z] = launcher.mouth_m;
    drawn.push(shape("rect", { x: y - 0.7, y: -z - 0.2, width: 0.7, height: z + 0.2, rx: 0.1, class: "launcher" }));
  }
  return drawn;
}

// `said` of a feed is all of it but where its words stand: while that is the same, so is its drawing.
export function drawPicture(above, side, seen, chosen, on) {
  const { left, right, wide } = reach(seen), high = letters({ left, right });
  for (const svg of [above, side]) svg.style.setProperty("--text", `${high.toFixed(3)}px`);
  above.setAttribute("viewBox", `${left} ${-wide} ${right - left} ${2 * wide}`);
  const { full, rest } = drawnOf(seen, chosen);
  const feeds = full.sort((a, b) => (a.wish === chosen) - (b.wish === chosen));
  const areas = drawnAreas(seen), { targets, keep_outs: kept } = areas;
  const { court, launchers } = seen, leads = seen.feeds.filter((one) => one.leads).length;
  const waiting = seen.feeds.map(({ name, receiver_m: place }) => [name, place]);
  drawParts(above, [
    { key: "title", said: leads, draw: () => shape("title", {}, n_("The court from above with {n} feed", "The court from above with {n} feeds", leads)) },
    { key: "ground", said: court, draw: () => [dots(), ...ground(court), ...sideWords(court)] },
    { key: "areas", said: [targets, kept, on.area, high], draw: () => areasAbove(areas, high, on) },
    { key: "landings", said: rest.map((one) => one.landing_m), draw: () => onlyLandings(rest) },
    { key: "people", said: [seen.receiver_m, seen.players, waiting], draw: () => people(seen, on) },
    ...feeds.map((feed) => {
      const hold = holdOf(feed, feeds);
      return { key: `feed ${feed.index}`, said: [feed.said, hold, on.mouth(feed), feed.wish === chosen, Boolean(chosen)],
        draw: () => feedAbove(feed, hold, chosen, on) };
    }),
    { key: "launchers", said: launchers, draw: () => launchers.map((one) => launcherAbove(one, launchers.length > 1, on)) },
    { key: "corners", said: [targets, kept, on.area], draw: () => cornersAbove(areas, on) },
  ]);
  sideView(side, seen, chosen, on);
}

function listed(feed, chosen, on) {
  const button = document.createElement("button");
  button.setAttribute("aria-pressed", String(feed.wish === chosen));
  const letter = document.createElement("span");
  letter.className = "letter";
  letter.style.background = feed.colour;
  letter.textContent = feed.letter;
  const name = document.createElement("b");
  name.textContent = feed.wish;
  const figures = document.createElement("small");
  figures.textContent = _("{speed} · {net} over net · {time} s", {
    speed: speed(feed.speed_kmh), net: length(feed.net_clearance_m, 2), time: figure(feed.flight_s, 1),
  });
  button.append(letter, name, figures);
  button.addEventListener("click", () => on.choose(feed));
  const item = document.createElement("div");
  item.setAttribute("role", "listitem");
  item.className = feed.wrong ? "wrong" : "";
  item.append(button);
  return item;
}

export function listFeeds(parent, seen, chosen, on) {
  drawParts(parent, drawnOf(seen, chosen).full.filter((one) => one.leads).map((feed) => (
    { key: feed.index, said: [feed.said, feed.wish === chosen], draw: () => listed(feed, chosen, on) })));
}
