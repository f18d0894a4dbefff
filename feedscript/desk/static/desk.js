// The desk: which program is open, what is kept of it, and the words, picture and hour side by side.
import { openCourt } from "./court.js";
import { openEditor, openMerge } from "./editor.js";
import { settled } from "./drag.js";
import { drawWorst, openExpected } from "./expected.js";
import { listFindings } from "./findings.js";
import { address, bareName, isFixed } from "./names.js";
import { openGhosts } from "./ghost.js";
import { openHour } from "./hour.js";
import { drawGhost, drawPicture, listFeeds, thinned } from "./picture.js";
import { openPlayer } from "./play.js";
import { atRest, stir } from "./rest.js";
import { openSliders } from "./sliders.js";
import { startFromAQuestion } from "./start.js";
import { openSuggestions } from "./suggest.js";
import { openTrial } from "./tried.js";
import { headers, keyed } from "/static/page_key.js";
import { _, moment } from "/static/words.js";

const get = (id) => document.getElementById(id);
const SAVE_AFTER_MS = 800;
const SAVE_AGAIN_MS = 2000; // where nobody answered
const START = `feedscript 1
title "A new lesson"

court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club }

feed deep {
    land 3 m inside baseline, on centre line
    speed 80 km/h
    spin top 900 rpm
}

lesson of 30 min {
    show speed of deep
    exercise "Depth" for 10 min {
        aim "past the service line"
        for each player { repeat 6 { send deep after 5 s }  rest 12 s }
    }
}
`;

const desk = { open: null, editor: null, version: "", seen: null, chosen: null, area: null, saving: 0, dirty: false };

const atClub = document.body.dataset.served === "club";
const place = (name) => `/programs/${address(name)}`;

async function asked(path, options = {}) {
  const answer = await fetch(path, { headers: headers(), ...options });
  const told = await answer.json().catch(() => ({}));
  if (answer.status === 401) location.replace(atClub ? location.href : keyed("/"));
  return { status: answer.status, told };
}

// Where nobody answers: no status, and nothing told.
const answered = (path, options) => asked(path, options).catch(() => ({ status: 0, told: {} }));

const refusal = (told) => (told.refused ? `${told.refused.message}. ${told.refused.help ?? ""}` : _("The desk does not answer."));

// --- opening and saving

let opening = 0; // how often a program was chosen: the last one is opened, whichever comes first

async function open(name) {
  const mine = (opening += 1);
  let answer;
  do { // what is written while the other program is on its way is not left behind
    if (!(await allSaved())) return false; // why, has been said where it was not saved
    answer = await answered(place(name));
    if (mine !== opening) return false;
  } while (desk.dirty);
  const { status, told } = answer;
  if (status !== 200) {
    say(refusal(told), true);
    return false;
  }
  player.stop();
  trial.forget();
  hour.forget();
  sliders.show(null, null);
  expected.forget();
  tell(""); // what was offered there is of other words
  desk.editor?.close();
  Object.assign(desk, { open: told.name, version: told.version, seen: null, chosen: null, area: null, dirty: false });
  history.replaceState(null, "", `#${encodeURIComponent(told.name)}`);
  localStorage.setItem("feedscript.desk.open", told.name);
  // What is shown until the check has spoken is of the program before.
  get("verdict").className = "verdict";
  get("verdict").textContent = _("checking …");
  get("court").classList.add("stale");
  get("sheet").disabled = get("cards").disabled = true;
  for (const part of [player, trial]) part.may(false);
  const fixed = isFixed(told.name);
  get("title").textContent = bareName(told.name);
  get("to-club").hidden = fixed;
  get("to-club").href = `/mine/${address(told.name)}`;
  desk.editor = openEditor(get("editor"), { name: told.name, uri: told.uri, words: told.words, fixed }, {
    changed, seen, found, cursor, connection,
  });
  get("kept").replaceChildren();
  if (fixed) offerCopy(told);
  else get("kept").textContent = _("saved");
  get("earlier").disabled = fixed;
  get("tidy").disabled = fixed;
  return true;
}

function offerCopy(told) {
  const copy = document.createElement("button");
  copy.className = "main";
  copy.textContent = _("Copy it, to change it");
  copy.addEventListener("click", async () => {
    copy.disabled = true; // tapped twice it is one copy
    tell(await begin(bareName(told.name), told.words));
    copy.disabled = false;
  });
  get("kept").append(copy);
}

