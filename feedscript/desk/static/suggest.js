// What a lesson's records suggest for the program: each change is shown in the words, to be taken or left.
import { openMerge } from "./editor.js";

const get = (id) => document.getElementById(id);

function made(kind, words = "", with_ = {}) {
  const one = document.createElement(kind);
  one.textContent = words;
  return Object.assign(one, with_);
}

const capital = (words) => words[0].toUpperCase() + words.slice(1);

// The words with these changes, which are in the order of the text.
function changed(words, edits) {
  let done = "", at = 0;
  for (const edit of edits) {
    done += words.slice(at, edit.start) + edit.words;
    at = edit.end;
  }
  return done + words.slice(at);
}

/** `asked` speaks with the desk, `refusal` words a refusal, `saved` saves and gives the open program's name and
 * version, `editor` gives its editor. Returns the button of a lesson that was held. */
export function openSuggestions({ asked, refusal, saved, editor }) {
  function propose(feed, { title, edits }, version) {
    const now = editor().text();
    get("proposed").replaceChildren();
    get("proposal-head").textContent = `${feed}: ${title}`;
    const both = openMerge(get("proposed"), changed(now, edits), now, true);
    get("proposal-take").onclick = async () => {
      get("proposal").close();
      get("on-court").close();
      if (editor().text() !== now) return; // another tab's change came in: the places are others now
      editor().change(edits);
      editor().show({ start: edits[0].start, end: edits[0].start + edits[0].words.length });
    };
    get("proposal-leave").onclick = () => get("proposal").close();
    get("proposal").onclose = () => both.destroy();
    get("proposal").showModal();
    saved().then((here) => { if (here.version !== version) get("proposal").close(); }, () => get("proposal").close());
  }

  function told(one, version) {
    const item = made("li");
    item.append(made("p", `${one.feed}: perhaps ${one.step} for ${one.players.join(", ")}`));
    for (const proposal of one.proposals) {
      const button = made("button", capital(proposal.title), { type: "button", ariaHasPopup: "dialog" });
      button.addEventListener("click", () => propose(one.feed, proposal, version));
      item.append(button);
    }
    if (one.why_not) item.append(made("p", `No change is proposed: ${one.why_not}.`, { className: "hour-words" }));
    return item;
  }

  return (number, item) => {
    const button = made("button", "What next?", { type: "button", ariaExpanded: "false" });
    const list = made("ul", "", { hidden: true, ariaLabel: "What its records suggest" });
    button.addEventListener("click", async () => {
      button.disabled = true;
      const say = (words) => list.replaceChildren(made("li", words));
      try {
        const { name } = await saved();
        const { status, told: found } = await asked(`/suggestions/${number}/${name.split("/").map(encodeURIComponent).join("/")}`);
        if (status !== 200) say(refusal(found));
        else if (name.startsWith("shipped/")) say("A shipped program is looked at: copy it, to change it.");
        else if (!found.suggestions.length) say("Its records suggest no change: too few were recorded, or the same again.");
        else list.replaceChildren(...found.suggestions.map((one) => told(one, found.version)));
      } catch (failed) {
        say(failed instanceof TypeError ? "The desk does not answer." : failed.message);
      }
      list.hidden = false;
      button.ariaExpanded = "true";
      button.disabled = false;
    });
    item.append(button, list);
  };
}
