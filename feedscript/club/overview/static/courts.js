// Every court at a glance: to look, and to stop.

import { show, showClock, silence } from "./card.js";
import { Line, stop } from "./line.js";
import { _, n_ } from "/static/words.js";

const by = (id) => document.getElementById(id);
const courts = new Map(); // a court's name at the club: what came last, and its card
let [names, mayStop, linked] = [false, false, true];

function made(host) {
  const card = by("court").content.firstElementChild.cloneNode(true);
  card.querySelector("h2 a").href = `/courts/${encodeURIComponent(host)}`;
  card.querySelector(".stop").addEventListener("click", () => pressed(host));
  return card;
}

async function pressed(host) {
  const { card, court } = courts.get(host);
  card.querySelector(".stop-told").textContent = _("STOP goes to the club…");
  if (await stop(host)) return;
  tell(_("STOP for {court} did not reach the club. Go there, or press it again.", { court: court.name }));
}

function take(message) {
  if ("may_stop" in message) [mayStop, names] = [message.may_stop, message.names];
  by("groups").hidden = !names; // who may not see names has no groups
  for (const court of message.courts ?? []) {
    court.came = performance.now();
    const card = courts.get(court.host)?.card ?? made(court.host);
    courts.set(court.host, { card, court });
    const link = card.querySelector("h2 a");
    if (link.textContent !== court.name) link.textContent = court.name;
    const button = card.querySelector(".stop");
    button.hidden = !mayStop;
    button.setAttribute("aria-label", _("STOP {court}", { court: court.name }));
    show(card, court, names);
  }
  if (message.hosts) place(message.hosts);
}

// Each court keeps its place; those that are gone go.
function place(hosts) {
  for (const [host, { card }] of courts) {
    if (hosts.includes(host)) continue;
    card.remove();
    courts.delete(host);
  }
  hosts.forEach((host, at) => {
    const list = by("courts");
    const { card } = courts.get(host);
    if (list.children[at] !== card) list.insertBefore(card, list.children[at] ?? null);
  });
  by("none").hidden = hosts.length > 0;
  sum();
}

function sum() {
  const all = [...courts.values()].map(({ court }) => court);
  const count = (tone) => all.filter((court) => court.tone === tone).length;
  const words = [
    n_("{n} plays", "{n} play", count("plain")),
    count("stopping") ? n_("{n} is stopping", "{n} are stopping", count("stopping")) : "",
    count("alarm") ? n_("{n} needs somebody", "{n} need somebody", count("alarm")) : "",
    all.some(silence) ? n_("{n} is not heard", "{n} are not heard", all.filter(silence).length) : "",
  ].filter(Boolean).join(" · ");
  if (by("sum").textContent !== words) by("sum").textContent = words;
}

function tell(words) {
  by("lost").textContent = words;
  by("lost").hidden = !words;
}

function changed(now) {
  linked = now;
  document.body.classList.toggle("old", !now);
  tell(now ? "" : _("No link to the club's server: what is shown is old. Who must stop a court goes there."));
}

new Line("/courts/live", take, changed);
setInterval(() => {
  for (const { card, court } of courts.values()) showClock(card, court, linked);
}, 250);
