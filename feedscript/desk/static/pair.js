// Spends the one-time code: at once where it came in the link, which then forgets it.
import { headers, keep } from "/static/page_key.js";
import { _ } from "/static/words.js";

const code = document.getElementById("code");
const told = document.getElementById("told");

async function pair() {
  const answer = await fetch("/pair", {
    method: "POST",
    headers: headers(),
    body: JSON.stringify({ code: code.value, name: "desk" }),
  }).catch(() => null);
  if (answer?.ok) {
    told.textContent = keep((await answer.json()).page);
    if (!told.textContent) location.replace("/");
  } else told.textContent = answer
    ? _("This code is spent or too old. Start the desk again for a new one.")
    : _("The desk does not answer. Does it still run?");
}

const form = document.getElementById("pair");
form.addEventListener("submit", (event) => { event.preventDefault(); pair(); });
form.querySelector("button").disabled = false; // before this script a tap would do nothing, and say nothing

if (location.hash.length > 1) {
  code.value = location.hash.slice(1);
  history.replaceState(null, "", "/");
  pair();
}
