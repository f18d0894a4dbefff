// What if a ball jams in the middle of the lesson: asked of the rehearsal, told line by line.

const stamp = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

// `load` fetches what became of it or throws an Error with the reason in words.
export function openTrial(parent, load) {
  const button = document.createElement("button");
  const said = document.createElement("p");
  const list = document.createElement("ol");
  button.type = "button";
  button.textContent = "What if a ball jams?";
  said.setAttribute("role", "status");
  parent.append(button, said, list);
  let asked = 0, allowed = false, loading = false;

  const show = (words, lines = []) => {
    button.disabled = !allowed || loading;
    said.textContent = words;
    list.hidden = !lines.length;
    list.replaceChildren(...lines.map(([at_s, line]) => {
      const item = document.createElement("li");
      item.textContent = `${stamp(Math.max(0, at_s))} ${line}`;
      return item;
    }));
  };

  button.addEventListener("click", async () => {
    const mine = (asked += 1);
    loading = true;
    show("Rehearsing the whole lesson with a jam in the middle of it: some seconds…");
    let words, lines;
    try {
      const told = await load();
      lines = told.lines;
      words = told.finished
        ? `The lesson goes on after it, and ${told.balls_left} balls leave in all. With people's time, as rehearsed:`
        : "The lesson does not come to its end. As rehearsed:";
    } catch (failed) {
      words = failed.message;
    }
    if (mine !== asked) return;
    loading = false;
    show(words, lines);
  });
  show("");
  return {
    forget: () => { asked += 1; loading = false; show(""); },
    may: (can) => { allowed = can; button.disabled = !allowed || loading; },
  };
}
