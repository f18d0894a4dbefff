// What if something goes wrong in the middle of the lesson: asked of the rehearsal, told line by line.
import { clock, make } from "./hour_parts.js";
import { _ } from "/static/words.js";

const TROUBLES = [
  ["jam", _("a ball jams")], ["link", _("the link is lost")], ["empty", _("the hopper is half full")], ["late", _("a player is late")],
];

// `load` fetches what became of it or throws an Error with the reason in words.
export function openTrial(parent, load) {
  const said = make("p", { role: "status" });
  const list = make("ol");
  let asked = 0, allowed = false, loading = false;

  const buttons = TROUBLES.map(([what, words]) => {
    const button = make("button", { type: "button", textContent: words });
    button.setAttribute("aria-label", _("What if {trouble}?", { trouble: words }));
    button.addEventListener("click", () => tryIt(what, words));
    return button;
  });
  const who = make("select", { ariaLabel: _("Who is late") });
  parent.append(make("p", { className: "tried-row" }, make("span", { textContent: _("What if"), ariaHidden: "true" }), ...buttons.slice(0, -1),
    make("span", { className: "tried-late" }, buttons.at(-1), who)), said, list);

  function show(words, lines = []) {
    for (const button of [...buttons, who]) button.disabled = !allowed || loading;
    said.textContent = words && words[0].toUpperCase() + words.slice(1);
    list.hidden = !lines.length;
    list.replaceChildren(...lines.map(([at_s, line]) => make("li", { textContent: `${clock(at_s)} ${line}` })));
  }

  async function tryIt(what, words) {
    const mine = (asked += 1);
    loading = true;
    show(_("What if {trouble}? Rehearsing the whole lesson: some seconds…", { trouble: words }));
    let told;
    try {
      told = await load(what, who.selectedIndex);
    } catch (failed) {
      told = { words: failed.message, lines: [] };
    }
    if (mine !== asked) return;
    loading = false;
    show(told.words, told.lines);
  }

  show("");
  return {
    forget: () => { asked += 1; loading = false; show(""); },
    may: (can) => {
      allowed = can;
      for (const button of [...buttons, who]) button.disabled = !allowed || loading;
    },
    // Everybody of the lesson; who was chosen stays so.
    group: (names) => {
      if (names.join("\n") === [...who.options].map((one) => one.value).join("\n")) return;
      const before = who.value;
      who.replaceChildren(...names.map((name) => make("option", { value: name, textContent: name })));
      if (names.includes(before)) who.value = before;
      who.hidden = names.length < 2;
    },
  };
}
