// One court, for its group: who is on, who is next, what is said; and STOP for those who may.

import { show, showClock } from "./card.js";
import { Line, stop } from "./line.js";
import { _ } from "/static/words.js";

const host = decodeURIComponent(location.pathname.split("/").at(-1));
const by = (id) => document.getElementById(id);
const card = by("group");
let [court, names, linked] = [null, false, true];

function take(message) {
  if ("may_stop" in message) {
    names = message.names;
    by("stop").parentElement.hidden = !message.may_stop;
  }
  for (const one of message.courts ?? []) {
    court = one;
    court.came = performance.now();
    showOne();
  }
  if (message.hosts && !message.hosts.length) tell(_("There is no such court in the club."));
}

function showOne() {
  by("name").textContent = court.name;
  document.title = court.name;
  show(card, court, names);
  const { lesson } = court;
  card.querySelector(".call").textContent = lesson ? lesson.to_group || lesson.call : "";
  card.querySelector(".aim").textContent = lesson?.exercise?.aim ?? "";
  card.querySelector(".watch").textContent = lesson?.exercise?.watch ?? "";
  card.querySelector(".what").hidden = !lesson?.exercise;
}

function tell(words) {
  by("lost").textContent = words;
  by("lost").hidden = !words;
}

by("stop").addEventListener("click", async () => {
  card.querySelector(".stop-told").textContent = _("STOP goes to the club…");
  if (await stop(host)) return;
  tell(_("STOP for {court} did not reach the club. Go there, or press it again.", { court: court?.name ?? host }));
});

new Line(`/courts/live?court=${encodeURIComponent(host)}`, take, (now) => {
  linked = now;
  document.body.classList.toggle("old", !now);
  tell(now ? "" : _("No link to the club's server: what is shown is old. Who must stop a court goes there."));
});
setInterval(() => { if (court) showClock(card, court, linked); }, 250);
