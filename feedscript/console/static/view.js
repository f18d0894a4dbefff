// What both screens show of a lesson: who, how far, where the next ball goes.

import { drawCourt } from "./court.js";

const CALL_SHOWN_S = 8;
// Trouble that is over is shown for so long while the lesson runs on, as at the terminal.
const TROUBLE_SHOWN_S = 20;
// Until every launcher said that it stopped, whatever the phase is.
const STOPPING = "Stopping. Stay where you are.";

export const by = (id) => document.getElementById(id);

// The same words again are not written: a screen reader would read them out once more.
export function put(id, words) {
  if (by(id).textContent !== words) by(id).textContent = words;
}

export function sentence(words) {
  const whole = words ? words[0].toUpperCase() + words.slice(1) : "";
  return !whole || /[.?!]$/.test(whole) ? whole : `${whole}.`;
}

export function news(state) {
  const stands = !["running", "regrouping"].includes(state.phase);
  return state.troubles.filter((one) => (stands && one.utc_s >= state.cleared_utc_s)
    || state.utc_s + age(state) - one.utc_s < TROUBLE_SHOWN_S);
}

export function minutes(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

// Seconds since this state was heard: the clocks on the page go on between states.
export function age(state) {
  return state.ending ? 0 : (performance.now() - state.heard) / 1000;
}

function call(state) {
  const newest = state.calls.at(-1);
  const countIn = state.count_in_s === null ? 0 : state.count_in_s - age(state);
  if (countIn > 0.5) return `Ball in ${Math.ceil(countIn)}`;
  const since = newest ? state.utc_s + age(state) - newest.utc_s : Infinity;
  return since < CALL_SHOWN_S ? newest.text : "";
}

// What changes without anything having happened.
function showTime(state, tells) {
  if (!alive) return; // the clocks stand: nobody knows what the lesson does
  const lesson = state.lesson_s > 0 ? state.lesson_s + age(state) : 0;
  put("time", `${minutes(lesson)} of ${minutes(state.planned_s[1])}`);
  put("call", state.stopping ? STOPPING : tells[state.phase] ?? call(state));
}

let alive = true;
let shown = null;
let told = {};

setInterval(() => { if (shown) showTime(shown, told); }, 250);

// `tells` has words that stand in the place of calls in some phases.
export function show(state, tells = {}) {
  if (state !== shown) state.heard = performance.now();
  [shown, told] = [state, tells];
  by("title").textContent = state.rehearsal ? `Rehearsal: ${state.title}` : state.title;
  by("phase").textContent = state.phase_words;
  const hitters = state.places.filter((place) => place.role === "hitter");
  by("on").textContent = hitters
    .map((place) => (place.station ? `${place.station}: ${place.player}` : place.player))
    .join(", ") || "–";
  by("next-up").textContent = state.next_up.slice(0, 2).join(", ") || "–";
  by("balls").textContent = `${state.balls_left} of ${state.balls_planned[1]} balls`;
  showTime(state, tells);
  by("launchers").replaceChildren(...state.launchers.map(launcher));
  drawCourt(by("court"), state);
}

function launcher(one) {
  const item = document.createElement("li");
  const words = [one.name, one.linked ? one.state_words : "no link"].filter(Boolean);
  item.textContent = words.join(": ")
    + (one.hopper_balls === null ? "" : `, ${one.hopper_balls} balls in it`);
  item.className = !one.linked || ["fault", "stopped"].includes(one.state) ? "bad" : "";
  return item;
}

export function showLink(linked, state) {
  alive = linked;
  if (!linked && !state?.ending) put("call", "");
  const lost = by("lost");
  const gone = (state?.launchers ?? []).filter((one) => !one.linked);
  lost.classList.toggle("calm", Boolean(state?.ending));
  if (state?.ending) {
    const why = state.cause ? ` (${state.cause})` : "";
    lost.textContent = `The lesson has ended: ${state.phase_words.toLowerCase()}${why}.`;
  } else if (!linked) {
    lost.textContent = "No link to the laptop. The launcher stops by itself when the laptop is "
      + "gone; if in doubt use the switch at the launcher.";
  } else if (gone.length && state.phase !== "connecting") {
    const names = gone.map((one) => one.name || "the launcher").join(", ");
    lost.textContent = `No link to ${names}. It stops by itself; use its own switch.`;
  } else {
    lost.textContent = "";
  }
  lost.hidden = lost.textContent === "";
}
