// What the check says, each with the way to it and the changes that were tried and mend it.
import { drawParts, put } from "./redraw.js";
import { _ } from "/static/words.js";
const MOST = 40;

const follows = new WeakMap(); // by its element: a finding is somewhere else now

// A finding that is said again keeps its element, and with it a click that waits for its answer.
export function listFindings(parent, found, editor) {
  const shown = found.slice(0, MOST), alike = new Map();
  const parts = shown.map((one) => {
    const said = [one.severity, one.slug, one.message], words = said.join("\n");
    alike.set(words, (alike.get(words) ?? 0) + 1);
    return { key: `${words} ${alike.get(words)}`, said, draw: () => finding(one, editor) };
  });
  if (found.length > MOST) parts.push({ key: "more", said: found.length, draw: () => more(found.length - MOST) });
  drawParts(parent, parts);
  shown.forEach((one, at) => follows.get(parent.children[at])(one));
}

function more(n) {
  const words = document.createElement("p");
  words.className = "finding";
  words.textContent = _("and {n} more", { n });
  return words;
}

function finding(one, editor) {
  const item = document.createElement("div");
  item.className = `finding ${one.severity}`;
  const [message, ...advice] = one.message.split("\nfix: ");
  const where = document.createElement("button");
  where.className = "where";
  where.addEventListener("click", () => editor.show({ start: one.from, end: one.to }));
  item.append(where);
  if (advice.length) {
    const told = document.createElement("p");
    told.className = "advice";
    told.textContent = advice.join(" ");
    item.append(told);
  }
  const fixes = fixButtons(() => one, editor);
  item.append(fixes.row);
  follows.set(item, (now) => {
    one = now;
    const { number } = editor.view.state.doc.lineAt(Math.min(one.from, editor.view.state.doc.length));
    put(where, _("Line {n}: {message}", { n: number, message }));
    fixes.renew();
  });
  return item;
}

// Changes that mend a finding: tried when they are asked for, of the words as they then stand.
function fixButtons(finding, editor) {
  const row = document.createElement("div");
  row.className = "fixes";
  let of = null; // the words that were asked about
  const offer = () => {
    const ask = document.createElement("button");
    ask.textContent = _("Look for a fix");
    ask.addEventListener("click", () => look(ask));
    row.replaceChildren(ask);
  };
  async function look(ask) {
    ask.disabled = true;
    ask.textContent = _("Trying …");
    let actions;
    do {
      if (!row.isConnected) return;
      of = editor.text();
      const found = await editor.fixes(finding()).catch(() => null); // no answer in time
      if (!found) return offer();
      actions = found.filter((action) => action.diagnostics?.[0]?.code === finding().slug);
    } while (editor.text() !== of); // the search was given up
    const shown = actions.map((action) => {
      const fix = document.createElement("button");
      fix.className = "main";
      fix.textContent = action.title[0].toUpperCase() + action.title.slice(1);
      fix.addEventListener("click", () => {
        if (editor.text() === of) editor.apply(action);
        else offer(); // of the words as they stand now
      });
      return fix;
    });
    if (!shown.length) {
      const none = document.createElement("span");
      none.className = "advice";
      none.textContent = _("No change of a few words mends it by itself.");
      shown.push(none);
    }
    row.replaceChildren(...shown);
    row.querySelector("button")?.focus();
  }
  offer();
  return {
    row,
    // What mends these words need not mend others.
    renew: () => {
      if (of === null || of === editor.text() || row.querySelector("button:disabled")) return;
      of = null;
      offer();
    },
  };
}