// Saves words as a new program and opens it; comes to what to tell where it cannot.
async function begin(wanted, words) {
  const { status: heard, told: programs } = await answered("/programs");
  if (heard !== 200) return refusal(programs);
  const taken = new Set(programs.filter((one) => !one.shipped).map((one) => one.name));
  const [, stem, ending] = wanted.trim().match(/^(.*?)(\.season)?$/s);
  let name = wanted.trim();
  for (let number = 2; ; number += 1) {
    if (!taken.has(name)) {
      const { status, told } = await answered(place(name), { method: "PUT", body: JSON.stringify({ words, based_on: "" }) });
      if (status !== 200) return refusal(told);
      if (!told.now) { // else somebody has taken the name meanwhile
        await open(told.name);
        return "";
      }
    }
    name = `${stem} ${number}${ending ?? ""}`;
  }
}

function changed(carry) {
  if (desk.seen) carry(desk.seen);
  sliders.older();
  player.stop(_("The words changed: what was played is another lesson now."));
  trial.forget();
  if (isFixed(desk.open)) return;
  desk.dirty = true;
  get("kept").textContent = "…";
  clearTimeout(desk.saving);
  desk.saving = setTimeout(save, SAVE_AFTER_MS);
}

// Comes to whether the file says what was written here when it was asked to. One at a time: what is
// sent while another is on its way would be made from a version that this one replaces.
let underWay = null;
function save() {
  clearTimeout(desk.saving);
  if (!desk.dirty) return Promise.resolve(true);
  underWay ??= sent().finally(() => { underWay = null; });
  return underWay;
}

async function sent() {
  const words = desk.editor.text();
  const name = desk.open;
  const body = JSON.stringify({ words, based_on: desk.version });
  const { status, told } = await answered(place(name), { method: "PUT", body });
  if (name !== desk.open) return false;
  if (told.now) {
    say(_("not saved: {why}", { why: _("Saved somewhere else meanwhile") }), true);
    merge(told.now);
    return false;
  }
  if (status !== 200) {
    say(_("not saved: {why}", { why: refusal(told) }), true);
    if (!told.refused) desk.saving = setTimeout(save, SAVE_AGAIN_MS);
    return false;
  }
  desk.version = told.version;
  desk.dirty = desk.editor.text() !== words;
  say(desk.dirty ? "…" : _("saved"));
  if (desk.dirty) { // a page out of sight may be put to sleep before long
    clearTimeout(desk.saving);
    desk.saving = setTimeout(save, document.hidden ? 0 : SAVE_AFTER_MS);
  }
  return true;
}

// What was written while it was being saved is saved too; false where it could not be.
async function allSaved() {
  while (desk.dirty) if (!(await save())) return false;
  return true;
}

function say(words, bad = false) {
  get("kept").textContent = words;
  get("kept").classList.toggle("trouble", bad);
}

// --- two who wrote at once

function merge(theirs) {
  if (get("clash").open) return;
  get("merge").replaceChildren();
  const both = openMerge(get("merge"), desk.editor.text(), theirs.words);
  const done = (words) => {
    desk.version = theirs.version;
    desk.editor.replace(words);
    desk.dirty = true;
    get("clash").close();
    save();
  };
  // Put away by Escape nothing is decided, and nothing that was written there is lost.
  get("clash").onclose = () => {
    const words = both.state.doc.toString();
    if (desk.version !== theirs.version && words !== desk.editor.text()) desk.editor.replace(words);
    both.destroy();
  };
  get("merge-save").onclick = () => done(both.state.doc.toString());
  get("merge-theirs").onclick = () => done(theirs.words);
  get("clash").showModal();
}

// --- what the check and the picture say

function seen(told, current) {
  if (current) settled();
  if (!told.court && desk.seen?.court) told = { ...desk.seen, ...pick(told), stale: true };
  desk.seen = told;
  ghosts.forget();
  const verdict = get("verdict");
  verdict.className = `verdict ${told.ok || (told.season && !told.errors) ? "ok" : "bad"}`;
  verdict.textContent = told.verdict;
  expected.draw(told.expectations);
  draw();
  hour.seen(told);
  get("sheet").disabled = get("cards").disabled = !told.ok;
  player.may(told.ok);
  trial.may(told.ok);
  trial.group(told.group);
}

