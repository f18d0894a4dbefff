// The hour: its steps as a line to scale, where its time goes, who does what, the tightest moments.
import { clock, counted, leftOut, longest, make, minutes, share } from "./hour_parts.js";
import { openLine } from "./line.js";
import { letGo } from "./pressed.js";
import { drawParts } from "./redraw.js";
import { atRest, givenUp } from "./rest.js";
import { _, p_ } from "/static/words.js";

// Where the hour goes, in parts that add up, each with its field and how it is called.
const PARTS = [
  ["play_s", p_("time", "play"), "play"], ["change_overs_s", _("changing over"), "change"], ["collecting_s", _("collecting"), "collect"],
  ["breaks_s", _("breaks"), "break"], ["people_s", _("getting ready"), "ready"], ["spare_s", _("to spare in exercises"), "spare"],
];

function whereItGoes(hour) {
  const planned = hour.planned_s ?? 0;
  const left = Math.max(0, planned - hour.whole_s);
  const parts = PARTS.map(([field, words, kind]) => ({ seconds: hour[field], words, kind }));
  if (planned) parts.push({ seconds: left, words: _("left over"), kind: "left" });
  const shown = parts.filter((one) => one.seconds >= 30);
  const whole = Math.max(hour.whole_s, planned);
  const bar = make("div", { className: "goes", ariaHidden: "true" }, ...shown.map((one) => {
    const part = make("i", { className: `is-${one.kind}`, title: `${one.words}: ${minutes(one.seconds)}` });
    part.style.width = share(one.seconds, whole);
    return part;
  }));
  const over = planned && hour.whole_s > planned + 30 ? _("{time} too long", { time: minutes(hour.whole_s - planned) }) : "";
  const times = { time: minutes(hour.whole_s), planned: minutes(planned) };
  const upTo = planned ? _("Up to {time} of {planned}", times) : _("Up to {time}", times);
  const head = make("b", { textContent: [upTo, over].filter(Boolean).join(", ") });
  const told = make("p", { className: "goes-words" }, head, ...shown.map((one) => make("span", {},
    make("i", { className: `swatch is-${one.kind}`, ariaHidden: "true" }), `${one.words} ${minutes(one.seconds)}`)));
  return [bar, told];
}

// --- what each child does

function lane(line, number, left) {
  const marks = [...line.stops, ...line.rows.flatMap((row) => row.marks).filter(([, , , child]) => child === number)];
  const drawn = longest(marks, line.children.length, left).map(([begin_s, end_s, words, , kind]) => {
    const mark = make("i", { className: `is-${kind === "on" ? "play" : kind}`, title: _("{words}, from {time}", { words, time: clock(begin_s) }) });
    mark.style.left = share(begin_s, line.whole_s);
    mark.style.width = share(end_s - begin_s, line.whole_s);
    return mark;
  });
  return make("div", { className: "lane", ariaHidden: "true" }, ...drawn);
}

function childRow(line, child, number, left) {
  const [from_s, to_s] = child.longest;
  const waits = _("{waits}, longest {longest} at {time}", { waits: clock(child.waits_s), longest: clock(to_s - from_s), time: clock(from_s) });
  const cells = [[_("balls"), `${child.balls}`], [_("plays"), clock(child.plays_s)],
    [_("works"), child.works_s ? clock(child.works_s) : "–"], [_("waits"), waits]];
  const own = lane(line, number, left);
  const longest = make("i", { className: "longest" });
  longest.style.left = share(from_s, line.whole_s);
  longest.style.width = share(to_s - from_s, line.whole_s);
  own.append(longest);
  return make("tr", {}, make("th", { scope: "row", textContent: child.name }), make("td", { className: "lane-cell" }, own),
    ...cells.map(([head, textContent]) => {
      const cell = make("td", { textContent });
      cell.dataset.head = head; // said on a phone, which has no heads
      return cell;
    }));
}

