// The lesson as a moving picture: each ball above and at the side, on the lesson's own clock.
import { onPaper, shape } from "./picture.js";
import { put } from "./redraw.js";
import { strayOf } from "./strays.js";
import { _ } from "/static/words.js";

const SPEEDS = [1, 2, 5, 10, 30, 60];
const LIES_S = 0.3; // a ball whose second bounce is not known lies so long where it landed
const LONGEST_FRAME_MS = 250; // a page that was held up does not leap
const RING_MS = 600; // a landing is seen so long, however fast time goes
const NOTICE_S = 2.5; // of a stop that takes no time of the lesson's own
const STEP_MS = 1000; // where motion is not wanted, one picture a second
const SAME_S = 1e-6;
const MOST_DOTS = 120; // landings of an exercise that stay marked

// --- the run: pure functions of its time

const stamp = (seconds) => {
  const whole = Math.floor(seconds + SAME_S);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};

// The message in shape: each ball with its feed, once by leaving and once by landing.
function readRun(told) {
  const feeds = new Map(told.feeds.map((feed) => [feed.index, feed]));
  const balls = told.balls.map(([at_s, index, player, watched, request], number) => {
    const feed = feeds.get(index);
    const gone_s = feed.flight_s + (feed.after_s || LIES_S);
    // The last ball of an exercise leaves as the next one begins.
    const part = told.parts.findIndex((one) => one.begin_s <= at_s + SAME_S && at_s <= one.end_s + SAME_S);
    const stray = strayOf(number + 1, feed.scatter);
    return { at_s, feed, player, watched, request, part, stray, number: number + 1, lands_s: at_s + feed.flight_s, gone_s };
  });
  return {
    ...told, balls,
    landings: [...balls].sort((a, b) => a.lands_s - b.lands_s),
    longest_s: Math.max(0, ...told.feeds.map((feed) => feed.flight_s + (feed.after_s || LIES_S))),
    stays: told.stays.map(([begin_s, end_s, player, work]) => ({ begin_s, end_s, player, work })),
    calls: told.calls.map(([at_s, words]) => ({ at_s, words })),
  };
}

// How many of a list in order of `key` are not after a moment.
function until(list, key, moment_s) {
  let low = 0, high = list.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (list[middle][key] <= moment_s + SAME_S) low = middle + 1;
    else high = middle;
  }
  return low;
}

function between(places, share) {
  const at = Math.min(Math.max(share, 0), 1) * (places.length - 1);
  const index = Math.min(Math.floor(at), places.length - 2);
  return places[index].map((from, axis) => from + (places[index + 1][axis] - from) * (at - index));
}

// Where a ball is so long after it left, [x, y, z] in metres; null before and after its flight.
function placeOf(feed, age_s) {
  if (age_s < -SAME_S) return null;
  if (age_s <= feed.flight_s + SAME_S) return between(feed.path_m, age_s / feed.flight_s);
  const after_s = age_s - feed.flight_s;
  if (feed.after_s) return after_s <= feed.after_s ? between(feed.after_m, after_s / feed.after_s) : null;
  return after_s <= LIES_S ? feed.path_m.at(-1) : null;
}

// The same for a ball that strays: it leaves where it is aimed from, and is off more the farther it is.
function strayedPlace(ball, age_s, scattered) {
  const place = placeOf(ball.feed, age_s);
  if (!place || !scattered) return place;
  const part = Math.min(1, Math.max(0, age_s / ball.feed.flight_s));
  return [place[0] + ball.stray[0] * part, place[1] + ball.stray[1] * part, place[2]];
}

function landingOf(ball, scattered) {
  const [x, y] = ball.feed.landing_m;
  return scattered ? [x + ball.stray[0], y + ball.stray[1]] : [x, y];
}

// The landings so far of the exercise of the newest one. A ball whose speed is watched is of none.
function landedHere(run, at_s) {
  const landed = run.landings.slice(0, until(run.landings, "lands_s", at_s)).filter((ball) => !ball.watched);
  return landed.filter((ball) => ball.part === landed.at(-1).part).slice(-MOST_DOTS);
}

function flying(run, at_s) {
  const from = until(run.balls, "at_s", at_s - run.longest_s - 2 * SAME_S);
  return run.balls.slice(from, until(run.balls, "at_s", at_s)).filter((ball) => at_s - ball.at_s <= ball.gone_s);
}

const partAt = (run, at_s) => run.parts.findLast((part) => part.begin_s <= at_s + SAME_S && at_s < part.end_s + 3);

