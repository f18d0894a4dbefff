// The program's own expectations: what became of each, and its worst case in the picture.
import { make } from "./hour_parts.js";
import { onPaper, shape } from "./picture.js";
import { drawParts, put } from "./redraw.js";
import { length } from "./told.js";
import { _ } from "/static/words.js";

const STANDINGS = { passes: "✓", fails: "✗", inconclusive: "?", untested: "–" };
const IN_WORDS = {
  passes: _("holds"), fails: _("does not hold"), inconclusive: _("not decided"), untested: _("about nothing that happens"),
};
const DOTS = { class: "worst", "aria-hidden": "true" };

// --- the worst case, drawn

// Where a feed's ball is when it is so far from the net, [x, y, z] in metres; null where it is not.
function atDepth(feed, y_m) {
  const path = [...feed.path_m, ...feed.after_m];
  const index = path.findIndex((place, at) => at > 0 && (path[at - 1][1] - y_m) * (place[1] - y_m) <= 0);
  if (index < 1) return null;
  const [from, to] = [path[index - 1], path[index]];
  const part = to[1] === from[1] ? 0 : (y_m - from[1]) / (to[1] - from[1]);
  return from.map((value, axis) => value + (to[axis] - value) * part);
}

const ring = ([x, y], r) => {
  const [cx, cy] = onPaper([x, y]);
  return shape("circle", { cx, cy, r, "stroke-width": 0.1 });
};

// Heights on the side view: what was asked for as a band, what there is as a bar before it.
function heights(y_m, asked, got, words) {
  const top = (metres) => -Math.min(metres ?? 12, 12);
  const parts = [shape("rect", { x: y_m - 0.35, y: top(asked[1]), width: 0.7, height: top(asked[0]) - top(asked[1]), class: "asked" })];
  if (got) {
    parts.push(shape("line", { x1: y_m, y1: top(got[0]), x2: y_m, y2: top(Math.max(got[1], got[0] + 0.03)), class: "got", "stroke-width": 0.16 }));
  }
  const far = y_m > 6; // there the words would leave the picture
  parts.push(shape("text", { x: y_m + (far ? -0.5 : 0.5), y: top(got?.[1] ?? asked[0]) - 0.12, "text-anchor": far ? "end" : "start" }, words));
  return parts;
}

const metres = (value) => length(value, 2);

function overNet(seen, feed, worst) {
  const cord = atDepth(feed, 0);
  if (!cord) return [[], []];
  const { net_half_m: half, net_centre_m: centre, net_post_m: post } = seen.court;
  const top = centre + (post - centre) * Math.min(1, Math.abs(cord[0]) / half);
  const [room] = worst.got_m;
  return [[ring(cord, 0.5)], heights(0, [top + worst.asked_m[0], null], [top, top + Math.max(room, 0)], metres(room))];
}

function atReceiver(feed, worst) {
  if (!feed.receiver_m) return [[], []];
  const words = !worst.got_m ? _("not reached by all") : worst.got_m.map(metres).join(" – ");
  return [[ring(feed.receiver_m, 0.55)], heights(feed.receiver_m[1], worst.asked_m, worst.got_m, words)];
}

function ellipse(feed, sigmas) {
  const [major, minor, turn] = feed.scatter;
  const [x, y] = onPaper(feed.landing_m);
  return shape("ellipse", { cx: x, cy: y, rx: major * sigmas, ry: minor * sigmas, class: "got",
    transform: `rotate(${90 - turn} ${x} ${y})`, "stroke-width": 0.1 });
}

function inArea(feed, worst) {
  const points = worst.outline_m.map(([x, y]) => onPaper([x, y]).join()).join(" ");
  return [[shape("polygon", { points, class: "asked", "stroke-width": 0.06 }), ellipse(feed, worst.sigma)], []];
}

function nearPlace(feed, worst) {
  const [cx, cy] = onPaper(feed.landing_m);
  return [[shape("circle", { cx, cy, r: worst.asked_m[1], class: "asked", "stroke-width": 0.06 }), ellipse(feed, 1)], []];
}

const DRAWN = {
  net: overNet,
  arrives: (_seen, feed, worst) => atReceiver(feed, worst),
  inside: (_seen, feed, worst) => inArea(feed, worst),
  within: (_seen, feed, worst) => nearPlace(feed, worst),
};

// Draws where an expectation is tightest, over a picture that has just been drawn.
export function drawWorst(above, side, seen, one) {
  for (const svg of [above, side]) svg.querySelector(".worst")?.remove();
  const worst = one?.worst;
  const feed = worst && seen.feeds.find((each) => each.index === worst.feed);
  if (!feed || !DRAWN[worst.about]) return;
  const [on, beside] = DRAWN[worst.about](seen, feed, worst);
  const kind = one.standing === "fails" ? " bad" : "";
  above.append(shape("g", { ...DOTS, class: `worst${kind}` }, ...on));
  side.append(shape("g", { ...DOTS, class: `worst${kind}` }, ...beside));
}

// --- the list

// `on`: show(line), draw() when another one is chosen, decide() asks for drawn balls or throws an
// Error with the reason in words, waits(player) marks a player's longest wait in the hour.
export function openExpected(parent, on) {
  const head = make("h2", { textContent: _("Expected") });
  const list = make("div", { className: "expected-list" });
  const ask = make("button", { type: "button", textContent: _("Decide by 2000 drawn balls") });
  const said = make("p", { role: "status", className: "expected-said" });
  parent.append(head, list, ask, said);
  let all = [], chosen = null, asked = 0, busy = false;

  function row(one, number) {
    const mark = make("span", { textContent: STANDINGS[one.standing] ?? "?", role: "img", ariaLabel: IN_WORDS[one.standing] ?? one.standing });
    const button = make("button", { type: "button", className: `expected ${one.standing}`, ariaPressed: String(number === chosen) },
      mark, make("span", { textContent: one.written }), make("small", { textContent: one.figure }));
    button.addEventListener("click", () => choose(number));
    return button;
  }

  function draw() {
    parent.hidden = !all.length;
    const held = [...list.children].indexOf(document.activeElement);
    drawParts(list, all.map((one, number) => (
      { key: number, said: [one.standing, one.written, one.figure, String(number === chosen)], draw: () => row(one, number) })));
    if (held >= 0) list.children[held]?.focus({ preventScroll: true });
    ask.hidden = !all.some((one) => one.standing === "inconclusive");
    ask.disabled = busy;
  }

  function choose(number) {
    chosen = chosen === number ? null : number;
    draw();
    on.draw();
    const one = all[chosen];
    if (!one) return;
    on.point(one.line);
    if (one.worst?.player !== null && one.worst?.player !== undefined) on.waits(one.worst.player);
  }

  ask.addEventListener("click", async () => {
    const mine = (asked += 1);
    busy = true;
    draw();
    said.textContent = _("Drawing balls: some seconds…");
    let words = "", told = null;
    try {
      told = await on.decide();
    } catch (failed) {
      words = failed.message;
    }
    if (mine !== asked) return;
    busy = false;
    if (told) {
      all = told.expectations;
      words = _("As drawn by chance, from the program's seed.");
    }
    said.textContent = words;
    draw();
    on.draw();
  });

  return {
    chosen: () => all[chosen] ?? null,
    draw: (expectations) => {
      asked += 1;
      busy = false;
      put(said, "");
      all = expectations;
      if (!all[chosen]) chosen = null;
      draw();
    },
    forget: () => {
      all = [];
      chosen = null;
      draw();
    },
  };
}
