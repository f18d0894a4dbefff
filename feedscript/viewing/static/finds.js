// A card a ball: its pictures, where it was to land and where it did, and a yes or a no.

import { shape } from "./shapes.js";
import { keyed } from "/static/page_key.js";
import { _, figure, n_ } from "/static/words.js";

const by = (id) => document.getElementById(id);

function made(kind, attributes = {}, ...inside) {
  const { class: name, ...rest } = attributes;
  const element = Object.assign(document.createElement(kind), rest);
  if (name) element.className = name;
  element.append(...inside);
  return element;
}

// The half of the court on which balls land, as whoever stands at the launcher sees it.
function region(finds) {
  const places = finds.lines_m.flat().concat(finds.cards.flatMap((one) => [one.asked_m, one.landed_m].filter(Boolean)));
  const xs = places.map(([x]) => Math.abs(x)), ys = places.map(([, y]) => y);
  const wide = Math.max(...xs) + 0.8, back = Math.max(...ys) + 1.2;
  return [-wide, -back, 2 * wide, back + 0.6];
}

function drawn(one, numbered) {
  const inside = [];
  if (one.landed_m) {
    const [ax, ay] = one.asked_m, [x, y] = one.landed_m;
    inside.push(
      shape("line", { class: "off", x1: ax, y1: -ay, x2: x, y2: -y }),
      shape("circle", { class: "asked", cx: ax, cy: -ay, r: 0.28 }),
      shape("polygon", { class: "region", points: one.region_m.map(([px, py]) => `${px},${-py}`).join(" ") }),
      shape("circle", { class: "landed", cx: x, cy: -y, r: 0.14 }),
    );
    if (one.said === "no") {
      inside.push(shape("path", { class: "no", d: `M${x - 0.4} ${-y - 0.4}l.8 .8M${x + 0.4} ${-y - 0.4}l-.8 .8` }));
    }
    if (numbered) inside.push(shape("text", { x: x + 0.25, y: -y - 0.2 }, String(one.number)));
  }
  return shape("g", {}, ...inside);
}

function plan(svg, finds, cards, numbered) {
  svg.setAttribute("class", "plan");
  svg.setAttribute("viewBox", region(finds).join(" "));
  const wide = region(finds)[2] / 2 - 0.4;
  svg.replaceChildren(
    ...finds.lines_m.map(([[x1, y1], [x2, y2]]) => shape("line", { class: "court", x1, y1: -y1, x2, y2: -y2 })),
    shape("line", { class: "net", x1: -wide, y1: 0, x2: wide, y2: 0 }),
    ...cards.map((one) => drawn(one, numbered)),
  );
}

export class Finds {
  // `say` is given a ball's number and "yes", "no" or null.
  constructor(say) {
    this.say = say;
    this.cards = new Map();
    this.current = null;
    document.addEventListener("keydown", (event) => this.onKey(event));
  }

  show(finds) {
    this.finds = finds;
    const numbers = finds.cards.map((one) => one.number).join();
    if (numbers !== this.numbers) {
      this.numbers = numbers;
      this.current = null;
      this.cards = new Map(finds.cards.map((one) => [one.number, this.card(one)]));
      by("cards").replaceChildren(...[...this.cards.values()].map((card) => card.element));
    }
    for (const one of finds.cards) this.update(one);
    plan(by("all"), finds, finds.cards, true);
    const measured = finds.cards.filter((one) => one.landed_m);
    const said = measured.filter((one) => one.said);
    by("count").textContent = [
      n_("{n} ball was measured.", "{n} balls were measured.", measured.length),
      _("{n} judged; one that is not judged goes on like a yes.", { n: said.length }),
    ].join(" ");
  }

