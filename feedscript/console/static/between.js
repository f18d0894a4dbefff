// Between lessons: waits for the page of the one that begins.

import { headers, keyed } from "./page_key.js";

const LOOK_MS = 1000;
// Which time of choosing this page belongs to: that of a lesson, or of the next time, has another.
const { turn } = document.body.dataset;

export async function lookForTheLesson() {
  try {
    const page = await fetch("/", { headers: headers(), signal: AbortSignal.timeout(2000) });
    const html = page.ok ? await page.text() : "";
    if (html.includes('id="pair"')) location.replace(keyed("/"));
    else if (html && !html.includes(`data-turn="${turn}"`)) location.reload();
  } catch {
    // nobody answers between one page and the next
  }
}

setInterval(lookForTheLesson, LOOK_MS);