const stopAt = (run, at_s, notice_s) => run.stops.findLast((stop) => (
  stop.begin_s <= at_s + SAME_S && at_s < Math.max(stop.end_s, stop.begin_s + notice_s)));

function whoIsOn(run, at_s) {
  const on = run.stays.filter((stay) => stay.begin_s <= at_s + SAME_S && at_s <= stay.end_s);
  const player = (stay) => run.players[stay.player];
  return on.map((stay) => (stay.work ? _("{player} at work without the launcher", { player: player(stay) }) : player(stay)));
}

function ballInWords(run, ball) {
  const parts = { n: ball.number, all: run.balls.length, feed: ball.feed.wish, player: run.players[ball.player] };
  const said = ball.player === null ? _("Ball {n} of {all}: {feed}", parts) : _("Ball {n} of {all}: {feed} for {player}", parts);
  const how = ball.watched ? _("its speed watched with nobody in front") : ball.request ? _("when it is asked for") : "";
  return [said, how].filter(Boolean).join(", ");
}

const isOff = (stop) => _("The launcher is off: {words}.", { words: stop.words });

// What goes on at a moment, in words.
function nowInWords(run, at_s, notice_s) {
  const stop = stopAt(run, at_s, notice_s);
  const part = partAt(run, at_s);
  const title = part ? `${part.number}. ${part.title}` : "";
  if (stop) {
    const waits = stop.end_s > stop.begin_s ? "" : _("Then the launcher is armed again. People's time is not counted here.");
    return { title, what: [isOff(stop), waits].filter(Boolean).join(" "), stop };
  }
  const on = whoIsOn(run, at_s);
  const balls = flying(run, at_s).map((ball) => ball.feed.wish);
  const named = on.length ? _("{players} on", { players: on.join(", ") }) : _("nobody on");
  return { title, what: [named, ...new Set(balls)].join(" · "), stop: null };
}

// --- the page

function element(name, properties = {}, ...inside) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...inside);
  return made;
}

function controls(parent) {
  const button = (words, name) => element("button", { type: "button", textContent: words, className: name });
  const parts = {
    begin: button(_("Play the lesson"), "play-begin"),
    before: button(_("Ball before"), "play-before"),
    go: button(_("Play"), "play-go main"),
    after: button(_("Next ball"), "play-after"),
    speed: element("select", { ariaLabel: _("Speed") }, ...SPEEDS.map((one) => new Option(`${one}×`, one))),
    scatter: element("input", { type: "checkbox", checked: true }),
    clock: element("span", { className: "play-clock" }),
    exercises: element("div", { className: "play-exercises", ariaHidden: "true" }),
    time: element("input", { type: "range", min: 0, step: 1, ariaLabel: _("Time in the lesson") }),
    title: element("b"),
    what: element("span"),
    call: element("span", { className: "play-call" }),
    said: element("p", { className: "play-said", role: "status" }),
  };
  parts.row = element("div", { className: "play-row" }, parts.before, parts.go, parts.after, parts.speed,
    element("label", { className: "play-scatter" }, parts.scatter, " ", _("scatter")), parts.clock);
  parts.line = element("div", { className: "play-time" }, parts.exercises, parts.time);
  parts.now = element("p", { className: "play-now" }, parts.title, parts.what, " ", parts.call);
  parent.append(parts.begin, parts.row, parts.line, parts.now, parts.said);
  return parts;
}

function markExercises(box, run) {
  const share = (seconds) => `${(100 * seconds) / (run.end_s || 1)}%`;
  box.replaceChildren(
    ...run.parts.map((part) => {
      const mark = element("i", { textContent: part.number, title: part.title });
      Object.assign(mark.style, { left: share(part.begin_s), width: share(part.end_s - part.begin_s) });
      return mark;
    }),
    ...run.stops.map((stop) => {
      const mark = element("u", { title: stop.words });
      mark.style.left = share(stop.begin_s);
      if (stop.end_s > stop.begin_s) mark.style.width = share(stop.end_s - stop.begin_s);
      return mark;
    }));
}

const TRAIL_S = 0.3;
function drawBall(above, side, ball, at_s, scattered) {
  const age_s = at_s - ball.at_s;
  const [x, y, z] = strayedPlace(ball, age_s, scattered);
  const trail = [5, 4, 3, 2, 1, 0].map((step) => strayedPlace(ball, Math.max(0, age_s - (step * TRAIL_S) / 5), scattered));
  const way = (points) => shape("polyline", { points: points.map((one) => one.join()).join(" "), class: "trail", "stroke-width": 0.16 });
  const disc = (cx, cy) => shape("circle", { cx, cy, r: 0.26, class: "ball", "stroke-width": 0.07, "data-ball": ball.number });
  above.append(way(trail.map(onPaper)), disc(...onPaper([x, y])));
  side.append(way(trail.map(([, far, high]) => [far, -high])), disc(y, -z));
}

