// The coach's screen: what to do now, what the balls became, and the stop.

import { mark, onTap } from "./court.js";
import { commandFor } from "./keys.js";
import { Link } from "./link.js";
import { stayAwake, whyItMaySleep } from "./awake.js";
import { age, by, minutes, news, put, sentence, show, showLink } from "./view.js";
import { hasVoice, playTone, silence, speak } from "./voice.js";

// The acts above the pad, as they lie: wide ones in a row of their own, the rest in one row.
const ACTS = [
  ["clear", "Nobody is in front: send the speed ball", "wide go"],
  ["seen", "The speed is right", "wide go"],
  ["wrong", "The speed is not right", "wide hold"],
  ["collected", "All balls are collected", "wide go"],
  ["set-up-again", "Set up again", "wide go"],
  ["quit", "End the lesson", "wide hold"],
  ["again", "Again", ""], ["go-on", "Go on", "go"], ["hold", "Hold", "hold"], ["skip", "Skip", ""],
];
// Where a lesson may be ended without stopping it first.
const MAY_END = ["stopped", "finished", "broken-off"];
const BEFORE_ANY_BALL = ["connecting", "setting-up", "arming"];
const STANDS_STILL = ["asking", "stopped"];
const SPEED_BALL = ["showing", "watching", "judging"];
// A tap that comes sooner after the question changed was meant for the one before.
const READ_MS = 400;
const REFUSAL_MS = 5000;
const HOLD_ENDS_SOON_S = 15;

let state = null;
let control = false;
let linked = false;
let asked = 0; // since when the present question stands
let refusal = null;

const link = new Link(take, (now) => {
  linked = now;
  showLink(linked, state);
  enable();
});

function take(message) {
  if ("control" in message && message.alive) {
    if (control !== message.control) {
      control = message.control;
      if (control) stayAwake();
      render();
    }
    by("take").textContent = message.holder && !control
      ? `Take control (held by ${message.holder})`
      : "Take control with this device";
  }
  if (message.refused) say(message.refused);
  if (message.state) {
    if (message.state.phase !== state?.phase) asked = performance.now();
    state = message.state;
    render();
  }
}

function say(refused) {
  refusal = refused;
  renderTrouble();
  clearTimeout(say.timer);
  say.timer = setTimeout(() => { refusal = null; renderTrouble(); }, REFUSAL_MS);
}

function order(command) {
  if (!link.send({ command })) showLink(false, state);
}

function act(name) {
  if (performance.now() - asked >= READ_MS) order({ do: "act", act: name });
  else say({ message: "that came before this could be read", help: "read, then tap again" });
}

function render() {
  if (!state) {
    enable();
    return;
  }
  show(state);
  showLink(linked, state);
  speak(state.calls);
  by("waits").textContent = state.waits_for;
  by("waits").classList.toggle("alarm", state.stopping);
  by("pace").textContent = state.pace_percent === 100 ? "" : `pace ${state.pace_percent} %`;
  const most = state.balls_planned[1];
  by("bar").setAttribute("aria-valuemax", most);
  by("bar").setAttribute("aria-valuenow", Math.min(state.balls_left, most));
  by("bar").firstElementChild.style.setProperty("width", `${(100 * state.balls_left) / (most || 1)}%`);
  renderTrouble();
  renderHold();
  renderRecorded();
  renderSteps();
  renderAsked();
  renderOffer();
  renderPlayers();
  enable();
}

function renderTrouble() {
  const told = refusal ?? (state ? news(state).at(-1) : null);
  put("trouble", told ? `${sentence(told.message)} ${sentence(told.help)}` : "");
}

function renderHold() {
  const left = state && linked && state.hold_s !== null ? state.hold_s - age(state) : null;
  put("hold-ends", left === null ? "" : `Becomes a stop in ${minutes(left)}`);
  by("hold-ends").classList.toggle("soon", left !== null && left < HOLD_ENDS_SOON_S);
}

function renderRecorded() {
  const count = (state.private?.counts ?? []).reduce((sum, one) => sum + one.balls, 0);
  const last = state.private?.last_record;
  const box = by("recorded");
  box.dataset.count = count;
  const marked = last && state.private.landings.some((one) => one.feed_id === last.feed_id);
  box.textContent = last
    ? `${mark(last.result)} Ball ${last.feed_id} ${last.result}${last.player ? `, ${last.player}` : ""}. `
      + (marked ? "Landing marked." : "Where? Tap the court.")
    : "";
}

