// Spends a one-time code. A code that came in the link is used at once and taken out of the address.
import { _, sentence } from "./words.js";

const form = document.getElementById("pair");
const code = document.getElementById("code");
const told = document.getElementById("told");

async function pair() {
  told.textContent = "";
  try {
    const answer = await fetch("/pair", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ code: code.value, name: document.getElementById("name").value }),
    });
    if (answer.ok) {
      location.replace("/");
      return;
    }
    const said = await answer.json();
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

function useLink() {
  if (location.hash.length <= 1) return;
  code.value = location.hash.slice(1);
  history.replaceState(null, "", "/");
  pair();
}

addEventListener("hashchange", useLink);
useLink();
