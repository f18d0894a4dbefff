// The coach's screen: what to do now, what the balls became, and the stop. Its words and buttons come
// with the view.

import { Controls, flash } from "./controls.js";
import { Landing } from "./landing.js";
import { Link } from "./link.js";
import { stayAwake } from "./awake.js";
import { offerReview } from "./review.js";
import { Measure } from "./measure.js";
import { buildMore, renderExercises, renderPlayers } from "./more.js";
import { renderRungs } from "./rungs.js";
import { showHour } from "./hour.js";
import { showRequest } from "./request.js";
import { choose, chosenStand, offerStands } from "./stand.js";
import { stayWhile } from "./stay.js";
import { age, by, minutes, news, put, sentence, show, showLink } from "./view.js";
import { speak } from "./voice.js";
import { offerStations, ofStation } from "./whose.js";
import { _, inTheirs } from "./words.js";

const REFUSAL_MS = 5000;
// The second tap of two on the picture of landings falls on the pad, and is not meant for it.
const SECOND_TAP_MS = 400;

let view = null;
let control = false; // whether this device may command
let linked = false;
let question = ""; // what may be answered now
let asked = 0; // and since when
let refusal = null;

const controls = new Controls(press);
const landing = new Landing((feed_id, landing_m) => order({ do: "landing", landing_m, feed_id }));
const measure = new Measure(order, landing);
const link = new Link(take, (now) => {
  linked = now;
  showLink(linked, view, link.unreceived);
  enable();
  if (view) offerReview(view, linked);
});

function take(message) {
  if ("control" in message && message.alive) takeControl(message);
  if (message.refused) say(message.refused);
  if (message.view) {
    view = message.view;
    const now = JSON.stringify(view.controls.filter((one) => one.to_be_read && one.shown)
      .map((one) => one.command));
    if (now !== question) [question, asked] = [now, performance.now()];
    render();
  }
}

function takeControl(message) {
  if (control !== message.control) {
    control = message.control;
    if (control) stayAwake();
    render();
  }
  by("take").textContent = message.holder && !control
    ? _("Take control (held by {name})", { name: message.holder })
    : _("Take control with this device");
}

function say(refused) {
  refusal = refused;
  renderTrouble();
  clearTimeout(say.timer);
  say.timer = setTimeout(() => { refusal = null; renderTrouble(); }, REFUSAL_MS);
}

function order(command) {
  if (!link.send({ command: ofStation(command) })) showLink(false, view, link.unreceived);
}

function press(pressed) {
  if (pressed.area === "pad" && performance.now() - landing.closed < SECOND_TAP_MS) {
    say({ message: view.conventions.too_soon });
    return;
  }
  flash(pressed.name);
  if (pressed.area === "stop") link.stop(pressed.name !== "stop");
  else if (pressed.at_once) order(pressed.command);
  else if (pressed.why_not) say({ message: pressed.why_not });
  else if (pressed.to_be_read && performance.now() - asked < 1000 * view.conventions.read_s) {
    say({ message: view.conventions.too_soon });
  } else order(pressed.command);
}

function render() {
  enable();
  if (!view) return;
  const stand = chosenStand(view);
  offerStands(by("stand"), view);
  show(view, view.stopping ? view.to_group : "", stand);
  showLink(linked, view, link.unreceived);
  speak(view.calls);
  by("waits").textContent = view.waits_for;
  by("waits").classList.toggle("alarm", view.stopping);
  by("pace").textContent = view.pace_percent === 100 ? "" : _("pace {percent} %", { percent: view.pace_percent });
  renderBar();
  renderTrouble();
  renderHold();
  showRequest(view);
  showHour(view, true);
  offerStations(view);
  renderRecorded(stand);
  measure.show(view, linked && control);
  renderSteps();
  renderQuestion();
  renderOffer();
  renderPlayers(view, control, order);
  offerReview(view, linked);
  renderExercises(view, control, order);
  renderRungs(view, control, order);
}

function renderBar() {
  const most = view.balls_planned[1];
  by("bar").setAttribute("aria-valuemax", most);
  by("bar").setAttribute("aria-valuenow", Math.min(view.balls_left, most));
  by("bar").firstElementChild.style.setProperty("width", `${(100 * view.balls_left) / (most || 1)}%`);
}