// Lists with buttons in them are only built anew when they change: a tap that is under way while
// a new state comes must find its button.
function changed(box, ...what) {
  const now = JSON.stringify(what);
  if (box.dataset.shown === now) return false;
  box.dataset.shown = now;
  return true;
}

function renderSteps() {
  by("set-up").hidden = state.phase !== "setting-up";
  const list = by("steps");
  if (!changed(list, state.set_up, control)) return;
  const focused = document.activeElement?.dataset?.key;
  list.replaceChildren(...state.set_up.map((step) => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.key = step.key;
    button.textContent = step.words;
    button.setAttribute("aria-pressed", String(step.confirmed));
    button.disabled = !control || step.confirmed;
    button.addEventListener("click", () => order({ do: "confirm", key: step.key }));
    item.append(button);
    return item;
  }));
  if (focused) list.querySelector(`[data-key="${CSS.escape(focused)}"]`)?.focus();
  list.querySelector('[aria-pressed="false"]')?.scrollIntoView({ block: "nearest" });
}

function renderAsked() {
  const ball = state.asked_about[0];
  by("asked").hidden = !ball;
  const whom = ball?.player ? ` for ${ball.player}` : "";
  by("asked-words").textContent = ball ? `Ball ${ball.feed_id}: ${ball.feed}${whom}.` : "";
}

function renderOffer() {
  const offer = STANDS_STILL.includes(state.phase) ? null : state.private?.offer;
  const box = by("offer");
  if (!changed(box, offer)) return;
  if (!offer) {
    box.replaceChildren();
    return;
  }
  const noticed = document.createElement("p");
  noticed.textContent = `${offer.player ?? "Player"}: ${offer.noticed}. Ask, alone:`;
  const question = document.createElement("p");
  const strong = document.createElement("strong");
  strong.textContent = offer.question;
  question.append(strong);
  box.replaceChildren(noticed, question);
}

function renderPlayers() {
  const counts = state.private?.counts ?? [];
  const body = by("players").tBodies[0];
  if (!changed(body, state.players, counts, control)) return;
  const share = new Map(counts.map((one) => [one.player, one.share_in]));
  body.replaceChildren(...state.players.map((player) => {
    const row = document.createElement("tr");
    const made = share.get(player.name) ?? null;
    const name = player.left_handed ? `${player.name} (left)` : player.name;
    for (const words of [name, player.balls, made === null ? "–" : `${Math.round(100 * made)} %`]) {
      const cell = document.createElement("td");
      cell.textContent = words;
      row.append(cell);
    }
    const cell = document.createElement("td");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = player.here ? "Rests" : "Is back";
    button.setAttribute("aria-label", `${player.name} ${button.textContent.toLowerCase()}`);
    button.disabled = !control;
    button.addEventListener("click", () => order({
      do: "roster", change: player.here ? "rest" : "join", player: player.name,
      left_handed: player.left_handed,
    }));
    cell.append(button);
    row.append(cell);
    return row;
  }));
}

function enable() {
  const ready = linked && control && state !== null;
  const may = (name) => ready && state.allowed.includes(name)
    && (name !== "quit" || MAY_END.includes(state.phase));
  by("take").hidden = control;
  by("take").disabled = !linked; // a tap that goes nowhere must not look like one that counts
  const recorded = (state?.private?.counts ?? []).length > 0;
  by("pad").hidden = state !== null && (BEFORE_ANY_BALL.includes(state.phase)
    || (SPEED_BALL.includes(state.phase) && !recorded));
  for (const button of by("pad").querySelectorAll("[data-result], #undo")) button.disabled = !ready;
  for (const button of by("pad").querySelectorAll("[data-act]")) {
    button.disabled = !may(button.dataset.act);
  }
  for (const button of by("acts").children) {
    button.disabled = !may(button.dataset.act);
    button.hidden = button.disabled;
  }
  for (const id of ["tone", "joins", "it-left", "it-stayed", "pair-viewer", "pair-coach", "hand-over"]) {
    by(id).disabled = !ready;
  }
}

function flash(button) {
  button.classList.add("hit");
  setTimeout(() => button.classList.remove("hit"), 160);
  navigator.vibrate?.(20);
}