const pick = ({ ok, verdict, errors, warnings, hour, expectations }) => (
  { ok, verdict, errors, warnings, hour, expectations });

function draw() {
  const told = desk.seen;
  get("court").classList.toggle("stale", Boolean(told.stale));
  get("unseen").hidden = Boolean(told.court) || told.season;
  get("of-season").hidden = !told.season;
  get("to-court").disabled = told.season;
  for (const part of [get("court").querySelector(".views"), get("play"), get("tried")]) part.hidden = !told.court;
  if (!told.court) return blank();
  const held = document.activeElement?.dataset?.key;
  drawPicture(get("above"), get("side"), told, desk.chosen, {
    choose, moved, area: desk.area, hold, show: (words) => words && desk.editor.show(words),
    ghost: (what, to) => {
      drawGhost(get("above"), what, to);
      ghosts.draw(get("above"), get("side"), what, to);
    },
    mouth: (feed) => told.launchers[feed.launcher].mouth_m.slice(0, 2),
  });
  get("thinned").textContent = thinned(told);
  drawWorst(get("above"), get("side"), told, expected.chosen());
  player.redrawn();
  sliders.show(told.feeds.find((one) => one.wish === desk.chosen && one.leads) ?? null, told);
  listFeeds(get("feeds"), told, desk.chosen, { choose });
  if (held !== undefined) get("above").querySelector(`[data-key="${CSS.escape(held)}"]`)?.focus({ preventScroll: true });
}

// Of a program that cannot be read, nothing is drawn, least of all what was open before it.
function blank() {
  for (const part of ["above", "side", "feeds", "thinned"]) get(part).replaceChildren();
  sliders.show(null, desk.seen);
}

// --- the lesson as a moving picture

const player = openPlayer(get("play"), { above: get("above"), side: get("side"), load: () => loadRun("played") });
const hour = openHour(get("hour"), {
  ask: (method, wanted) => desk.editor.ask(method, { wanted }),
  change: (edits) => desk.editor.change(edits),
  show: (words) => desk.editor.show(words),
  point: (words) => desk.editor.point(words),
  text: () => desk.editor.text(),
  fixed: () => isFixed(desk.open),
});
const expected = openExpected(get("expected"), {
  point: (number) => {
    const { from, to } = desk.editor.view.state.doc.line(Math.min(number, desk.editor.view.state.doc.lines));
    desk.editor.point({ start: from, end: to });
  },
  draw: () => draw(),
  decide: () => loadRun("tested"),
  waits: (child) => hour.waits(child),
});
const trial = openTrial(get("tried"), (what, player) => loadRun("tried", `?what=${what}&player=${Math.max(0, player)}`));

async function saved() {
  if (!(await allSaved())) throw new Error(_("The words are not saved: mend that first."));
  return { name: desk.open, version: desk.version };
}

const whatNext = openSuggestions({ asked, refusal, saved, editor: () => desk.editor });
if (!atClub) openCourt({ asked, refusal, saved, offer: whatNext.offer }); // from a club's server nothing is begun

async function loadRun(kind, query = "") {
  await saved();
  const { status, told } = await answered(`/${kind}/${address(desk.open)}${query}`);
  if (status !== 200) throw new Error(refusal(told));
  if (told.version !== desk.version) throw new Error(_("The file was changed somewhere else: open it again."));
  return told;
}

const sliders = openSliders(get("sliders"), { above: get("above"), side: get("side"),
  ask: (name) => desk.editor.ask("feedscript/reach", { name }),
  text: () => desk.editor.text(),
  figured: (wanted) => changeWords("feedscript/figure", wanted) });

// --- things of the picture that are put elsewhere

const ghosts = openGhosts((feed) => desk.editor.ask("feedscript/flight", { feed }));
for (const happens of ["pointerover", "focusin"]) {
  get("above").addEventListener(happens, ({ target }) => {
    // What the pointer rests on may be moved next; what is let go is under it too, but has its words to change.
    const feed = target.closest?.("[data-index]");
    if (feed) atRest("flights", () => { if (feed.isConnected) ghosts.near(Number(feed.dataset.index)); });
  });
}