  card(one) {
    const picture = shape("svg", { role: "img" });
    const answers = ["yes", "no"].map((said) => {
      const button = made("button", { type: "button", class: `pressed-${said}`, textContent: said === "yes" ? _("Yes") : _("No") });
      button.addEventListener("click", () => this.answer(one.number, said));
      return button;
    });
    const head = made("h2", {}, _("Ball {n}: {feed}", { n: one.number, feed: one.feed }));
    const element = made("article", { tabIndex: -1 }, head, this.pictures(one, picture), made("p", {}, this.figures(one)));
    if (one.landed_m) element.append(made("p", { class: "answers" }, ...answers));
    head.id = `ball-${one.number}`;
    element.setAttribute("aria-labelledby", head.id);
    element.addEventListener("focusin", () => this.choose(one.number));
    element.addEventListener("pointerdown", () => this.choose(one.number));
    return { element, picture, answers };
  }

  pictures(one, picture) {
    const figure = made("figure", {});
    if (one.pictures) {
      const waits = made("p", { class: "soft" }, _("Its picture is being made."));
      const flight = made("img", {
        class: "flight", loading: "lazy", src: keyed(`/balls/${one.number}/flight.jpg`),
        alt: _("The flight of ball {n} in one picture", { n: one.number }),
      });
      flight.addEventListener("load", () => waits.remove());
      flight.addEventListener("error", () => { waits.textContent = _("No picture shows it."); flight.remove(); });
      figure.append(waits, flight);
    } else figure.append(_("No picture shows it."));
    const row = made("div", { class: "row" }, figure, picture);
    if (!one.pictures) return row;
    const strip = made("div", { class: "strip" }, made("img", {
      class: "bounce", loading: "lazy", src: keyed(`/balls/${one.number}/bounce.jpg`),
      alt: _("The bounce of ball {n}, picture by picture", { n: one.number }),
    }));
    strip.tabIndex = 0; // it may be wider than the card
    strip.setAttribute("role", "region");
    strip.setAttribute("aria-label", _("Bounce of ball {n}", { n: one.number }));
    const image = strip.querySelector("img");
    image.addEventListener("error", () => strip.remove());
    image.addEventListener("load", () => { strip.scrollLeft = (strip.scrollWidth - strip.clientWidth) / 2; });
    return made("div", {}, row, strip);
  }

  figures(one) {
    if (!one.landed_m) return _("Not measured: {why}.", { why: one.why });
    return _("{off} m from where it was to land. In 95 of 100 cases this is known within {within} cm. {speed} km/h at the mouth.", {
      off: figure(one.off_m, 2), within: figure(one.within_cm, 0), speed: figure(one.speed_kmh, 0),
    });
  }

  update(one) {
    const { element, picture, answers } = this.cards.get(one.number);
    element.className = [one.said, one.number === this.current && "current"].filter(Boolean).join(" ");
    for (const [index, said] of ["yes", "no"].entries()) answers[index].setAttribute("aria-pressed", String(one.said === said));
    plan(picture, this.finds, [one], false);
    picture.setAttribute("aria-label", one.landed_m
      ? _("Ball {n} on the court: asked for, and found", { n: one.number }) : _("The court"));
  }

  choose(number) {
    if (number === this.current) return;
    this.current = number;
    for (const [other, card] of this.cards) card.element.classList.toggle("current", other === number);
  }

  go(number) {
    this.choose(number);
    const { element } = this.cards.get(number);
    element.focus({ preventScroll: true });
    element.scrollIntoView({ block: "nearest" });
  }

  // The same answer again takes it back.
  answer(number, said) {
    const one = this.finds.cards.find((card) => card.number === number);
    this.say(number, one.said === said ? null : said);
  }

  onKey(event) {
    if (by("finds").hidden || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest("select, input")) return;
    const numbers = this.finds.cards.map((one) => one.number);
    const at = numbers.indexOf(this.current);
    const way = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (way) {
      event.preventDefault();
      this.go(numbers[Math.min(Math.max(at + way, 0), numbers.length - 1)]);
    }
    const said = { y: "yes", n: "no" }[event.key.toLowerCase()];
    if (!said || at < 0 || event.repeat || !this.finds.cards[at].landed_m) return;
    event.preventDefault();
    this.answer(this.current, said);
    const next = this.finds.cards.slice(at + 1).find((one) => one.landed_m && !one.said);
    if (next) this.go(next.number);
  }
}
