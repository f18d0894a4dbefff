// What is not needed for every ball: the group, the voice, other devices.

import { whyItMaySleep } from "./awake.js";
import { keep, kept } from "./kept.js";
import { headers } from "./page_key.js";
import { rungsOf } from "./rungs.js";
import { by } from "./view.js";
import { hasVoice, playTone, silence } from "./voice.js";
import { _, n_ } from "./words.js";

const VOICE = "voice";

function mute(quiet) {
  by("mute").setAttribute("aria-pressed", String(quiet));
  by("mute").textContent = quiet ? _("Voice off") : _("Voice on");
  silence(quiet);
}

export function buildMore(link, order) {
  by("tone").addEventListener("click", () => order({ do: "played-tone", ago_s: playTone() }));
  by("mute").addEventListener("click", () => {
    const quiet = by("mute").getAttribute("aria-pressed") !== "true";
    keep(VOICE, quiet ? "off" : "on");
    mute(quiet);
  });
  if (kept(VOICE) === "off") mute(true);
  by("join").addEventListener("submit", (event) => {
    event.preventDefault();
    const player = by("new-name").value.trim();
    if (!player) return;
    joining = player;
    order({ do: "roster", change: "join", player, left_handed: by("new-left").checked });
  });
  by("hand-over").addEventListener("click", () => link.send({ control: false }));
  by("pair-viewer").addEventListener("click", () => newCode(true));
  by("pair-coach").addEventListener("click", () => newCode(false));
  by("more").addEventListener("toggle", tellLimits);
  tellLimits();
}

// What this device cannot do; its voices may be known only after a while.
function tellLimits() {
  const voice = hasVoice()
    ? "" : _("This device has no voice of its own, so calls are only shown.");
  by("awake").textContent = [voice, whyItMaySleep()].filter(Boolean).join(" ");
}

let exercises = "";

// Going to another exercise: the lesson collects first and is armed again.
export function renderExercises(view, control, order) {
  const now = JSON.stringify([view.exercises, control]);
  if (now === exercises) return;
  exercises = now;
  by("exercises").replaceChildren(...view.exercises.map((one) => {
    const item = document.createElement("li");
    const go = document.createElement("button");
    go.type = "button";
    go.className = "in-control";
    go.textContent = _("Go to {n}: {title}", { n: one.number, title: one.title });
    go.title = one.why_not;
    go.dataset.whyNot = one.why_not;
    go.disabled = !control || Boolean(one.why_not);
    go.addEventListener("click", () => order({ do: "exercise", number: one.number }));
    item.append(go);
    return item;
  }));
}

// The table is built anew only when it changes: a tap under way must find its button.
let shown = "";

let joining = ""; // a name stays where it was typed until the lesson has taken it

function joined(players) {
  if (!joining || !players.some((one) => one.name === joining)) return;
  if (by("new-name").value.trim() === joining) by("join").reset();
  joining = "";
}

export function renderPlayers(view, control, order) {
  joined(view.players);
  const counts = view.private.counts;
  const now = JSON.stringify([view.players, counts, view.private.rungs, control]);
  if (now === shown) return;
  shown = now;
  const share = new Map(counts.map((one) => [one.player, one.share_in]));
  by("players").tBodies[0].replaceChildren(...view.players.map(
    (player) => row(
      player, rungsOf(view, player.name), share.get(player.name) ?? null, control, view.conventions, order,
    ),
  ));
}

function row(player, step, share, control, conventions, order) {
  const made = document.createElement("tr");
  const name = player.left_handed
    ? _("{player} (left-handed)", { player: player.name }) : player.name;
  const who = step ? `${name}: ${step}` : name;
  const balls = player.to_come ? `${player.balls}, ${toCome(player.to_come)}` : player.balls;
  for (const words of [who, balls, share === null ? "–" : `${Math.round(100 * share)} %`]) {
    made.insertCell().textContent = words;
  }
  made.insertCell().append(presence(player, control, conventions, order));
  return made;
}

// In the exercise that is on.
function toCome(one) {
  return one.exact ? n_("{n} to come", "{n} to come", one.balls)
    : n_("at most {n} to come", "at most {n} to come", one.balls);
}

// Here, sits out, gone. What is chosen stands once the lesson has taken it.
function presence(player, control, conventions, order) {
  const select = document.createElement("select");
  select.setAttribute("aria-label", player.name);
  select.append(...Object.entries(conventions.presence_words).map(([name, words]) => {
    const option = new Option(words, name);
    option.disabled = !player.may_be.includes(name);
    return option;
  }));
  select.value = player.presence;
  select.disabled = !control;
  select.addEventListener("change", () => {
    const change = conventions.presences[select.value];
    select.value = player.presence;
    order({ do: "roster", change, player: player.name, left_handed: player.left_handed });
  });
  return select;
}

async function newCode(viewer) {
  const box = by("codes");
  try {
    const reply = await fetch("/codes", {
      method: "POST",
      headers: headers(),
      body: JSON.stringify({ viewer }),
    });
    const said = await reply.json();
    if (reply.ok) showCode(box, said);
    else box.textContent = said.refused?.message ?? _("no code was given");
  } catch {
    box.textContent = _("the laptop does not answer");
  }
}

function showCode(box, said) {
  const words = document.createElement("b");
  words.textContent = said.code;
  const picture = new DOMParser().parseFromString(said.qr, "image/svg+xml").documentElement;
  picture.setAttribute("role", "img");
  picture.setAttribute("aria-label", _("QR code of the code {code}", said));
  box.replaceChildren(picture, document.createElement("br"), words);
  box.scrollIntoView({ block: "nearest" });
}
