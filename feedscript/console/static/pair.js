// Spends a one-time code. A code that came in the link is used at once and taken out of the address.
import { headers, keep } from "./page_key.js";
import { _, sentence } from "./words.js";

const form = document.getElementById("pair");
const code = document.getElementById("code");
const told = document.getElementById("told");

async function pair() {
  told.textContent = "";
  try {
    const answer = await fetch("/pair", {
      method: "POST",
      headers: headers(),
      body: JSON.stringify({ code: code.value, name: document.getElementById("name").value }),
    });
    const said = await answer.json();
    if (answer.ok) {
      told.textContent = keep(said.page);
      if (!told.textContent) location.replace("/");
      return;
    }
    told.textContent = said.refused
      ? `${sentence(said.refused.message)} ${sentence(said.refused.help)}`
      : _("The code could not be sent. Type it again.");
  } catch {
    told.textContent = _("The laptop does not answer. Is it on the same network?");
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  pair();
});
form.querySelector("button").disabled = false; // before this script a tap would do nothing, and say nothing

function useLink() {
  if (location.hash.length <= 1) return;
  code.value = location.hash.slice(1);
  history.replaceState(null, "", "/");
  pair();
}

addEventListener("hashchange", useLink);
useLink();
