// On which step of a progression each player stands: before their first ball it can be changed.

import { _ } from "./words.js";

const by = (id) => document.getElementById(id);

let shown = "";

// The list is built anew only when it changes: a tap under way must find what it was on.
export function renderRungs(view, control, order) {
  const rungs = view.private.rungs.filter((one) => one.may_be_set);
  const now = JSON.stringify([rungs, control]);
  if (now === shown) return;
  shown = now;
  by("rungs").hidden = rungs.length === 0;
  by("rungs").firstElementChild.replaceChildren(...rungs.map((one) => item(one, control, order)));
}

// The steps of one player in words; nothing for one without any, and on a screen for the group.
export function rungsOf(view, player) {
  const theirs = view.private?.rungs.filter((one) => one.player === player) ?? [];
  return theirs.map((one) => _("{feed} ({n} of {all})", {
    feed: one.rungs[one.rung], n: one.rung + 1, all: one.rungs.length,
  })).join(", ");
}

function item(one, control, order) {
  const made = document.createElement("li");
  const who = document.createElement("span");
  who.textContent = _("{player}, {progression}:", one);
  made.append(who, " ", choice(one, control, order));
  if (one.as_last_time) made.append(" ", _("as last time"));
  return made;
}

function choice(one, control, order) {
  const select = document.createElement("select");
  select.setAttribute("aria-label", _("{player}, {progression}:", one));
  select.append(...one.rungs.map((feed, number) => new Option(feed, number)));
  select.value = one.rung;
  select.disabled = !control;
  select.addEventListener("change", () => {
    const rung = Number(select.value);
    select.value = one.rung; // what is chosen stands once the lesson has taken it
    order({ do: "rung", player: one.player, progression: one.progression, rung });
  });
  return select;
}
