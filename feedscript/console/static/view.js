// What both screens show of a lesson: who, how far, where the next ball goes.

import { drawCourt } from "./court.js";

const PHASES = {
  "connecting": "Connecting", "setting-up": "Set up", "arming": "Arm at the launcher",
  "showing": "Speed ball next", "watching": "Watch the ball", "judging": "Speed right?",
  "ready": "Ready", "running": "Running", "regrouping": "Regrouping", "held": "Held", "collecting": "Collect", "asking": "Question",
  "stopped": "Stopped", "disarming": "Ending", "finished": "Finished", "broken-off": "Broken off",
};

export const by = (id) => document.getElementById(id);

function minutes(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

export function show(state) {
  by("title").textContent = state.rehearsal ? `${state.title} (rehearsal)` : state.title;
  by("phase").textContent = PHASES[state.phase] ?? state.phase;
  const hitters = state.places.filter((place) => place.role === "hitter");
  by("on").textContent = hitters.map((place) => place.player).join(", ") || "–";
  by("next-up").textContent = state.next_up.slice(0, 2).join(", ") || "–";
  const most = state.balls_planned[1];
  by("balls").textContent = `${state.balls_left} of ${most} balls`;
  const hoppers = state.launchers.map((one) => one.hopper_balls).filter((n) => n !== null);
  by("hopper").textContent = hoppers.length ? `${hoppers.join(" + ")} in the hopper` : "";
  by("time").textContent = `${minutes(state.lesson_s)} of ${minutes(state.planned_s[1])}`;
  const call = state.calls.at(-1);
  const countIn = state.count_in_s;
  by("call").textContent = countIn !== null && countIn > 0.5
    ? `Ball in ${Math.ceil(countIn)}`
    : call && state.utc_s - call.utc_s < 8 ? call.text : "";
  drawCourt(by("court"), state);
}

export function showLink(linked, state) {
  const lost = by("lost");
  const gone = (state?.launchers ?? []).filter((one) => !one.linked);
  lost.textContent = !linked
    ? "No link to the laptop. The launcher stops by itself when the laptop is gone; "
      + "if in doubt use the switch at the launcher."
    : gone.length && !["connecting", "finished", "broken-off"].includes(state.phase)
      ? `No link to ${gone.map((one) => one.name).join(", ")}. Use the switch at the launcher.`
      : "";
  lost.hidden = lost.textContent === "";
}
