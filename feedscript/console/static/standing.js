// What stays until it changes: the exercise and what to watch for, who is on and next at each station,
// the last words, and the ball that is next and the one that left last.

import { showAims } from "./aims.js";
import { rungsOf } from "./rungs.js";
import { _, inTheirs } from "./words.js";

export const by = (id) => document.getElementById(id);

// The same words again are not written: a screen reader would read them out once more.
export function write(element, words) {
  if (element && element.textContent !== words) element.textContent = words;
}

export function showStanding(view) {
  showExercise(view.exercise);
  showAims(view);
  write(by("said"), view.said);
  const list = by("stations");
  while (list.children.length > view.stations.length) list.lastElementChild.remove();
  while (list.children.length < view.stations.length) {
    list.append(by("station").content.firstElementChild.cloneNode(true));
  }
  list.classList.toggle("several", view.stations.length > 1);
  view.stations.forEach((station, number) => fill(list.children[number], station, view));
}

// What the group works at.
function showExercise(one) {
  by("exercise").hidden = !one;
  write(by("exercise-title"), one ? _("{n} of {all}: {title}", {
    n: one.number, all: one.of, title: one.title,
  }) : "");
  write(by("aim"), one?.aim ? _("Aim: {words}", { words: one.aim }) : "");
  write(by("watch"), one?.watch ? _("Watch: {words}", { words: one.watch }) : "");
  showWays(one);
}

// How to make it easier or harder, on the coach's screen: one tap away, since space is dear there.
function showWays(one) {
  const ways = by("ways");
  if (!ways) return;
  ways.hidden = !(one?.easier || one?.harder);
  write(by("easier"), one?.easier ? _("Easier: {words}", { words: one.easier }) : "");
  write(by("harder"), one?.harder ? _("Harder: {words}", { words: one.harder }) : "");
}

by("ways")?.addEventListener("toggle", ({ target }) => {
  if (target.open) target.scrollIntoView({ block: "nearest" });
});

function fill(item, station, view) {
  const part = (name) => item.querySelector(`.${name}`);
  const here = (ball) => view.stations.length === 1 || ball.station === station.name;
  write(part("at"), station.name);
  write(part("on-words"), station.on_words);
  inTheirs(part("on-words"), view.players, station.on.split(", "));
  write(part("on"), station.on || "–");
  write(part("step"), rungsOf(view, station.on));
  write(part("next-words"), station.next_words);
  inTheirs(part("next-words"), view.players, [station.next_up]);
  write(part("next-up"), station.next_up || "–");
  write(part("said"), station.said);
  write(part("coming"), view.coming.find(here)?.feed ?? "");
  write(part("last"), view.gone.find(here)?.feed ?? "");
}
