// A film, looked at: first the court in it, then each ball. What the page shows is what the command
// tells; every answer comes back with the page as it is then.

import { Finds } from "./finds.js";
import { Over } from "./over.js";
import { headers, keyed } from "/static/page_key.js";
import { _, figure, sentence } from "/static/words.js";

const by = (id) => document.getElementById(id);
const LOOK_MS = 500;
const STAGES = ["court", "looking", "finds", "done"];

let told = null;
let failed = false;

async function ask(address, body) {
  const request = { headers: headers() };
  if (body !== undefined) Object.assign(request, { method: "POST", body: JSON.stringify(body) });
  try {
    const answer = await fetch(address, request);
    if (answer.status === 401) location.replace(keyed("/"));
    if (!answer.ok) throw new Error(await answer.text());
    failed = false;
    return await answer.json();
  } catch (trouble) {
    if (told?.stage === "done") return null;
    failed = trouble instanceof TypeError; // nobody answers
    show(null);
    return null;
  }
}

const over = new Over(async (pins, cameraAt, byLines) => {
  const page = await ask("/pins", { pins, camera_at: cameraAt, by_lines: byLines });
  if (page) show(page);
});
const finds = new Finds(async (number, said) => show(await ask("/said", { number, said })));

function step(stage) {
  for (const one of document.querySelectorAll("#steps li")) {
    if (one.dataset.step === stage) one.setAttribute("aria-current", "step");
    else one.removeAttribute("aria-current");
  }
}

function show(page) {
  by("gone").hidden = !failed;
  if (!page) {
    if (failed) for (const one of STAGES) by(one).hidden = true;
    return;
  }
  const before = told?.stage;
  told = page;
  for (const one of STAGES) by(one).hidden = one !== page.stage;
  for (const one of document.querySelectorAll('#steps li:not([data-step="court"])')) one.hidden = !page.balls;
  step(page.stage);
  if (page.court) showCourt(page.court);
  if (page.stage === "looking") by("progress").value = page.progress;
  if (page.finds) finds.show(page.finds);
  if (before && before !== page.stage) by(page.stage).querySelector("button, progress, p")?.focus?.();
  by("news").textContent = page.stage === "looking"
    ? _("{share} % of the film is behind", { share: Math.round(100 * page.progress) }) : "";
  if (page.stage === "looking") setTimeout(look, LOOK_MS);
}

function showCourt(court) {
  over.show(court);
  by("leave-out").hidden = court.parts === 1;
  by("part").textContent = court.parts === 1 ? ""
    : _("Part {n} of {count} of the film, from {time} on: the camera was moved.", {
      n: court.part, count: court.parts, time: clock(court.from_s),
    });
  const known = court.worst_cm === null ? "" : _("Places on the ground are known to {cm} cm or better.", {
    cm: figure(court.worst_cm, 1),
  });
  const how = court.worst_cm === null ? "" : court.by_lines
    ? _("Found by the painted lines.") : _("By your points alone: no lines were found near them.");
  const few = over.few && court.worst_cm === null;
  by("worst").textContent = few ? _("Show more points: four on the ground, far apart, are the least.")
    : [known, how].filter(Boolean).join(" ");
  by("trouble").textContent = court.trouble && !few
    ? [sentence(court.trouble.message), sentence(court.trouble.help)].join(" ") : "";
  by("camera-at").value = court.camera_at ?? "receiver";
  by("yes").disabled = court.worst_cm === null;
}

function clock(seconds) {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

async function look() {
  show(await ask("/told"));
}

by("yes").addEventListener("click", async () => {
  await over.settled();
  show(await ask("/yes", {}));
});
by("leave-out").addEventListener("click", async () => show(await ask("/leave-out", {})));
by("again").addEventListener("click", () => over.again());
by("camera-at").addEventListener("change", async (event) => {
  if (told.court.camera_at && event.target.value !== told.court.camera_at) show(await ask("/ends", {}));
  else over.standsAt(event.target.value);
});
for (const id of ["back", "back-early"]) {
  by(id).addEventListener("click", async () => show(await ask("/back", {})));
}
by("finish").addEventListener("click", async () => show(await ask("/finish", {})));
look();