async function moved(what, to, snapped) {
  const { thing, name, part = 0, grip = [0, 0], from_m } = what;
  return changeWords("feedscript/move", { thing, name, part, grip, from_m, to_m: to, snapped });
}

// A change of the picture as a change of the words: made (true), offered where there are several, or refused.
async function changeWords(method, wanted) {
  if (isFixed(desk.open)) {
    drawGhost(get("above"), null);
    return tell(_("A shipped program is looked at: copy it, to change it."));
  }
  const before = desk.editor.text();
  const answer = await desk.editor.ask(method, { wanted }).catch((failed) => ({ choices: [], refused: failed.message }));
  const { choices, refused, asks } = answer;
  if (desk.editor.text() !== before) return tell(_("The words changed meanwhile: move it again."));
  if (refused) { drawGhost(get("above"), null); return tell(refused); }
  if (choices.length === 1) {
    desk.editor.change(choices[0].edits);
    tell(choices[0].title === "move it" ? "" : choices[0].title);
    return true;
  }
  offer(choices, asks);
}

function offer(choices, asks) {
  const box = get("told"), { editor } = desk, before = editor.text();
  box.replaceChildren(`${asks} `);
  for (const choice of choices) {
    const button = document.createElement("button");
    button.textContent = choice.title[0].toUpperCase() + choice.title.slice(1);
    button.addEventListener("click", () => {
      const same = desk.editor === editor && editor.text() === before; // the places are others now
      if (same) editor.change(choice.edits);
      tell(same ? "" : _("The words changed meanwhile: move it again."));
    });
    box.append(button, " ");
  }
  box.querySelector("button").focus();
}

function tell(words) {
  get("told").textContent = words ? words[0].toUpperCase() + words.slice(1) + (/[.!?]$/.test(words) ? "" : ".") : "";
}

function found(diagnostics) {
  listFindings(get("findings"), diagnostics, desk.editor);
}

// An area is held by its corners; its words are marked, and the keys stay with the picture.
function hold(key, words) {
  desk.area = desk.area === key ? null : key;
  desk.editor.choose(desk.area && words);
  draw();
}

function choose({ index }) {
  const feed = desk.seen.feeds.find((one) => one.index === index); // its words may have moved on
  desk.chosen = desk.chosen === feed.wish ? null : feed.wish;
  draw();
  desk.editor.choose(desk.chosen ? feed.words : null);
  if (desk.chosen && feed.words) desk.editor.show({ start: feed.words.start, end: feed.words.start });
}

function cursor(at) {
  const here = desk.seen?.feeds.find((feed) => feed.words && feed.words.start <= at && at <= feed.words.end);
  const wish = here?.wish ?? null;
  if (wish === desk.chosen || (wish === null && !desk.seen)) return;
  desk.chosen = wish;
  stir(); // also where no key and no pointer told of it: a voice, a finger on the cursor's handle
  // The editor takes no change while it tells of one; and it lays the page out, for which the picture is drawn after it.
  queueMicrotask(() => {
    desk.editor.choose(here?.words ?? null);
    if (desk.seen) draw();
  });
}

function connection(up) {
  document.body.classList.toggle("unheard", !up);
  if (!up) {
    get("verdict").className = "verdict bad";
    get("verdict").textContent = _("the desk is not heard: what you write is not checked");
  }
}

// --- lists

async function showPrograms() {
  const { status, told } = await answered("/programs");
  if (status !== 200) return say(refusal(told), true);
  const item = (one) => {
    const li = document.createElement("li");
    const button = document.createElement("button");
    const name = document.createElement("span");
    name.textContent = one.title;
    const file = document.createElement("small");
    const called = bareName(one.name).replace(/\.season$/, "");
    file.textContent = one.refused || (one.season ? _("season {name}", { name: called }) : called);
    button.disabled = Boolean(one.refused);
    button.append(name, file);
    button.addEventListener("click", () => { get("programs").close(); open(one.name); });
    li.append(button);
    return li;
  };
  get("own-list").replaceChildren(...told.filter((one) => !one.shipped).map(item));
  get("shipped-list").replaceChildren(...told.filter((one) => one.shipped && !one.club).map(item));
  get("club-list").replaceChildren(...told.filter((one) => one.club).map(item));
  get("no-club").hidden = told.some((one) => one.club);
  get("make-trouble").textContent = "";
  get("programs").showModal();
}

