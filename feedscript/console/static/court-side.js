// The coach's screen: what to do now, what the balls became, and the stop.

import { mark } from "./court.js";
import { Link } from "./link.js";
import { by, show, showLink } from "./view.js";
import { playTone, silence, speak } from "./voice.js";

// The acts in the order a hand reaches for them; `wide` ones span the row.
const ACTS = [
  ["clear", "Nobody is in front: send the speed ball", "wide"],
  ["seen", "The speed is right", "wide"],
  ["wrong", "The speed is not right", "wide hold"],
  ["collected", "All balls are collected", "wide"],
  ["set-up-again", "Set up again", "wide"],
  ["go-on", "Go on", "wide"],
  ["hold", "Hold", "wide hold"],
  ["again", "Again", ""], ["next", "Next", ""], ["slower", "Slower", ""], ["faster", "Faster", ""],
];

const BEFORE_ANY_BALL = ["connecting", "setting-up", "arming"];

let state = null;
let control = false;
let linked = false;

const link = new Link(take, (now) => {
  linked = now;
  showLink(linked, state);
  enable();
});

function take(message) {
  if ("control" in message && message.alive) {
    if (control !== message.control) {
      control = message.control;
      render();
    }
    by("take").textContent = message.holder && !control
      ? `Take control (held by ${message.holder})`
      : "Take control with this device";
  }
  if (message.refused) say(message.refused);
  if (message.state) {
    state = message.state;
    render();
  }
}

function say(refused) {
  by("trouble").textContent = `${refused.message}. ${refused.help}`;
  clearTimeout(say.timer);
  say.timer = setTimeout(render, 4000);
}

function order(command) {
  if (!link.send({ command })) showLink(false, state);
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
  const trouble = state.troubles.at(-1);
  by("trouble").textContent = trouble ? `${trouble.message}. ${trouble.help}` : "";
  const most = state.balls_planned[1];
  by("bar").setAttribute("aria-valuemax", most);
  by("bar").setAttribute("aria-valuenow", state.balls_left);
  by("bar").firstElementChild.style.setProperty("width", `${(100 * state.balls_left) / (most || 1)}%`);
  renderRecorded();
  renderSteps();
  renderAsked();
  renderOffer();
  renderPlayers();
  enable();
}

function renderRecorded() {
  const count = (state.private?.counts ?? []).reduce((sum, one) => sum + one.balls, 0);
  const last = state.gone.find((ball) => ball.result);
  const box = by("recorded");
  box.dataset.count = count;
  box.textContent = last
    ? `${count} recorded; ball ${last.ball_no}: ${mark(last.result)} ${last.result}`
      + (last.player ? `, ${last.player}` : "")
    : "";
}

function renderSteps() {
  by("set-up").hidden = state.phase !== "setting-up";
  const list = by("steps");
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
}

function renderAsked() {
  const ball = state.asked_about[0];
  by("asked").hidden = !ball;
  if (ball) {
    by("asked-words").textContent =
      `The launcher does not know whether ball ${ball.ball_no} (${ball.feed}) left. Did it?`;
  }
}

function renderOffer() {
  const offer = state.private?.offer;
  const box = by("offer");
  if (!offer) {
    box.replaceChildren();
    return;
  }
  if (box.dataset.number === String(offer.number) && box.childElementCount) return;
  box.dataset.number = offer.number;
  const noticed = document.createElement("p");
  noticed.textContent = `${offer.player ?? "Player"}: ${offer.noticed}. You might ask, alone:`;
  const question = document.createElement("p");
  const strong = document.createElement("strong");
  strong.textContent = offer.question;
  question.append(strong);
  box.replaceChildren(noticed, question);
}

function renderPlayers() {
  const counts = new Map((state.private?.counts ?? []).map((one) => [one.player, one]));
  by("players").tBodies[0].replaceChildren(...state.players.map((player) => {
    const count = counts.get(player.name);
    const row = document.createElement("tr");
    const share = count && count.share_in !== null ? `${Math.round(100 * count.share_in)} %` : "–";
    for (const words of [player.name, player.balls, share]) {
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
    }));
    cell.append(button);
    row.append(cell);
    return row;
  }));
}

