// The target, goals and score of the exercise that is on court: how each stands, as long as it is on.

import { _, inTheirs } from "./words.js";

const box = document.getElementById("aims");
const brief = document.getElementById("aims-now");
let shown = "";
let speakers = []; // the players of the view

// Built anew only when something changes: a screen reader would read it out each time.
export function showAims({ aims, stations, players }) {
  speakers = players;
  const on = stations.map((one) => one.on).filter(Boolean);
  const now = JSON.stringify([aims, on]);
  if (now === shown) return;
  shown = now;
  box.hidden = !aims;
  box.replaceChildren(...(aims ? [...target(aims), ...goals(aims), ...rows(aims), ...score(aims)] : []));
  if (brief) brief.textContent = aims ? inBrief(aims, on) : "";
}

// How those stand who are on, in a line: always in sight on the coach's screen. Where one is on,
// the name stands above.
function inBrief(aims, on) {
  const theirs = ({ player, players }) => (players ?? [player]).some((one) => !one || on.includes(one));
  const alone = on.length < 2;
  return [
    ...aims.goals.flatMap((goal) => goal.players.filter(theirs).map((one) => (one.met
      ? (alone ? _("✓ goal met") : one.words)
      : _("{tried} ({words})", { tried: alone ? one.made : one.words, words: goal.words })))),
    ...aims.rows.filter(theirs).map((one) => _("{n} in a row", { n: one.running })),
    ...aims.score.filter(theirs).map((side) => (alone && aims.launcher && !side.won && !side.lost
      ? _("{n} : {against}", { n: side.points, against: side.against }) : side.words)),
  ].join("; ");
}

function line(name, words = "") {
  const made = document.createElement("p");
  made.className = name;
  made.textContent = words;
  return made;
}

// Words about players come in their language, where all of them speak one.
function tell(element, words, players) {
  element.textContent = words;
  return inTheirs(element, speakers, players);
}

function target({ target: one }) {
  if (!one) return [];
  return [line("aimed-at", one.marked
    ? _("Target: {name}, {marked}", { name: one.name, marked: one.marked })
    : _("Target: {name}", { name: one.name }))];
}

// A goal, and a mark for each player: so many made, or met.
function goals({ goals: all }) {
  return all.flatMap((goal) => {
    const list = document.createElement("ul");
    list.append(...goal.players.map((one) => {
      const item = document.createElement("li");
      item.className = one.met ? "met" : "";
      tell(item, one.words, [one.player]);
      return item;
    }));
    return [line("goal", _("Goal: {words}", { words: goal.words })), list];
  });
}

function rows({ rows: all }) {
  return all.map((one) => tell(line("row"), one.words, [one.player]));
}

function score(aims) {
  if (!aims.scored) return [];
  const list = document.createElement("ul");
  list.append(...aims.score.map((side) => {
    const item = document.createElement("li");
    item.className = side.won ? "met" : "";
    tell(item, side.words, side.players);
    return item;
  }));
  return [line("goal", aims.to === null ? _("Score") : _("Score, to {n}", { n: aims.to })), list];
}
