// The court drawn over the film's still. Every named point can be put where it is: by a pointer, or
// chosen and moved by the arrow keys. While a hand moves, the points alone are solved; when it lets
// go, the painted lines near by are looked for as well.

import { shape } from "./shapes.js";
import { keyed } from "/static/page_key.js";
import { _, figure } from "/static/words.js";

const by = (id) => document.getElementById(id);
const KEYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] };
const TIMES = 6; // the loupe, for a picture 1280 wide
const LEAST_POINTS = 4;
const REACH_PX = 22;
const still = (court) => keyed(`/stills/${court.part}.jpg`);

export class Over {
  // `solve` is given points, the camera's end and whether lines are looked for.
  constructor(solve) {
    this.solve = solve;
    this.pins = {};
    this.current = null;
    this.held = null; // the point under the hand
    this.asking = null;
    this.next = null;
    by("which").addEventListener("change", (event) => this.choose(event.target.value, true));
    by("which").addEventListener("keydown", (event) => event.key === "Enter" && this.take(event));
    by("let-go").addEventListener("click", () => this.letGo(this.current));
    by("over").addEventListener("pointerdown", (event) => this.placed(event));
    new ResizeObserver(() => this.court && this.draw()).observe(by("over"));
  }

  show(court) {
    this.court = court;
    // An answer to an older question says nothing of points that were moved since.
    if (!this.held && !this.next) this.pins = Object.fromEntries(court.points.filter((one) => one.shown).map((one) => [one.name, one.px]));
    if (!this.current) this.current = this.inTheMiddle();
    this.draw();
  }

  // The words of the list, which says of each point whether it is in the picture.
  list() {
    const which = by("which");
    which.replaceChildren(...this.court.points.map((one) => {
      const state = one.shown ? "● " : one.px ? "" : "○ ";
      return new Option(state + one.words, one.name, false, one.name === this.current);
    }));
  }

  px(name) {
    return this.pins[name] ?? this.court.points.find((one) => one.name === name)?.px ?? null;
  }

  // Where words about a place hide no point: there, or above those that lie under them.
  besideRings([x, y], half, high) {
    const under = this.court.points.map((one) => this.px(one.name))
      .filter((px) => px && Math.abs(px[0] - x) < half + high && Math.abs(px[1] - y) < 1.5 * high);
    return under.length ? [x, Math.min(...under.map((px) => px[1])) - high] : [x, y];
  }

  // The point to begin with: one that has the picture around it.
  inTheMiddle() {
    const { points, width_px, height_px } = this.court;
    const off = ([x, y]) => Math.hypot(x - width_px / 2, y - height_px / 2);
    const seen = points.filter((one) => one.px).sort((one, other) => off(one.px) - off(other.px));
    return (seen[0] ?? points[0]).name;
  }

  // How many pixels of the film lie under one of the screen.
  scale() {
    const width = by("over").clientWidth;
    return width ? this.court.width_px / width : 1;
  }

  draw() {
    const { court } = this;
    const svg = by("over"), scale = this.scale();
    const focused = svg.contains(document.activeElement) ? document.activeElement.dataset.name : null;
    const lines = court.lines.flatMap((line) => {
      const points = line.px.map((place) => place.join(",")).join(" ");
      return [
        shape("polyline", { class: "casing", points }),
        shape("polyline", { class: `line ${line.ground ? "ground" : "net"}`, points }),
      ];
    });
    const letters = Math.min(15, 8 + by("over").clientWidth / 120) * scale;
    const ends = court.ends.map(([words, place]) => {
      const [x, y] = this.besideRings(place, letters * words.length * 0.3, letters);
      return shape("text", { x, y, "font-size": letters }, words);
    });
    const points = court.points.filter((one) => this.px(one.name)).map((one) => this.point(one, scale));
    svg.setAttribute("viewBox", `0 0 ${court.width_px} ${court.height_px}`);
    if (svg.dataset.drawn === String(court.part)) {
      while (svg.children.length > 1) svg.lastChild.remove();
    } else {
      svg.replaceChildren(shape("image", { href: still(court), width: court.width_px, height: court.height_px }));
      svg.dataset.drawn = court.part;
    }
    svg.append(...lines, ...ends, ...points);
    if (focused) svg.querySelector(`[data-name="${focused}"]`)?.focus({ preventScroll: true });
    this.list();
    this.loupe();
  }

  point(one, scale) {
    const [x, y] = this.px(one.name);
    const shown = one.name in this.pins;
    const element = shape("g", {
      class: ["point", shown && "shown", one.name === this.current && "current"].filter(Boolean).join(" "),
      transform: `translate(${x} ${y})`, tabindex: 0, role: "button", "data-name": one.name,
      "aria-label": _("{point}: {across} across, {down} down", {
        point: one.words, across: figure(x, 0), down: figure(y, 0),
      }),
      "aria-pressed": String(shown),
    },
    shape("circle", { class: "hit", r: REACH_PX * scale }),
    shape("circle", { class: "ring", r: Math.min(7, 3 + by("over").clientWidth / 200) * scale }),
    shape("circle", { class: "dot", r: 1.5 * scale }));
    element.addEventListener("focus", () => this.choose(one.name, false));
    element.addEventListener("keydown", (event) => this.onKey(event, one.name));
    return element;
  }

