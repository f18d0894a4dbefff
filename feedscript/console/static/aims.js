// The target, goals and score of the exercise that is on court: how each stands, as long as it is on.

import { _, listed } from "./words.js";

const box = document.getElementById("aims");
const brief = document.getElementById("aims-now");
let shown = "";

// Built anew only when something changes: a screen reader would read it out each time.
export function showAims({ aims, stations }) {
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
      ? (alone ? _("✓ goal met") : tried(one))
      : _("{tried} ({words})", { tried: alone ? one.made : tried(one), words: goal.words })))),
    ...aims.rows.filter(theirs).map((one) => _("{n} in a row", { n: one.running })),
    ...aims.score.filter(theirs).map((side) => (alone && aims.launcher && !side.won && !side.lost
      ? _("{n} : {against}", { n: side.points, against: side.against }) : sideWords(side, aims))),
  ].join("; ");
}

function tried(one) {
  const player = one.player || _("Everyone");
  return one.met ? _("✓ {player}: goal met", { player }) : _("{player}: {n}", { player, n: one.made });
}

function line(name, words) {
  const made = document.createElement("p");
  made.className = name;
  made.textContent = words;
  return made;
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
      item.textContent = tried(one);
      return item;
    }));
    return [line("goal", _("Goal: {words}", { words: goal.words })), list];
  });
}

function rows({ rows: all }) {
  return all.map((one) => line("row", _("{player}: {n} in a row", {
    player: one.player || _("Everyone"), n: one.running,
  })));
}

function sideWords(side, { launcher }) {
  const parts = {
    players: listed(side.players.map((player) => player || _("Everyone"))),
    n: side.points, against: side.against,
  };
  if (side.won) return _("✓ {players} won, {n} : {against}", parts);
  if (side.lost) return _("{players} {n} : {against}, the launcher won", parts);
  return launcher ? _("{players} {n} : {against} launcher", parts) : _("{players}: {n}", parts);
}

function score(aims) {
  if (!aims.scored) return [];
  const list = document.createElement("ul");
  list.append(...aims.score.map((side) => {
    const item = document.createElement("li");
    item.className = side.won ? "met" : "";
    item.textContent = sideWords(side, aims);
    return item;
  }));
  return [line("goal", aims.to === null ? _("Score") : _("Score, to {n}", { n: aims.to })), list];
}
