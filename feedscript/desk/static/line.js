// The lesson's steps as blocks to scale, with the turns below: chosen, put elsewhere, stretched.
import { clock, counted, leftOut, longest, make, minutes, share } from "./hour_parts.js";
import { drawParts, put } from "./redraw.js";
import { _, n_, p_ } from "/static/words.js";

const STARTS_AFTER_PX = 4;
const WORDS_FROM = 0.05; // of the width: a narrower turn shows no name
const NAMED_FROM = 0.015; // of the width: a narrower block has no room for one on any screen
const TICK_S = 600;
// Rows that are drawn; and the steps' part of what is drawn of one picture: each is a button.
const MOST_ROWS = 40, BLOCKS_SHARE = 4;

const own = (block) => block.lengths.find((one) => one.value !== null);

function inWords(length) {
  return [length.before, length.written, length.after].filter(Boolean).join(" ");
}

const fromTo = (block) => _("{begun} to {until}", { begun: clock(block.begin_s), until: clock(block.end_s) });

function label(block) {
  const parts = { title: block.title, time: fromTo(block) };
  return own(block)
    ? _("{title}: {time}. Alt with left or right puts it elsewhere, Alt and Shift make it shorter or longer.", parts)
    : _("{title}: {time}. Alt with left or right puts it elsewhere.", parts);
}

function placed(element, begin_s, end_s, whole_s) {
  element.style.left = share(begin_s, whole_s);
  element.style.width = share(end_s - begin_s, whole_s);
  return element;
}

// Those who work at a station at the same time are one mark.
function together(marks) {
  const found = new Map();
  for (const [begin_s, end_s, words, child, kind] of marks) {
    const before = found.get(`${begin_s} ${end_s} ${kind}`);
    if (before) before[2] += `, ${words}`;
    else found.set(`${begin_s} ${end_s} ${kind}`, [begin_s, end_s, words, child, kind]);
  }
  return [...found.values()];
}

function turns(row, several, shown, told) {
  const marks = shown.map(([begin_s, end_s, words, , kind]) => {
    const mark = make("i", { className: `is-${kind === "on" ? "play" : kind}`, title: `${words}, ${clock(begin_s)}` });
    if ((end_s - begin_s) / told.whole_s > WORDS_FROM) mark.textContent = words;
    return placed(mark, begin_s, end_s, told.whole_s);
  });
  const words = n_("{n} turn", "{n} turns", several);
  const track = make("div", { className: "lane turns", role: "img", ariaLabel: [row.name || _("The launcher"), words].join(": ") }, ...marks);
  return make("div", { className: "line-row" }, make("span", { textContent: row.name || _("turns") }), track);
}

function stops(shown, told) {
  const marks = shown.map(([begin_s, end_s, words, , kind]) =>
    placed(make("u", { className: `is-${kind}`, title: `${words}, ${clock(begin_s)}` }), begin_s, end_s, told.whole_s));
  return make("div", { className: "line-row" }, make("span", { textContent: _("off court") }),
    make("div", { className: "lane turns", role: "img", ariaLabel: _("When the launcher is off") }, ...marks));
}

// The rows below the steps, those of them that are drawn, and what is left out of them.
function rowsOf(told) {
  const left = counted(), of = told.rows.length + 1;
  const off = longest(told.stops.filter(([, , , , kind]) => kind !== "spare"), of, left);
  const rows = told.rows.slice(0, MOST_ROWS).map((row, at) => {
    const all = together(row.marks), shown = longest(all, of, left);
    return { key: `row ${at}`, said: [row.name, all.length, shown, told.whole_s], draw: () => turns(row, all.length, shown, told) };
  });
  left.all += told.rows.slice(MOST_ROWS).flatMap((row) => row.marks).length;
  return {
    rows: [{ key: "off", said: [off, told.whole_s], draw: () => stops(off, told) }, ...rows,
      { key: "ticks", said: told.whole_s, draw: () => ticks(told) }],
    left,
  };
}