function record(result) {
  order({ do: "record", result });
  flash(by("pad").querySelector(`[data-result="${result}"]`));
}

async function stop(emergency) {
  flash(by(emergency ? "power-off" : "stop"));
  if (!await link.stop(emergency)) {
    by("lost").textContent = "STOP was not received yet. Use the switch at the launcher.";
    by("lost").hidden = false;
  }
}

function build() {
  by("acts").replaceChildren(...ACTS.map(([name, words, kind]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.act = name;
    button.className = kind;
    button.textContent = words;
    return button;
  }));
  for (const button of document.querySelectorAll("[data-act]")) {
    button.addEventListener("click", () => act(button.dataset.act));
  }
  for (const button of by("pad").querySelectorAll("[data-result]")) {
    button.addEventListener("click", () => record(button.dataset.result));
  }
  onTap(by("court"), (landing_m) => {
    const last = state?.private?.last_record;
    if (last && control) order({ do: "landing", landing_m, feed_id: last.feed_id });
  });
  by("undo").addEventListener("click", () => order({ do: "take-back" }));
  by("tone").addEventListener("click", () => order({ do: "played-tone", ago_s: playTone() }));
  by("mute").addEventListener("click", (event) => {
    const quiet = event.target.getAttribute("aria-pressed") !== "true";
    event.target.setAttribute("aria-pressed", String(quiet));
    event.target.textContent = quiet ? "Voice off" : "Voice on";
    silence(quiet);
  });
  by("join").addEventListener("submit", (event) => {
    event.preventDefault();
    const player = by("new-name").value.trim();
    if (!player) return;
    order({ do: "roster", change: "join", player, left_handed: by("new-left").checked });
    event.target.reset();
  });
  by("it-left").addEventListener("click", () => answer(true));
  by("it-stayed").addEventListener("click", () => answer(false));
  by("take").addEventListener("click", () => link.send({ control: true }));
  by("hand-over").addEventListener("click", () => link.send({ control: false }));
  by("pair-viewer").addEventListener("click", () => newCode(true));
  by("pair-coach").addEventListener("click", () => newCode(false));
  by("stop").addEventListener("click", () => stop(false));
  by("power-off").addEventListener("click", () => stop(true));
  by("more").addEventListener("toggle", tellLimits);
  tellLimits();
  document.addEventListener("keydown", onKey);
}

// What this device cannot do; its voices may be known only after a while.
function tellLimits() {
  const voice = hasVoice() ? "" : "This device has no voice of its own, so calls are only shown. ";
  by("awake").textContent = voice + whyItMaySleep();
}

function answer(left) {
  const ball = state?.asked_about[0];
  if (ball) order({ do: "answer", feed_id: ball.feed_id, left });
}

// Yes, to what is asked: the next step of the set-up, or the green button.
function yes() {
  const step = state.phase === "setting-up" ? by("steps").querySelector("button:enabled") : null;
  (step ?? by("acts").querySelector(".go:enabled"))?.click();
}

function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  const button = event.target.closest("button, summary");
  if (event.target.closest("input") && event.key !== "Escape") return;
  if (button && (event.key === " " || event.key === "Enter")) return;
  const meant = commandFor(event.key, state);
  if (meant === null) return;
  event.preventDefault();
  if (meant.act === "stop" || meant.act === "emergency-stop") stop(meant.act !== "stop");
  else if (meant.act) act(meant.act);
  else if (meant.result) record(meant.result);
  else if (meant.left !== undefined) answer(meant.left);
  else if (meant.yes) yes();
  else order({ do: "take-back" });
}

async function newCode(viewer) {
  const box = by("codes");
  try {
    const reply = await fetch("/codes", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ viewer }),
    });
    const said = await reply.json();
    if (!reply.ok) {
      box.textContent = said.refused?.message ?? "no code was given";
      return;
    }
    const words = document.createElement("b");
    words.textContent = said.code;
    const picture = new DOMParser().parseFromString(said.qr, "image/svg+xml").documentElement;
    picture.setAttribute("role", "img");
    picture.setAttribute("aria-label", `QR code of the code ${said.code}`);
    box.replaceChildren(picture, document.createElement("br"), words);
    box.scrollIntoView({ block: "nearest" });
  } catch {
    box.textContent = "the laptop does not answer";
  }
}

build();
// What goes by the clock alone, between two states.
setInterval(() => { renderTrouble(); renderHold(); }, 250);