function renderTrouble() {
  const told = refusal ?? (view ? news(view).at(-1) : null);
  put("trouble", told ? `${sentence(told.message)} ${sentence(told.help)}`.trim() : "");
}

function renderHold() {
  const left = view && linked && view.hold_s !== null ? view.hold_s - age(view) : null;
  put("hold-ends", left === null ? "" : _("Becomes a stop in {time}", { time: minutes(left) }));
  by("hold-ends").classList.toggle("soon",
    left !== null && left < view.conventions.hold_ends_soon_s);
}

function renderRecorded(stand) {
  const { counts, last_record: last, landings } = view.private;
  by("recorded").dataset.count = counts.reduce((sum, one) => sum + one.balls, 0);
  const marked = last && landings.some((one) => one.feed_id === last.feed_id);
  put("recorded", last ? [recorded(last), marked && _("Landing marked.")].filter(Boolean).join(" ") : "");
  by("where").hidden = !last || marked;
  landing.show(view, stand, last ? recorded(last) : "");
}

function recorded(ball) {
  const { mark, label } = controls.named(ball.result);
  const parts = { mark, label, n: ball.feed_id, player: ball.player };
  return ball.player ? _("{mark} Ball {n}: {label}, {player}.", parts)
    : _("{mark} Ball {n}: {label}.", parts);
}

function askWhere() {
  if (view?.private.fed && control && linked) {
    measure.ask();
    return;
  }
  const last = view?.private.last_record;
  if (!last || !control || !linked) return;
  landing.ask(last);
  render();
}

// Lists with buttons in them are only built anew when they change: a tap that is under way while
// a new view comes must find its button.
function changed(box, ...what) {
  const now = JSON.stringify(what);
  if (box.dataset.shown === now) return false;
  box.dataset.shown = now;
  return true;
}

function renderSteps() {
  by("set-up").hidden = view.set_up.length === 0;
  by("looks-on").hidden = control;
  const list = by("steps");
  if (!changed(list, view.set_up, control)) return;
  const focused = document.activeElement?.dataset?.key;
  list.replaceChildren(...view.set_up.map(step));
  if (focused) list.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus();
  list.querySelector('[aria-pressed="false"]')?.scrollIntoView({ block: "nearest" });
}

function step(one) {
  const item = document.createElement("li");
  const button = document.createElement("button");
  button.type = "button";
  button.dataset.key = one.key;
  button.textContent = one.words;
  button.setAttribute("aria-pressed", String(one.confirmed));
  button.disabled = !control || one.confirmed;
  button.addEventListener("click", () => order({ do: "confirm", key: one.key }));
  item.append(button);
  return item;
}

function renderQuestion() {
  const ball = view.asked_about[0];
  by("asked-words").textContent = ball ? inQuestion(ball) : "";
}

function inQuestion(ball) {
  const parts = { n: ball.feed_id, feed: ball.feed, player: ball.player };
  return ball.player ? _("Ball {n}: {feed} for {player}.", parts) : _("Ball {n}: {feed}.", parts);
}

function renderOffer() {
  const offer = view.private.offer;
  by("offer").hidden = !offer;
  put("noticed", offer ? _("{player}: {noticed}. Ask, alone:", {
    player: offer.player ?? _("Player"), noticed: offer.noticed,
  }) : "");
  put("to-ask", offer?.question ?? "");
  inTheirs(by("to-ask"), view.players, [offer?.player]);
}

function enable() {
  const ready = linked && control && view !== null;
  by("take").hidden = control;
  by("take").disabled = !linked; // a tap that goes nowhere must not look like one that counts
  if (view) controls.show(view, chosenStand(view), ready);
  for (const button of document.querySelectorAll(".in-control")) {
    button.disabled = !ready || Boolean(button.dataset.whyNot);
  }
  if (!ready && landing.open) landing.close();
}

buildMore(link, order);
stayWhile(() => !view?.ended, () => { if (landing.open) landing.close(); });
by("take").addEventListener("click", () => link.send({ control: true }));
by("court").addEventListener("click", askWhere);
by("where").addEventListener("click", askWhere);
by("stand").addEventListener("change", () => {
  choose(by("stand").value);
  render();
});
// What goes by the clock alone, between two views.
setInterval(() => {
  renderTrouble();
  renderHold();
  showRequest(view);
  showHour(linked ? view : null, true);
}, 250);