function drawRing(above, side, { ball, born_ms }, now_ms, scattered) {
  const [x, y] = onPaper(landingOf(ball, scattered));
  const ring = (cx, cy, r) => {
    const made = shape("circle", { cx, cy, r, class: "landed", "stroke-width": 0.12 });
    made.style.opacity = Math.max(0, 1 - (now_ms - born_ms) / RING_MS);
    return made;
  };
  above.append(ring(x, y, 0.6));
  side.append(ring(x, 0, 0.3));
}

// Every landing of the exercise so far stays as a dot, with the ellipse of its feed's scatter.
function drawDots(layer, run, at_s) {
  const landed = landedHere(run, at_s);
  const feeds = new Set(landed.map((ball) => ball.feed));
  const ellipses = [...feeds].map(({ landing_m, scatter: [major, minor, turn] }) => {
    const [x, y] = onPaper(landing_m);
    return shape("ellipse", { cx: x, cy: y, rx: 2 * major, ry: 2 * minor, class: "strays", "stroke-width": 0.05,
      transform: `rotate(${90 - turn} ${x} ${y})` });
  });
  layer.replaceChildren(...ellipses, ...landed.map((ball) => {
    const [cx, cy] = onPaper(landingOf(ball, true));
    return shape("circle", { cx, cy, r: 0.11, class: "dot", "stroke-width": 0.04 });
  }));
}

