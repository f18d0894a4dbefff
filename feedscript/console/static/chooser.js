// Between lessons: the list, the check's verdict on what was chosen, and by which launchers.

import { lookForTheLesson } from "./between.js";
import { headers, keyed } from "./page_key.js";
import { by } from "./standing.js";
import { sentence } from "./view.js";
import { _ } from "./words.js";

const HEADS = {
  "unfinished": _("To go on with"),
  own: _("Your own programs"),
  shipped: _("Programs that come with feedscript"),
};

// The answer, or null where it was refused: then that is said.
async function ask(path, what = {}) {
  by("told").textContent = "";
  try {
    const reply = await fetch(path, {
      method: "POST",
      headers: headers(),
      body: JSON.stringify(what),
    });
    const said = await reply.json();
    if (reply.ok) return said;
    by("told").textContent = said.refused
      ? `${sentence(said.refused.message)} ${said.refused.help ? sentence(said.refused.help) : ""}`
      : _("The page could not be understood. Load it anew.");
  } catch {
    by("told").textContent = _("The laptop does not answer. Is it on the same network?");
  }
  return null;
}

function button(words, look, press) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = look;
  made.append(words);
  made.addEventListener("click", press);
  return made;
}

async function list() {
  const state = await ask("/choices");
  by("list").setAttribute("aria-busy", "false");
  by("waiting").hidden = true;
  if (!state) return;
  before(state);
  by("list").querySelectorAll("section").forEach((one) => one.remove());
  for (const [kind, head] of Object.entries(HEADS)) {
    const these = state.choices.filter((one) => one.kind === kind);
    if (these.length) by("list").append(part(kind, head, these, state));
  }
}

function before(state) {
  by("before").hidden = !state.told;
  by("ended").textContent = state.told;
  by("review").hidden = !state.review;
  by("review").href = keyed("/review");
  by("still").hidden = !state.not_stopped.length;
  by("moving").textContent = _("Not confirmed that it stopped: {who}. Go and look.", {
    who: state.not_stopped.join(", "),
  });
}

function part(kind, head, these, state) {
  const found = document.createElement("section");
  const title = document.createElement("h2");
  title.id = `kind-${kind}`;
  title.textContent = head;
  found.setAttribute("aria-labelledby", title.id);
  const items = document.createElement("ul");
  for (const one of these) {
    const about = document.createElement("span");
    about.className = "about";
    about.textContent = one.about;
    const item = document.createElement("li");
    const made = button(one.title, kind === "unfinished" ? "go" : "", () => choose(one, state));
    made.append(about);
    item.append(made);
    items.append(item);
  }
  found.append(title, items);
  return found;
}

let judged = 0; // how often something was chosen: the verdict on the last one is shown

async function choose(one, state) {
  const mine = (judged += 1);
  show(true);
  by("chosen").textContent = one.title;
  by("said").textContent = _("Checking …");
  by("by").replaceChildren();
  by("then").hidden = true;
  by("chosen").focus();
  const verdict = await ask("/judged", { key: one.key });
  if (mine !== judged) return;
  by("said").textContent = verdict ? verdict.said : "";
  by("then").hidden = !verdict?.passed;
  if (verdict?.passed) offerLaunchers(one, state);
}

function offerLaunchers(one, state) {
  const real = state.given.length > 0;
  if (real) {
    by("by").append(button(
      _("Begin on {launchers}", { launchers: state.given.join(", ") }), "go",
      () => begin(one, "given"),
    ));
  } else {
    const hint = document.createElement("p");
    hint.textContent = _("No launcher was named at the laptop: start it there with --on and its address.");
    by("by").append(hint);
  }
  if (one.kind !== "unfinished") {
    by("by").append(button(
      _("Rehearse: simulated launcher, no ball flies"), "", () => begin(one, "rehearsed"),
    ));
  }
}

async function begin(one, launchers) {
  by("by").querySelectorAll("button").forEach((each) => { each.disabled = true; });
  const begun = await ask("/begin", { key: one.key, launchers });
  if (begun) by("said").textContent = _("The lesson opens …");
  else by("by").querySelectorAll("button").forEach((each) => { each.disabled = false; });
  if (begun) lookForTheLesson();
}

function show(verdict) {
  by("list").hidden = verdict;
  by("verdict").hidden = !verdict;
}

by("back").addEventListener("click", () => {
  show(false);
  by("told").textContent = "";
  by("list").querySelector("button")?.focus();
});
by("stands").addEventListener("click", async () => {
  if (await ask("/stands-still")) list();
});
list();
