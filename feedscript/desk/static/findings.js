// What the check says, each with the way to it and the changes that were tried and mend it.

import { _ } from "/static/words.js";
const MOST = 40;

export function listFindings(parent, found, editor) {
  const listed = found.slice(0, MOST).map((one) => {
    const item = document.createElement("div");
    item.className = `finding ${one.severity}`;
    const [message, ...advice] = one.message.split("\nfix: ");
    const where = document.createElement("button");
    where.className = "where";
    const { number } = editor.view.state.doc.lineAt(Math.min(one.from, editor.view.state.doc.length));
    where.textContent = _("Line {n}: {message}", { n: number, message });
    where.addEventListener("click", () => editor.show({ start: one.from, end: one.to }));
    item.append(where);
    if (advice.length) {
      const told = document.createElement("p");
      told.className = "advice";
      told.textContent = advice.join(" ");
      item.append(told);
    }
    item.append(fixButtons(one, editor));
    return item;
  });
  if (found.length > MOST) {
    const more = document.createElement("p");
    more.className = "finding";
    more.textContent = _("and {n} more", { n: found.length - MOST });
    listed.push(more);
  }
  parent.replaceChildren(...listed);
}

function fixButtons(one, editor) {
  const row = document.createElement("div");
  row.className = "fixes";
  const ask = document.createElement("button");
  ask.textContent = _("Look for a fix");
  ask.addEventListener("click", async () => {
    ask.disabled = true;
    ask.textContent = _("Trying …");
    const actions = (await editor.fixes(one)).filter((action) => action.diagnostics?.[0]?.code === one.slug);
    const shown = actions.map((action) => {
      const fix = document.createElement("button");
      fix.className = "main";
      fix.textContent = action.title[0].toUpperCase() + action.title.slice(1);
      fix.addEventListener("click", () => editor.apply(action));
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
  });
  row.append(ask);
  return row;
}
