// The review of a lesson that stands still or is over. The page keeps a copy: the laptop may be gone when it is read.

import { headers, keyed } from "./page_key.js";
import { by } from "./standing.js";

let taken = "";
let copy = null;

export function offerReview(view, linked) {
  by("review").hidden = !view.private.review;
  if (!view.private.review) return;
  if (linked) take(view, linked);
  point(view, linked);
}

// To the laptop while it is there and the lesson is not closed; then to the copy.
function point(view, linked) {
  const here = copy !== null && (!linked || Boolean(view.ended));
  by("review").href = here ? copy : keyed("/review");
  by("review").toggleAttribute("download", here);
}

// Anew whenever something more was recorded.
async function take(view, linked) {
  const now = JSON.stringify([view.ended, view.private.counts, view.private.landings]);
  if (now === taken) return;
  taken = now;
  try {
    const reply = await fetch("/review", { headers: headers() });
    const blob = reply.ok ? await reply.blob() : null;
    if (taken !== now) return; // more was recorded meanwhile
    if (blob === null) { taken = ""; return; }
    copy = URL.createObjectURL(blob);
    point(view, linked);
  } catch {
    // the laptop is gone; the copy before stands
    if (taken === now) taken = "";
  }
}