function children(line) {
  const heads = [_("Player"), _("The hour"), _("Balls"), _("Plays"), _("Works"), _("Waits")], left = counted();
  const table = make("table", { className: "children" },
    make("thead", {}, make("tr", {}, ...heads.map((textContent) => make("th", { scope: "col", textContent })))),
    make("tbody", {}, ...line.children.map((one, number) => childRow(line, one, number, left))));
  return make("div", {}, table, ...leftOut(left, (parts) => _("{n} of {all} turns are drawn, the longest of each row.", parts)));
}

// --- the tightest moments

// What a moment says; where its words stand is another matter.
const saidOf = ({ start, end, ...said }) => [said, start === null];

// `now` is the moment as its words stand by then.
function moment(one, now, on) {
  const button = make("button", { type: "button", className: `moment${one.over ? " over" : ""}` });
  const meter = make("i", { className: "meter", ariaHidden: "true" }, make("i"));
  meter.firstChild.style.width = share(Math.min(one.near, 1), 1);
  const when = one.at_s ? ` (${clock(one.at_s[0])})` : "";
  button.append(make("b", { textContent: one.title }), meter,
    make("small", { textContent: _("{n} % of what may be", { n: Math.round(100 * one.near) }) }),
    make("span", { textContent: one.words + when }));
  button.disabled = one.start === null;
  button.addEventListener("click", () => on.show(now()));
  return make("li", {}, button);
}

// The hour of the open program. `on`: ask(method, wanted), change(edits), show(words), text(), fixed().
export function openHour(parent, on) {
  const nothing = make("p", { className: "nothing", textContent: _("The hour is drawn as soon as the words can be read."), hidden: true });
  const goes = make("div", {});
  const lineBox = make("div", {});
  const more = make("div", { className: "hour-more" });
  parent.append(nothing, goes, lineBox, more);
  const line = openLine(lineBox, on);
  let asked = 0, season = false, tightest = [];

  // What is folded out stays so when it is drawn anew.
  function part(key, words, said, inside) {
    const open = more.querySelector(`.${key}`)?.open ?? false;
    return { key, said, draw: () => make("details", { className: key, open }, make("summary", { textContent: words }), inside()) };
  }

  function drawMore(told) {
    tightest = told.tight;
    const moments = () => make("ul", { className: "moments" },
      ...tightest.map((one, at) => moment(one, () => tightest[at], on)));
    drawParts(more, [
      ...(told.children.length ? [part("who", _("Who does what"), [told.children, told.rows, told.stops, told.whole_s], () => children(told))] : []),
      ...(told.tight.length ? [part("tight", _("The tightest moments"), told.tight.map(saidOf), moments)] : []),
    ]);
  }

  async function draw() {
    const mine = (asked += 1);
    const before = on.text();
    const told = await on.ask("feedscript/hour", null).catch(() => null);
    await letGo();
    if (mine !== asked || on.text() !== before) return;
    line.draw(told);
    parent.classList.toggle("stale", !told);
    nothing.hidden = season || Boolean(told) || Boolean(lineBox.querySelector(".block"));
    if (told) drawMore(told);
  }

  return {
    // After every check: the figures at once, the line when the hand rests.
    seen: (told) => {
      season = Boolean(told.season);
      goes.hidden = !told.hour || told.hour.whole_s <= 0;
      if (!goes.hidden) drawParts(goes, [{ key: "goes", said: told.hour, draw: () => whereItGoes(told.hour) }]);
      atRest("hour", draw);
    },
    // Brings a player's longest wait into sight.
    waits: (child) => {
      const details = more.querySelector(".who");
      const row = details?.querySelectorAll("tbody tr")[child];
      if (!row) return;
      details.open = true;
      for (const each of more.querySelectorAll("tr.shown")) each.classList.remove("shown");
      row.classList.add("shown");
      row.scrollIntoView({ block: "nearest" });
    },
    forget: () => {
      givenUp("hour");
      asked += 1;
      nothing.hidden = true;
      for (const each of [goes, more]) drawParts(each, []);
      line.draw(null, true);
    },
  };
}