// A player of the open lesson. `load` fetches its run or throws an Error with the reason in words.
export function openPlayer(parent, { above, side, load }) {
  const parts = controls(parent);
  const layers = [above, side].map(() => shape("g", { class: "play-layer", "aria-hidden": "true" }));
  const dots = shape("g", { class: "play-layer", "aria-hidden": "true" });
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  let run = null, at_s = 0, shown_s = 0, speed = 1, playing = false, last_ms = null, forget = () => {};
  let rings = [], dotted = 0, told = "", asked = 0, allowed = false, loading = false;

  const show = () => {
    parts.begin.disabled = !allowed || loading;
    parts.begin.hidden = run !== null;
    parts.row.hidden = parts.line.hidden = parts.now.hidden = run === null;
  };
  const say = (words) => put(parts.said, words);
  const notice_s = () => (playing ? NOTICE_S * speed : NOTICE_S);

  function draw(now_ms = performance.now()) {
    for (const layer of layers) layer.replaceChildren();
    drawLanded();
    if (!run) return;
    rings = rings.filter((ring) => now_ms - ring.born_ms < RING_MS);
    const scattered = parts.scatter.checked;
    for (const ring of rings) drawRing(...layers, ring, now_ms, scattered);
    for (const ball of flying(run, shown_s)) drawBall(...layers, ball, shown_s, scattered);
    const now = nowInWords(run, shown_s, notice_s());
    const call = run.calls[until(run.calls, "at_s", shown_s) - 1];
    put(parts.clock, _("{time} of {whole}", { time: stamp(shown_s), whole: stamp(run.end_s) }));
    const title = now.title ? `${now.title}: ` : "";
    put(parts.title, title);
    put(parts.what, now.what);
    put(parts.call, call && !now.stop ? `“${call.words}”` : "");
    parts.now.classList.toggle("stopped", Boolean(now.stop));
    parts.time.value = shown_s;
    parts.time.setAttribute("aria-valuetext", `${stamp(shown_s)}, ${title}${now.what}`);
    put(parts.go, playing ? _("Pause") : _("Play"));
    announce(now);
  }

  // Drawn anew only where another ball has landed, not in every picture.
  function drawLanded() {
    const so_far = run && parts.scatter.checked ? until(run.landings, "lands_s", shown_s) : 0;
    if (so_far === dotted) return;
    dotted = so_far;
    if (so_far) drawDots(dots, run, shown_s);
    else dots.replaceChildren();
  }

  // While it plays only what is new for long enough to be heard is said: exercises and stops.
  function announce({ title, stop }) {
    const news = stop ? isOff(stop) : title;
    if (playing && news && news !== told) say(news);
    told = news;
  }

  function go(to_s) {
    at_s = shown_s = Math.min(Math.max(to_s, 0), run.end_s);
    rings = [];
  }

  function advance(by_s, now_ms) {
    const before_s = at_s;
    at_s = shown_s = Math.min(at_s + by_s, run.end_s);
    const landed = run.landings.slice(until(run.landings, "lands_s", before_s), until(run.landings, "lands_s", at_s));
    if (calm.matches && landed.length) shown_s = landed.at(-1).lands_s;
    else if (!calm.matches) rings.push(...landed.slice(-8).map((ball) => ({ ball, born_ms: now_ms })));
  }

  function tick(now_ms) {
    if (!playing) return;
    if (!parent.checkVisibility()) return pause();
    if (last_ms !== null) {
      const spent_ms = calm.matches ? STEP_MS : Math.min(now_ms - last_ms, LONGEST_FRAME_MS);
      advance((spent_ms / 1000) * speed, now_ms);
    }
    last_ms = now_ms;
    if (at_s >= run.end_s) return pause(_("The lesson is over."));
    draw(now_ms);
    next();
  }

  function next() {
    if (calm.matches) {
      const timer = setTimeout(() => tick(performance.now()), STEP_MS);
      forget = () => clearTimeout(timer);
    } else {
      const frame = requestAnimationFrame(tick);
      forget = () => cancelAnimationFrame(frame);
    }
  }

  function rest() {
    forget();
    last_ms = null;
  }

  function play() {
    if (at_s >= run.end_s) go(0);
    playing = true;
    told = "";
    say(_("Playing, {n} times as fast as on court.", { n: speed }));
    draw();
    last_ms = performance.now();
    next();
  }

  function pause(words = "") {
    rest();
    playing = false;
    rings = [];
    at_s = shown_s;
    draw();
    say(words || _("Paused at {time}.", { time: stamp(at_s) }));
  }

  function step(way) {
    const before = until(run.landings, "lands_s", shown_s);
    const here = before > 0 && Math.abs(run.landings[before - 1].lands_s - shown_s) <= SAME_S;
    const index = way > 0 ? before : before - 1 - (here ? 1 : 0);
    const ball = run.landings[index];
    if (!ball) return say(way > 0 ? _("That was the last ball.") : _("There is no ball before."));
    rest();
    playing = false;
    go(ball.lands_s);
    draw();
    say(_("{ball}. It lands at {time}.", { ball: ballInWords(run, ball), time: stamp(at_s) }));
  }

  async function begin() {
    const mine = (asked += 1);
    loading = true;
    show();
    say(_("Working out the lesson…"));
    let answer, trouble = "";
    try {
      answer = readRun(await load());
    } catch (failed) {
      trouble = failed.message;
    }
    if (mine !== asked) return;
    loading = false;
    show();
    if (trouble) return say(trouble);
    if (!answer.balls.length) return say(_("No ball leaves in this lesson: there is nothing to play."));
    run = answer;
    parts.time.max = Math.ceil(run.end_s);
    markExercises(parts.exercises, run);
    go(0);
    redrawn();
    show();
    parts.go.focus({ preventScroll: true });
    play();
  }

  // What is played is what was asked for: other words are another lesson.
  function stop(why = "") {
    asked += 1;
    if (!run) {
      if (loading || !why) say("");
      loading = false;
      return show();
    }
    const held = parent.contains(document.activeElement);
    rest();
    playing = false;
    run = null;
    draw();
    show();
    if (held) parts.begin.focus({ preventScroll: true });
    say(why);
  }

  function redrawn() {
    above.append(dots, layers[0]);
    side.append(layers[1]);
  }

  parts.begin.addEventListener("click", begin);
  parts.go.addEventListener("click", () => (playing ? pause() : play()));
  parts.before.addEventListener("click", () => step(-1));
  parts.after.addEventListener("click", () => step(1));
  parts.speed.addEventListener("change", () => {
    speed = Number(parts.speed.value);
    draw();
  });
  parts.scatter.addEventListener("change", () => draw());
  parts.time.addEventListener("input", () => {
    go(Number(parts.time.value));
    if (!playing) say(""); // the bar itself tells where it is
    draw();
  });
  parent.addEventListener("keydown", (event) => {
    if (!run || [parts.speed, parts.scatter].includes(event.target) || event.altKey || event.ctrlKey || event.metaKey) return;
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (way) step(way);
    else if (event.key === " " && event.target.tagName !== "BUTTON") playing ? pause() : play();
    else return;
    event.preventDefault();
  });
  document.addEventListener("visibilitychange", () => {
    if (!playing) return;
    rest();
    if (document.hidden) return;
    last_ms = performance.now();
    next();
  });
  show();
  return { stop, redrawn, may: (can) => { allowed = can; show(); } };
}