async function showVersions() {
  const name = desk.open;
  const { status, told } = await answered(`${place(name)}/versions`);
  if (name !== desk.open) return; // another program was opened meanwhile
  if (status !== 200) return say(refusal(told), true);
  get("no-versions").hidden = told.length > 0;
  get("version-list").replaceChildren(...told.map((one) => {
    const li = document.createElement("li");
    const button = document.createElement("button");
    button.textContent = moment(new Date(one.saved));
    button.addEventListener("click", async () => {
      const { status: found, told: old } = await answered(`${place(name)}/versions/${one.version}`);
      get("versions").close();
      if (found !== 200) say(refusal(old), true);
      else if (name === desk.open) desk.editor.replace(old.words);
    });
    li.append(button);
    return li;
  }));
  get("versions").showModal();
}

function showTab(chosen) {
  document.querySelector("main").dataset.shown = chosen;
  for (const tab of document.querySelectorAll("[role=tab]")) {
    const on = tab.id === `tab-${chosen}`;
    tab.setAttribute("aria-selected", String(on));
    tab.tabIndex = on ? 0 : -1;
  }
}

for (const tab of document.querySelectorAll("[role=tab]")) {
  tab.addEventListener("click", () => showTab(tab.id.replace("tab-", "")));
  tab.addEventListener("keydown", (event) => {
    const all = [...document.querySelectorAll("[role=tab]")];
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = all[(all.indexOf(tab) + step + all.length) % all.length];
    next.focus();
    next.click();
  });
}
get("choose").addEventListener("click", showPrograms);
get("earlier").addEventListener("click", showVersions);
get("tidy").addEventListener("click", () => desk.editor?.tidy());
for (const kind of ["sheet", "cards"]) {
  get(kind).addEventListener("click", async () => {
    const tab = window.open("", "_blank"); // now: after a wait it would be held for an advertisement
    if (!(await allSaved())) return tab.close(); // what would be printed are the words before
    tab.location = keyed(`/papers/${kind}/${address(desk.open)}`);
  });
}
get("make").addEventListener("click", async () => {
  get("make").disabled = true; // tapped twice it is one program
  const trouble = await begin(get("new-name").value || _("new lesson"), START);
  get("make").disabled = false;
  get("make-trouble").textContent = trouble;
  if (!trouble) get("programs").close();
});
startFromAQuestion({
  asked, begin, refusal,
  opened: (notes) => {
    get("programs").close();
    tell(notes.join("; "));
  },
});
addEventListener("beforeunload", (event) => { if (desk.dirty) event.preventDefault(); });
document.addEventListener("visibilitychange", () => { if (document.hidden) save(); });

// A review's link says which lesson's suggestion to show, for whom, in which program.
const link = new URLSearchParams(location.search);
const asks = link.get("program") ?? (decodeURIComponent(location.hash.slice(1)) || localStorage.getItem("feedscript.desk.open"));
const { status: heard, told: there } = await answered("/programs");
if (heard !== 200) say(refusal(there), true);
const programs = heard === 200 ? there : [];
// What was asked for, or was open before; else the first that can be opened, own ones before shipped.
const mine = programs.filter((one) => !one.shipped && !one.refused).map((one) => one.name);
const wednesday = programs.filter((one) => one.shipped && one.name.includes("wednesday")).map((one) => one.name);
const known = programs.some((one) => one.name === asks);
for (const name of [...(known ? [asks] : []), ...(known && (location.hash || link.has("program")) ? [] : [...mine, ...wednesday])]) {
  const before = opening;
  if (await open(name) || opening !== before + 1) break; // opened, or another one was chosen meanwhile
}
// Who has no program yet is asked what the first lesson is for, before a stranger's is read.
if (heard === 200 && !mine.length && !known && !atClub) {
  await showPrograms();
  get("first").open = true;
}
if (link.has("next")) {
  history.replaceState(null, "", `${location.pathname}${location.hash}`);
  whatNext.show(link.get("next"), link.get("player") ?? "", get("told"), (wish) => { desk.chosen = wish; if (desk.seen) draw(); });
}