function enable() {
  const ready = linked && control && state !== null;
  by("take").hidden = control;
  by("pad").hidden = state !== null && BEFORE_ANY_BALL.includes(state.phase);
  for (const button of by("pad").querySelectorAll("[data-result], #undo, #tone")) {
    button.disabled = !ready;
  }
  by("skip").disabled = !ready || !state.allowed.includes("skip");
  for (const button of by("acts").children) {
    const may = ready && state.allowed.includes(button.dataset.act);
    button.disabled = !may;
    button.hidden = button.classList.contains("wide") && !may;
  }
  for (const id of ["it-left", "it-stayed", "pair-viewer", "pair-coach", "hand-over"]) {
    by(id).disabled = !ready;
  }
}

function flash(button) {
  button.classList.add("hit");
  setTimeout(() => button.classList.remove("hit"), 160);
  navigator.vibrate?.(20);
}

function build() {
  by("acts").replaceChildren(...ACTS.map(([act, words, kind]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.act = act;
    button.className = kind;
    button.textContent = words;
    button.addEventListener("click", () => order({ do: "act", act }));
    return button;
  }));
  for (const button of by("pad").querySelectorAll("[data-result]")) {
    button.addEventListener("click", () => {
      order({ do: "record", result: button.dataset.result });
      flash(button);
    });
  }
  by("undo").addEventListener("click", () => order({ do: "take-back" }));
  by("skip").addEventListener("click", () => order({ do: "act", act: "skip" }));
  by("tone").addEventListener("click", () => order({ do: "played-tone", ago_s: playTone() }));
  by("mute").addEventListener("click", (event) => {
    const quiet = event.target.getAttribute("aria-pressed") !== "true";
    event.target.setAttribute("aria-pressed", String(quiet));
    event.target.textContent = quiet ? "Voice off" : "Voice on";
    silence(quiet);
  });
  by("it-left").addEventListener("click", () => answer(true));
  by("it-stayed").addEventListener("click", () => answer(false));
  by("take").addEventListener("click", () => { link.send({ control: true }); stayAwake(); });
  by("hand-over").addEventListener("click", () => link.send({ control: false }));
  by("pair-viewer").addEventListener("click", () => newCode(true));
  by("pair-coach").addEventListener("click", () => newCode(false));
  by("stop").addEventListener("click", () => link.stop(false));
  by("power-off").addEventListener("click", () => link.stop(true));
  document.addEventListener("keydown", onKey);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") stayAwake();
  });
}

function answer(left) {
  const ball = state?.asked_about[0];
  if (ball) order({ do: "answer", feed_id: ball.feed_id, left });
}

// A keyboard, or a clicker that acts as one: arrows as the court lies, space for in.
const KEYS = {
  ArrowUp: "long", ArrowDown: "net", ArrowLeft: "left", ArrowRight: "right", " ": "in", i: "in",
};

function onKey(event) {
  if (event.target.closest("input, summary, button") && event.key === " ") return;
  if (event.key === "Escape" || event.key === "s") link.stop(false);
  else if (event.key === "h") order({ do: "act", act: "hold" });
  else if (event.key === "g") order({ do: "act", act: "go-on" });
  else if (event.key === "u") order({ do: "take-back" });
  else if (KEYS[event.key]) order({ do: "record", result: KEYS[event.key] });
  else return;
  event.preventDefault();
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
    box.replaceChildren(picture, document.createElement("br"), words);
  } catch {
    box.textContent = "the laptop does not answer";
  }
}

// The screen stays on while this device holds control; a browser without wake locks is told apart
// by doing nothing, and the lesson goes on either way.
async function stayAwake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // refused, for instance on a low battery
  }
}

build();
