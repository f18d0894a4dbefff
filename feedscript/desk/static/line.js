// The lesson's steps as blocks to scale, with the turns below: chosen, put elsewhere, stretched.
import { clock, counted, leftOut, longest, make, minutes, share } from "./hour_parts.js";
import { _, n_, p_ } from "/static/words.js";

const STARTS_AFTER_PX = 4;
const WORDS_FROM = 0.05; // of the width: a narrower turn shows no name
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

function turns(row, told, left) {
  const shown = together(row.marks);
  const marks = longest(shown, told.rows.length + 1, left).map(([begin_s, end_s, words, , kind]) => {
    const mark = make("i", { className: `is-${kind === "on" ? "play" : kind}`, title: `${words}, ${clock(begin_s)}` });
    if ((end_s - begin_s) / told.whole_s > WORDS_FROM) mark.textContent = words;
    return placed(mark, begin_s, end_s, told.whole_s);
  });
  const several = n_("{n} turn", "{n} turns", shown.length);
  const track = make("div", { className: "lane turns", role: "img", ariaLabel: [row.name || _("The launcher"), several].join(": ") }, ...marks);
  return make("div", { className: "line-row" }, make("span", { textContent: row.name || _("turns") }), track);
}

function stops(told, left) {
  return longest(told.stops.filter(([, , , , kind]) => kind !== "spare"), told.rows.length + 1, left).map(([begin_s, end_s, words, , kind]) =>
    placed(make("u", { className: `is-${kind}`, title: `${words}, ${clock(begin_s)}` }), begin_s, end_s, told.whole_s));
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
  parent.append(box, about, said);
  let told = null, chosen = null, held = null;

  const say = (words) => { said.textContent = words ? words[0].toUpperCase() + words.slice(1) + (/[.!?]$/.test(words) ? "" : ".") : ""; };
  const block = (step) => told?.blocks.find((one) => one.step === step) ?? null;

  // --- changes of the words

  async function change(method, wanted, done, then = {}) {
    if (on.fixed()) return say(_("A shipped program is looked at: copy it, to change it."));
    const before = on.text();
    const answer = await on.ask(method, wanted).catch((failed) => ({ choices: [], refused: failed.message }));
    if (on.text() !== before) return say(_("The words changed meanwhile: try it again."));
    if (!answer.choices.length) return say(answer.refused);
    const take = (choice) => {
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

  function put(one, there) {
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
    input.addEventListener("change", () => stretch(step, number, Number(input.value), named));
    input.addEventListener("keydown", (event) => {
      const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!way || !length.unit) return;
      event.preventDefault();
      input.value = Math.max(length.step, Number(input.value) + way * length.step);
    });
    const by = length.written.startsWith(String(length.value)) ? "" : ` (${length.written})`;
    return make("label", {}, `${length.before} `, input, ` ${[length.unit, length.after].filter(Boolean).join(" ")}${by}`);
  }

  function drawAbout() {
    const one = block(chosen);
    const whole = told ? told.lengths.map((length, number) => field(-1, length, number)) : [];
    if (!one) return about.replaceChildren(...whole, make("small", { textContent: _("Choose a block to change its lengths; drag it to another place.") }));
    const go = (words, way) => {
      const there = neighbour(told, one, way);
      const button = make("button", { type: "button", textContent: words, disabled: !there });
      button.addEventListener("click", () => put(one, there));
      return button;
    };
    about.replaceChildren(make("b", { textContent: one.title }),
      make("span", { textContent: _("{time}, {minutes} filled", { time: fromTo(one), minutes: minutes(one.filled_s) }) }),
      go(_("Earlier"), -1), go(_("Later"), 1), ...one.lengths.map((length, number) => field(one.step, length, number)), ...whole);
  }

  function choose(one) {
    chosen = one.step;
    for (const each of box.querySelectorAll(".block")) each.setAttribute("aria-pressed", String(Number(each.dataset.step) === chosen));
    drawAbout();
  }

  // --- drawing and dragging

  function drawn(one, first) {
    const button = placed(make("button", { type: "button", className: `block is-${one.kind}`, title: `${one.title}, ${fromTo(one)}` }),
      one.begin_s, one.end_s, told.whole_s);
    button.dataset.step = one.step;
    button.tabIndex = one === first ? 0 : -1;
    button.setAttribute("aria-label", label(one));
    button.setAttribute("aria-pressed", String(one.step === chosen));
    const whole_s = one.end_s - one.begin_s;
    const filled = make("i", { className: "filled", ariaHidden: "true" });
    filled.style.width = share(one.filled_s, whole_s);
    const number = told.blocks.filter((each) => each.exercise).indexOf(one) + 1;
    const words = one.exercise ? `${number} ${one.title} · ${minutes(whole_s)}` : one.title;
    const narrow = whole_s / told.whole_s < WORDS_FROM;
    button.append(filled, make("span", { textContent: narrow ? (one.exercise ? number : "") : words }));
    if (own(one)) button.append(make("i", { className: "edge", ariaHidden: "true" }));
    button.addEventListener("keydown", (event) => keyed(event, one));
    draggable(button, one);
    return button;
  }

  function keyed(event, one) {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    if (event.altKey && event.shiftKey) {
      const length = own(one);
      stretchOwn(one, length && Math.max(length.step, length.value + way * length.step));
    } else if (event.altKey) put(one, neighbour(told, one, way));
    else event.currentTarget[way > 0 ? "nextElementSibling" : "previousElementSibling"]?.focus();
  }

  function draggable(button, one) {
    let from = null, edge = false, to = null;
    const seconds = (px) => (px / box.querySelector(".line-steps").clientWidth) * told.whole_s;
    const rest = () => {
      from = to = null;
      button.style.transform = "";
      button.style.width = share(one.end_s - one.begin_s, told.whole_s);
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
      const by = event.clientX - from;
      if (to === null && Math.abs(by) < STARTS_AFTER_PX) return;
      button.classList.add("dragged");
      if (edge) {
        const factor = Math.max(0.05, 1 + seconds(by) / (one.end_s - one.begin_s));
        to = { length: longer(one, own(one), factor) };
        button.style.width = share((one.end_s - one.begin_s) * factor, told.whole_s);
        return say(`${own(one).before} ${to.length} ${own(one).unit || own(one).after}`);
      }
      button.style.transform = `translateX(${by}px)`;
      const line = box.querySelector(".line-steps").getBoundingClientRect();
      to = { there: target(told, one, seconds(event.clientX - line.left)) };
      box.querySelector(".into")?.classList.remove("into");
      if (to.there !== one) box.querySelector(`[data-step="${to.there.step}"]`).classList.add("into");
    });
    button.addEventListener("pointerup", () => {
      const done = to;
      if (from === null) return;
      rest();
      if (!done) {
        choose(one);
        return on.point({ start: one.start, end: one.end });
      }
      if (done.length !== undefined) stretchOwn(one, done.length);
      else put(one, done.there);
    });
    button.addEventListener("pointercancel", rest);
    button.addEventListener("keydown", (event) => { if (event.key === "Escape") rest(); });
    button.addEventListener("click", (event) => {
      if (event.detail === 0) { choose(one); on.point({ start: one.start, end: one.end }); } // by a key
    });
  }

  // `fresh` drops what was chosen: another program. None to draw leaves the last line, faded.
  function draw(next, fresh = false) {
    if (fresh) { chosen = held = null; told = null; box.replaceChildren(); about.replaceChildren(); say(""); }
    parent.classList.toggle("stale", !next && Boolean(told));
    if (!next) return;
    told = next;
    if (!block(chosen)) chosen = null;
    const focused = box.contains(document.activeElement) ? Number(document.activeElement.dataset.step) : null;
    const blocks = counted(), marks = counted();
    const shown = longest(told.blocks.filter((one) => one.end_s > one.begin_s), BLOCKS_SHARE, blocks, (one) => one.end_s - one.begin_s);
    const steps = make("div", { className: "lane line-steps", role: "group", ariaLabel: _("Steps of the lesson, to scale") },
      ...shown.map((one) => drawn(one, shown.includes(block(chosen)) ? block(chosen) : shown[0])));
    box.replaceChildren(
      make("div", { className: "line-row" }, make("span", { textContent: p_("line", "lesson") }), steps),
      make("div", { className: "line-row" }, make("span", { textContent: _("off court") }),
        make("div", { className: "lane turns", role: "img", ariaLabel: _("When the launcher is off") }, ...stops(told, marks))),
      ...told.rows.slice(0, MOST_ROWS).map((row) => turns(row, told, marks)), ticks(told),
      ...leftOut(blocks, (parts) => _("{n} of {all} steps are drawn, the longest.", parts)),
      ...leftOut({ ...marks, all: marks.all + told.rows.slice(MOST_ROWS).flatMap((row) => row.marks).length },
        (parts) => _("{n} of {all} turns are drawn, the longest of each row.", parts)));
    drawAbout();
    const back = held ?? focused;
    held = null;
    if (back !== null) box.querySelector(`[data-step="${back}"]`)?.focus({ preventScroll: true });
  }

  return { draw };
}
