// One court's card. What is said of phases, launchers and a STOP comes with it, in the page's language.

import { _, day, n_, p_, timeOfDay } from "/static/words.js";

export function minutes(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

// The time alone where it is today's.
function when(utc_s) {
  const at = new Date(utc_s * 1000), time = timeOfDay(at);
  return at.toDateString() === new Date().toDateString() ? time : `${day(at)} ${time}`;
}

function write(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

function items(list, texts, dress = () => "") {
  const made = texts.map((text, at) => {
    const item = document.createElement("li");
    item.textContent = text;
    item.className = dress(at);
    return item;
  });
  list.replaceChildren(...made);
  list.hidden = !texts.length;
}

// Since when nothing is heard; "" where it is.
export function silence(court) {
  if (court.heard) return "";
  if (!court.since_utc_s) return _("Never heard yet");
  return _("Not heard since {time}", { time: when(court.since_utc_s) });
}

function phase(court) {
  const { lesson } = court;
  if (court.unread) return _("Lesson");
  if (!lesson) return court.heard ? _("No lesson") : "";
  return court.heard || lesson.ended ? lesson.words : _("Last: {phase}", { phase: lesson.words });
}

function station(one, names) {
  if (!names) return "";
  const on = one.name ? one.on : one.on && p_("who", "On: {name}", { name: one.on });
  const next = one.next_up && p_("who", "next: {name}", { name: one.next_up });
  const who = [on, next].filter(Boolean).join(", ");
  return [one.name, who].filter(Boolean).join(": ");
}

function launcher(one) {
  const state = [one.name, one.words].filter(Boolean).join(": ");
  return one.in_hopper === null ? state : `${state}, ${n_("{n} ball in it", "{n} balls in it", one.in_hopper)}`;
}

export function show(card, court, names) {
  const part = (name) => card.querySelector(`.${name}`);
  const { lesson } = court;
  card.dataset.tone = court.tone;
  card.classList.toggle("unheard", !court.heard);
  write(part("phase"), phase(court));
  write(part("since"), silence(court));
  write(part("stop-told"), court.stop?.words ?? "");
  card.dataset.stop = court.stop?.state ?? "";
  const title = lesson?.rehearsal ? _("Rehearsal: {title}", { title: lesson.title }) : lesson?.title;
  write(part("title"), court.unread || title || "");
  const { exercise } = lesson ?? {};
  write(part("exercise"), exercise ? _("{number} of {of}: {title}", exercise) : "");
  items(part("on"), (lesson?.stations ?? []).map((one) => station(one, names)).filter(Boolean));
  write(part("balls"), lesson ? n_("{left} of {n} ball", "{left} of {n} balls", lesson.balls_most, {
    left: lesson.balls,
  }) : "");
  const launchers = lesson?.launchers ?? [];
  items(part("launchers"), launchers.map(launcher), (at) => (launchers[at].alarm ? "bad" : ""));
  items(part("faults"), lesson?.faults ?? []);
  write(part("waiting"), court.waiting > 0 && court.heard
    ? n_("{n} event not sent yet", "{n} events not sent yet", court.waiting) : "");
  showClock(card, court, true);
}

// The clock goes on between messages; it stands while nobody knows what the lesson does.
export function showClock(card, court, linked) {
  const { lesson } = court;
  const clock = card.querySelector(".clock");
  card.querySelector(".hour").hidden = !lesson;
  if (!lesson) return;
  if (!linked && clock.textContent) return;
  const gone = lesson.goes_on ? (performance.now() - court.came) / 1000 : 0;
  const run = lesson.run_s + gone;
  write(clock, lesson.planned_s === null ? minutes(run)
    : _("{time} of {whole}", { time: minutes(run), whole: minutes(lesson.planned_s) }));
  const bar = card.querySelector(".bar");
  bar.hidden = lesson.planned_s === null;
  bar.classList.toggle("over", lesson.planned_s !== null && run > lesson.planned_s);
  bar.firstElementChild.style.width = `${Math.min(100, (100 * run) / (lesson.planned_s || 1))}%`;
}