function ticks(told) {
  const marks = [];
  for (let at_s = 0; at_s <= told.whole_s; at_s += TICK_S) {
    const mark = make("span", { textContent: at_s / 60 });
    mark.style.left = share(at_s, told.whole_s);
    marks.push(mark);
  }
  return make("div", { className: "line-row ticks", ariaHidden: "true" }, make("span", { textContent: "min" }), make("div", {}, ...marks));
}

// Where a block would go that is let go at a moment: an exercise among the exercises.
function target(told, block, at_s) {
  const others = told.blocks.filter((one) => !block.exercise || one.exercise);
  const here = others.find((one) => at_s < one.end_s) ?? others.at(-1);
  return here ?? block;
}

function neighbour(told, block, way) {
  const others = told.blocks.filter((one) => !block.exercise || one.exercise);
  return others[others.indexOf(block) + way] ?? null;
}

// The length that a block would have, drawn so much longer.
function longer(block, length, factor) {
  const steps = Math.max(1, Math.round((length.value * factor) / length.step));
  return steps * length.step;
}

export function openLine(parent, on) {
  const box = make("div", { className: "line-box" });
  const about = make("div", { className: "line-about" });
  const said = make("p", { className: "line-said", role: "status" });
  const steps = make("div", { className: "lane line-steps", role: "group", ariaLabel: _("Steps of the lesson, to scale") });
  const stepsRow = make("div", { className: "line-row" }, make("span", { textContent: p_("line", "lesson") }), steps);
  parent.append(box, about, said);
  let told = null, chosen = null, held = null;
  let typed = null; // the field in which a number is being typed,
  let waits = false; // and whether something is to be drawn when it is done

  const say = (words) => put(said, words ? words[0].toUpperCase() + words.slice(1) + (/[.!?]$/.test(words) ? "" : ".") : "");
  const block = (step) => told?.blocks.find((one) => one.step === step) ?? null;

  // --- changes of the words

  async function change(method, wanted, done, then = {}) {
    if (on.fixed()) return say(_("A shipped program is looked at: copy it, to change it."));
    const before = on.text();
    const answer = await on.ask(method, wanted).catch((failed) => ({ choices: [], refused: failed.message }));
    if (on.text() !== before) return say(_("The words changed meanwhile: try it again."));
    if (!answer.choices.length) return say(answer.refused);
    const take = (choice) => {
      if (on.text() !== before) return say(_("The words changed meanwhile: try it again.")); // its places are others now
      if ("step" in then) chosen = held = then.step;
      on.change(choice.edits);
      say(done);
    };
    if (answer.choices.length === 1) return take(answer.choices[0]);
    said.replaceChildren(_("This number is written by a name."), " ", ...answer.choices.flatMap((choice) => {
      const button = make("button", { type: "button", textContent: choice.title[0].toUpperCase() + choice.title.slice(1) });
      button.addEventListener("click", () => take(choice));
      return [button, " "];
    }));
    said.querySelector("button").focus();
  }

  function move(one, there) {
    if (!there || there === one) return say(_("{title} stays where it is.", { title: one.title }));
    const parts = { title: one.title, other: there.title };
    const now = there.begin_s > one.begin_s ? _("{title} now comes after {other}", parts) : _("{title} now comes before {other}", parts);
    return change("feedscript/reorder", { step: one.step, to: there.step }, now, { step: there.step });
  }

  function stretch(step, number, to, title) {
    if (!Number.isFinite(to)) return say(_("Write a number there"));
    return change("feedscript/stretch", { step, number, to }, `${title}: ${to}`, step < 0 ? {} : { step });
  }

  function stretchOwn(one, to) {
    const length = own(one);
    if (!length) return say(_("{title} has no length of its own in the words", { title: one.title }));
    if (to === length.value) return say("");
    return stretch(one.step, one.lengths.indexOf(length), to, `${length.before} ${length.unit} ${length.after}`.trim());
  }

  // --- the chosen block

  function field(step, length, number) {
    const named = [length.before, length.unit, length.after].filter(Boolean).join(" ");
    if (length.value === null) return make("span", { className: "fixed", textContent: inWords(length) });
    const input = make("input", { type: "number", value: length.value, step: length.step, min: length.unit ? 0.01 : 1,
      ariaLabel: named });
    input.step = length.unit ? "any" : "1";
    input.addEventListener("input", () => { typed = input; });
    input.addEventListener("change", () => {
      typed = null;
      stretch(step, number, Number(input.value), named);
    });
    input.addEventListener("blur", () => {
      typed = null;
      if (waits) drawAbout();
    });
    input.addEventListener("keydown", (event) => {
      const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!way || !length.unit) return;
      event.preventDefault();
      typed = input;
      input.value = Math.max(length.step, Number(input.value) + way * length.step);
    });
    const by = length.written.startsWith(String(length.value)) ? "" : ` (${length.written})`;
    return make("label", {}, `${length.before} `, input, ` ${[length.unit, length.after].filter(Boolean).join(" ")}${by}`);
  }

  const numbers = () => [...about.querySelectorAll("input")];

  // A number that is being typed is not drawn over, and who is in a field stays in it.
  function drawAbout() {
    const at = numbers().indexOf(document.activeElement);
    waits = typed !== null && numbers()[at] === typed;
    if (waits) return;
    drawLengths();
    if (at >= 0 && numbers()[at] !== document.activeElement) numbers()[at]?.select();
  }

  function drawLengths() {
    const one = block(chosen), whole = told.lengths;
    const wholeFields = () => whole.map((length, number) => field(-1, length, number));
    if (!one) {
      const advice = () => make("small", { textContent: _("Choose a block to change its lengths; drag it to another place.") });
      return drawParts(about, [{ key: "whole", said: whole, draw: () => [...wholeFields(), advice()] }]);
    }
    const there = (way) => neighbour(told, block(one.step), way), [earlier, later] = [-1, 1].map((way) => Boolean(there(way)));
    const go = (words, way, may) => {
      const button = make("button", { type: "button", textContent: words, disabled: !may });
      button.addEventListener("click", () => move(block(one.step), there(way)));
      return button;
    };
    const words = () => _("{time}, {minutes} filled", { time: fromTo(one), minutes: minutes(one.filled_s) });
    drawParts(about, [{ key: one.step, said: [one.title, one.begin_s, one.end_s, one.filled_s, one.lengths, earlier, later, whole],
      draw: () => [make("b", { textContent: one.title }), make("span", { textContent: words() }),
        go(_("Earlier"), -1, earlier), go(_("Later"), 1, later),
        ...one.lengths.map((length, number) => field(one.step, length, number)), ...wholeFields()] }]);
  }

  function choose(one) {
    chosen = one.step;
    mark();
    drawAbout();
  }

  // Which block is chosen: it takes the tab key, else the first one does.
  function mark() {
    const all = [...steps.children], pressed = all.find((each) => Number(each.dataset.step) === chosen);
    for (const each of all) {
      each.setAttribute("aria-pressed", String(each === pressed));
      each.tabIndex = each === (pressed ?? all[0]) ? 0 : -1;
    }
  }

  // --- drawing and dragging

  // A block stays as it is drawn while it looks the same: what is done to it is done to the step as it
  // stands by then.
  function part(one, number) {
    const seconds = one.end_s - one.begin_s, named = seconds / told.whole_s >= NAMED_FROM;
    const name = one.exercise ? `${one.title} · ${minutes(seconds)}` : one.title;
    const shown = [one.exercise ? `${number} ` : "", named ? name : ""];
    return { key: one.step, said: [one.kind, one.title, one.begin_s, one.end_s, one.filled_s, told.whole_s, Boolean(own(one)), shown],
      draw: () => drawn(one, ...shown) };
  }

  function drawn(one, number, name) {
    const button = placed(make("button", { type: "button", className: `block is-${one.kind}`, title: `${one.title}, ${fromTo(one)}` }),
      one.begin_s, one.end_s, told.whole_s);
    button.dataset.step = one.step;
    button.setAttribute("aria-label", label(one));
    const filled = make("i", { className: "filled", ariaHidden: "true" });
    filled.style.width = share(one.filled_s, one.end_s - one.begin_s);
    const called = name ? [make("span", { className: "name", textContent: name })] : [];
    button.append(filled, ...(number ? [make("span", {}, number, ...called)] : called));
    if (own(one)) button.append(make("i", { className: "edge", ariaHidden: "true" }));
    button.addEventListener("keydown", (event) => keyed(event, block(one.step)));
    draggable(button, () => block(one.step));
    return button;
  }

  function keyed(event, one) {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    if (event.altKey && event.shiftKey) {
      const length = own(one);
      stretchOwn(one, length && Math.max(length.step, length.value + way * length.step));
    } else if (event.altKey) move(one, neighbour(told, one, way));
    else event.currentTarget[way > 0 ? "nextElementSibling" : "previousElementSibling"]?.focus();
  }

  // `now` is the step that is dragged, as it stands.
  function draggable(button, now) {
    const { width } = button.style;
    let from = null, edge = false, to = null;
    const seconds = (px) => (px / steps.clientWidth) * told.whole_s;
    const rest = () => {
      from = to = null;
      button.style.transform = "";
      button.style.width = width;
      button.classList.remove("dragged");
      box.querySelector(".into")?.classList.remove("into");
    };
    button.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      from = event.clientX;
      edge = event.target.className === "edge";
      button.setPointerCapture(event.pointerId);
    });
    button.addEventListener("pointermove", (event) => {
      if (from === null) return;
      const by = event.clientX - from, one = now();
      if (to === null && Math.abs(by) < STARTS_AFTER_PX) return;
      button.classList.add("dragged");
      if (edge) {
        const factor = Math.max(0.05, 1 + seconds(by) / (one.end_s - one.begin_s));
        to = { length: longer(one, own(one), factor) };
        button.style.width = share((one.end_s - one.begin_s) * factor, told.whole_s);
        return say(`${own(one).before} ${to.length} ${own(one).unit || own(one).after}`);
      }
      button.style.transform = `translateX(${by}px)`;
      const line = steps.getBoundingClientRect();
      to = { there: target(told, one, seconds(event.clientX - line.left)) };
      box.querySelector(".into")?.classList.remove("into");
      if (to.there !== one) box.querySelector(`[data-step="${to.there.step}"]`).classList.add("into");
    });
    button.addEventListener("pointerup", () => {
      const done = to, one = now();
      if (from === null) return;
      rest();
      if (!done) {
        choose(one);
        return on.point({ start: one.start, end: one.end });
      }
      if (done.length !== undefined) stretchOwn(one, done.length);
      else move(one, done.there);
    });
    button.addEventListener("pointercancel", rest);
    button.addEventListener("keydown", (event) => { if (event.key === "Escape") rest(); });
    button.addEventListener("click", (event) => {
      const one = now();
      if (event.detail === 0) { choose(one); on.point({ start: one.start, end: one.end }); } // by a key
    });
  }

  // `fresh` drops what was chosen: another program. None to draw leaves the last line, faded.
  function draw(next, fresh = false) {
    if (fresh) {
      chosen = held = told = null;
      waits = false;
      for (const each of [box, steps, about]) drawParts(each, []);
      say("");
    }
    parent.classList.toggle("stale", !next && Boolean(told));
    if (!next) return;
    told = next;
    if (!block(chosen)) chosen = null;
    const focused = box.contains(document.activeElement) ? Number(document.activeElement.dataset.step) : null;
    const blocks = counted(), exercises = told.blocks.filter((one) => one.exercise);
    const shown = longest(told.blocks.filter((one) => one.end_s > one.begin_s), BLOCKS_SHARE, blocks, (one) => one.end_s - one.begin_s);
    drawParts(steps, shown.map((one) => part(one, exercises.indexOf(one) + 1)));
    const { rows, left } = rowsOf(told);
    drawParts(box, [{ key: "steps", said: "", draw: () => stepsRow }, ...rows,
      { key: "left out", said: [blocks, left], draw: () => [
        ...leftOut(blocks, (parts) => _("{n} of {all} steps are drawn, the longest.", parts)),
        ...leftOut(left, (parts) => _("{n} of {all} turns are drawn, the longest of each row.", parts))] }]);
    mark();
    drawAbout();
    const back = held ?? focused;
    held = null;
    if (back !== null && !about.contains(document.activeElement)) box.querySelector(`[data-step="${back}"]`)?.focus({ preventScroll: true });
  }

  return { draw };
}
