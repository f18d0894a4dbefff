// What a lesson's records suggest for the program: each change is shown in the words, to be taken or left.
import { openMerge } from "./editor.js";
import { address, isFixed } from "./names.js";
import { _ } from "/static/words.js";

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
 * version, `editor` gives its editor. */
export function openSuggestions({ asked, refusal, saved, editor }) {
  let shown = 0;

  // `tell` says why it cannot be taken.
  function propose(feed, { title, edits }, version, tell) {
    const mine = (shown += 1), now = editor().text();
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
    get("proposal-take").disabled = true; // until it is known that these are the words it was made for
    get("proposal-leave").onclick = () => get("proposal").close();
    get("proposal").onclose = () => both.destroy();
    get("proposal").showModal();
    saved().then(({ version: here }) => (here === version ? "" : _("The words changed meanwhile: try it again.")), (failed) => failed.message)
      .then((why) => {
        if (mine !== shown) return; // left meanwhile, and another one looked at
        get("proposal-take").disabled = Boolean(why);
        if (!why) return;
        get("proposal").close();
        tell(why);
      });
  }

  // What one feed might be, as buttons.
  function suggestion(one, version) {
    const item = made("li"), told = made("p", "", { role: "status" });
    item.append(made("p", one.says), told);
    for (const proposal of one.proposals) {
      const button = made("button", capital(proposal.title), { type: "button", ariaHasPopup: "dialog" });
      button.addEventListener("click", () => propose(one.feed, proposal, version, (why) => { told.textContent = why; }));
      item.append(button);
    }
    if (one.why_not) item.append(made("p", _("No change is proposed: {why}.", { why: one.why_not }), { className: "hour-words" }));
    return item;
  }

  // The suggestions of a lesson for the open program; throws an Error with the reason in words.
  async function suggested(number) {
    const { name } = await saved();
    const { status, told } = await asked(`/suggestions/${number}/${address(name)}`);
    if (status !== 200) throw new Error(refusal(told));
    if (isFixed(name)) throw new Error(_("A shipped program is looked at: copy it, to change it."));
    if (!told.suggestions.length) throw new Error(_("Its records suggest no change: too few were recorded, or the same again."));
    return told;
  }

  const inWords = (failed) => (failed instanceof TypeError ? _("The desk does not answer.") : failed.message);

  return {
    // The button of a lesson that was held, in the list of those.
    offer: (number, item) => {
      const button = made("button", _("What next?"), { type: "button", ariaExpanded: "false" });
      const list = made("ul", "", { hidden: true, ariaLabel: _("What its records suggest") });
      button.addEventListener("click", async () => {
        button.disabled = true;
        try {
          const { suggestions, version } = await suggested(number);
          list.replaceChildren(...suggestions.map((one) => suggestion(one, version)));
        } catch (failed) {
          list.replaceChildren(made("li", inWords(failed)));
        }
        list.hidden = false;
        button.ariaExpanded = "true";
        button.disabled = false;
      });
      item.append(button, list);
    },
    // Comes from a review: what it suggests for this player, the first proposal open, others beside it.
    show: async (number, player, box, choose) => {
      try {
        const { suggestions, version } = await suggested(number);
        const own = suggestions.filter((one) => one.names.includes(player));
        const list = made("ul", "", { className: "suggested" });
        list.append(...own.map((one) => suggestion(one, version)));
        box.replaceChildren(own.length ? list : _("Its records suggest no change: too few were recorded, or the same again."));
        const first = own.find((one) => one.proposals.length);
        if (!first) return;
        choose(first.wish);
        propose(first.feed, first.proposals[0], version, (why) => box.append(made("p", why)));
      } catch (failed) {
        box.replaceChildren(inWords(failed));
      }
    },
  };
}