  choose(name, focus) {
    if (this.current !== name) {
      this.current = name;
      for (const one of by("over").querySelectorAll(".point")) one.classList.toggle("current", one.dataset.name === name);
      by("which").value = name;
    }
    this.loupe();
    if (focus && !this.px(name)) this.tell(_("Tap the place in the picture, or press Enter to put it in the middle."));
  }

  // From the list to the point in the picture; one that has no place begins in the middle.
  take(event) {
    event.preventDefault();
    const name = event.target.value;
    if (!this.px(name)) this.put(name, [this.court.width_px / 2, this.court.height_px / 2], true);
    by("over").querySelector(`[data-name="${name}"]`)?.focus();
  }

  tell(words) {
    by("where").textContent = words;
  }

  // The chosen point and what is around it, enlarged.
  loupe() {
    const svg = by("loupe"), place = this.px(this.current);
    by("let-go").disabled = !(this.current in this.pins);
    svg.replaceChildren();
    if (!place) {
      this.tell(_("This point is not in the picture. Choose it, then tap its place."));
      return;
    }
    const [x, y] = place;
    const width = this.court.width_px / TIMES, height = width * (svg.clientHeight / svg.clientWidth || 0.75);
    svg.setAttribute("viewBox", `${x - width / 2} ${y - height / 2} ${width} ${height}`);
    const cross = width / 12;
    svg.append(
      shape("image", { href: still(this.court), width: this.court.width_px, height: this.court.height_px }),
      ...this.court.lines.map((line) => shape("polyline", {
        class: `line ${line.ground ? "ground" : "net"}`, points: line.px.map((one) => one.join(",")).join(" "),
      })),
      shape("path", { class: "cross", d: `M${x - cross} ${y}h${cross * 0.7}m${cross * 0.6} 0h${cross * 0.7}M${x} ${y - cross}v${cross * 0.7}m0 ${cross * 0.6}v${cross * 0.7}` }),
    );
    const { words } = this.court.points.find((one) => one.name === this.current);
    this.tell(_("{point}: {across} across, {down} down", { point: words, across: figure(x, 1), down: figure(y, 1) }));
  }

  at(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(by("over").getScreenCTM().inverse());
    return [point.x, point.y];
  }

  // The point whose ring is nearest to a place, where a finger would mean it; far ones lie close together.
  nearest([x, y]) {
    const near = this.court.points.filter((one) => this.px(one.name))
      .map((one) => [Math.hypot(this.px(one.name)[0] - x, this.px(one.name)[1] - y), one.name])
      .sort(([one], [other]) => one - other)[0];
    return near && near[0] < REACH_PX * this.scale() ? near[1] : null;
  }

  // A pointer goes down: onto a point, which then comes along; or where a point is that had no place.
  placed(event) {
    if (event.button !== 0 || !this.court) return;
    const name = this.nearest(this.at(event));
    if (!name) {
      if (!this.px(this.current)) this.put(this.current, this.at(event), true);
      return;
    }
    event.preventDefault();
    const svg = by("over"), from = this.at(event), was = this.px(name);
    this.choose(name, false);
    svg.querySelector(`[data-name="${name}"]`)?.focus({ preventScroll: true });
    let moved = false;
    const move = (one) => {
      const here = this.at(one);
      if (!moved && Math.hypot(here[0] - from[0], here[1] - from[1]) < 3 * this.scale()) return;
      moved = true;
      this.held = name;
      this.put(name, [was[0] + here[0] - from[0], was[1] + here[1] - from[1]], false);
    };
    const end = () => {
      svg.removeEventListener("pointermove", move);
      this.held = null;
      if (moved) this.put(name, this.pins[name], true);
    };
    svg.setPointerCapture(event.pointerId);
    svg.addEventListener("pointermove", move);
    for (const kind of ["pointerup", "pointercancel"]) svg.addEventListener(kind, end, { once: true });
  }

  onKey(event, name) {
    const way = KEYS[event.key];
    if (event.key === "Delete" || event.key === "Backspace") { event.preventDefault(); this.letGo(name); }
    if (!way) return;
    event.preventDefault();
    const step = event.shiftKey ? 10 : event.altKey ? 0.25 : 1;
    this.put(name, this.px(name).map((one, axis) => one + way[axis] * step), true);
  }

  put(name, place, byLines) {
    const most = [this.court.width_px - 1, this.court.height_px - 1];
    this.pins = { ...this.pins, [name]: place.map((one, axis) => Math.min(Math.max(one, 0), most[axis])) };
    this.draw();
    this.ask(byLines);
  }

  letGo(name) {
    if (!(name in this.pins)) return;
    const { [name]: _gone, ...rest } = this.pins;
    this.pins = rest;
    this.ask(true);
  }

  again() {
    this.pins = {};
    this.ask(true);
  }

  standsAt(end) {
    this.court = { ...this.court, camera_at: end };
    this.ask(true);
  }

  // One question at a time; the newest waits, and those between are left out.
  ask(byLines) {
    this.next = [this.pins, this.court.camera_at, byLines];
    this.asking ??= this.answers();
  }

  async answers() {
    while (this.next) {
      const asked = this.next;
      this.next = null;
      await this.solve(...asked);
    }
    this.asking = null;
  }

  // Whether some points are shown, and too few of them.
  get few() {
    const count = Object.keys(this.pins).length;
    return count > 0 && count < LEAST_POINTS;
  }

  // When every question so far is answered.
  async settled() {
    while (this.asking) await this.asking;
  }
}
