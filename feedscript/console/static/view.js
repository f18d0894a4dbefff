// What both screens show of a lesson: who, how far, where the next ball goes. The words for phases,
// launchers and what is asked come with the view.

import { drawCourt } from "./court.js";
import { by, showStanding, write } from "./standing.js";
import { _, figure, inLanguage, n_, sentence } from "./words.js";

export { by, sentence };

export function put(id, words) {
  write(by(id), words);
}

// Trouble that a person should read now.
export function news(view) {
  const now_s = view.utc_s + age(view);
  return view.troubles.filter((one) => one.until_utc_s === null || now_s < one.until_utc_s);
}

export function minutes(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

// Seconds since this view was heard: the clocks on the page go on between views.
export function age(view) {
  return view.ended ? 0 : (performance.now() - view.heard) / 1000;
}

function call(view) {
  const newest = view.calls.at(-1);
  const countIn = view.count_in_s === null ? 0 : view.count_in_s - age(view);
  if (countIn > 0.5) return { text: _("Ball in {seconds}", { seconds: Math.ceil(countIn) }) };
  const since = newest ? view.utc_s + age(view) - newest.utc_s : Infinity;
  return since < view.conventions.call_shown_s ? newest : { text: "" };
}

function breakLeft(view) {
  if (view.break_s === null) return "";
  const left = view.break_s - age(view);
  return left > 0 ? _("Break: {time} left", { time: minutes(left) }) : _("The break is over");
}

// What changes without anything having happened.
function showTime(view, told) {
  if (!alive) return; // the clocks stand: nobody knows what the lesson does
  const lesson = view.lesson_s > 0 ? view.lesson_s + age(view) : 0;
  // Where there is an hour its clock says how the lesson stands; one of the two is enough.
  put("time", view.hour ? "" : _("{time} since the first ball; {whole} planned, without pauses", {
    time: minutes(lesson), whole: minutes(view.planned_s[1]),
  }));
  const called = told ? { text: told } : call(view);
  put("call", called.text);
  inLanguage(by("call"), called.language);
  put("break", breakLeft(view));
}

let alive = true;
let shown = null;
let toldNow = "";

setInterval(() => { if (shown) showTime(shown, toldNow); }, 250);

// `told` are words that stand in the place of calls.
export function show(view, told, stand) {
  if (view !== shown) view.heard = performance.now();
  [shown, toldNow] = [view, told];
  by("title").textContent = view.rehearsal
    ? _("Rehearsal: {title}", { title: view.title }) : view.title;
  by("phase").textContent = view.phase_words;
  by("phase").classList.toggle("alarm", view.alarm);
  showStanding(view);
  by("balls").textContent = n_("{left} of {n} ball", "{left} of {n} balls", view.balls_planned[1], {
    left: view.balls_left,
  });
  showTime(view, told);
  by("launchers").replaceChildren(...view.launchers.map(launcher));
  drawCourt(by("court"), view, stand);
  by("page").classList.toggle("wide", stand.turn_deg % 180 !== 0);
}

function inIt(one) {
  const [left, loaded] = [one.hopper_balls, one.loaded_balls];
  return loaded === null ? n_("{n} ball in it", "{n} balls in it", left)
    : n_("{left} of {n} ball in it", "{left} of {n} balls in it", loaded, { left });
}

function battery(one) {
  if (one.supply_v === null) return "";
  const volts = `${figure(one.supply_v, 1)} V`;
  return one.battery_balls === null ? volts
    : n_("{volts}, about {n} ball left in the battery", "{volts}, about {n} balls left in the battery",
      one.battery_balls, { volts });
}

function launcher(one) {
  const item = document.createElement("li");
  const state = [one.name, one.state_words].filter(Boolean).join(": ");
  item.textContent = [state, one.hopper_balls === null ? "" : inIt(one), battery(one)]
    .filter(Boolean).join(", ");
  item.className = one.alarm ? "bad" : "";
  return item;
}

// `unreceived`: a stop that was pressed, and that nobody has received yet.
export function showLink(linked, view, unreceived) {
  alive = linked;
  if (!linked && !view?.ended) put("call", "");
  by("lost").classList.toggle("calm", Boolean(view?.ended));
  tellLost(view?.ended || (unreceived ? _("STOP was not received yet. Use the switch at the launcher.")
    : linked ? view?.no_link : noLaptop(view)));
}

function noLaptop(view) {
  const what = view?.without_laptop ?? _("If in doubt use the switch at the launcher.");
  return [_("No link to the laptop."), what].join(" ");
}

function tellLost(words) {
  by("lost").textContent = words ?? "";
  by("lost").hidden = !words;
}
