// Where the hour goes: exercises as blocks to scale, each filled as far as its balls take.

const minutes = (seconds) => `${Math.round(seconds / 60)} min`;

export function drawHour(parent, hour) {
  parent.hidden = !hour || hour.whole_s <= 0;
  if (parent.hidden) return;
  const bar = document.createElement("div");
  bar.className = "bar";
  const rest = hour.whole_s - hour.exercises.reduce((sum, one) => sum + Math.max(one.takes_s, one.planned_s ?? 0), 0);
  const blocks = [...hour.exercises];
  if (rest > 60) blocks.push({ title: "breaks, collecting, getting ready", takes_s: rest, planned_s: null });
  for (const one of blocks) {
    const whole = Math.max(one.takes_s, one.planned_s ?? 0);
    const block = document.createElement("div");
    block.style.width = `${(100 * whole) / Math.max(hour.whole_s, hour.planned_s ?? 0)}%`;
    const over = one.planned_s !== null && one.takes_s > one.planned_s * 1.1;
    const filled = document.createElement("i");
    filled.className = over ? "filled over" : "filled";
    filled.style.width = `${(100 * one.takes_s) / whole}%`;
    const words = document.createElement("span");
    words.textContent = `${one.title} · ${minutes(one.takes_s)}`;
    block.title = one.planned_s === null ? words.textContent
      : `${one.title}: up to ${minutes(one.takes_s)}, planned ${minutes(one.planned_s)}`;
    block.append(filled, words);
    bar.append(block);
  }
  const told = document.createElement("p");
  told.className = "hour-words";
  told.textContent = `Up to ${minutes(hour.whole_s)}${hour.planned_s ? ` of ${minutes(hour.planned_s)}` : ""}: `
    + `play ${minutes(hour.play_s)}, changing over ${minutes(hour.change_overs_s)}, `
    + `collecting ${minutes(hour.collecting_s)}, breaks ${minutes(hour.breaks_s)}, `
    + `getting ready ${minutes(hour.people_s)}.`;
  parent.replaceChildren(bar, told);
}
