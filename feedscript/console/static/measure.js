// A lesson that measures: of each ball that left a person says where it came down. By eye, on the
// picture; by tape, from two lines; by a film, later; or the ball is left out.

import { by, write } from "./standing.js";
import { _ } from "./words.js";

// Where the lines lie, from the net and from the middle, in metres (ITF, Rules of Tennis, rule 1).
const BASELINE = 11.885;
const SERVICE = 6.4;
const SIDELINE = 4.115;

// What a tape is laid from, and the place that so many metres are.
const ALONG = [
  [() => _("in front of the baseline"), (m) => BASELINE - m],
  [() => _("behind the baseline"), (m) => BASELINE + m],
  [() => _("behind the service line"), (m) => SERVICE + m],
  [() => _("in front of the service line"), (m) => SERVICE - m],
  [() => _("from the net"), (m) => m],
];
const ACROSS = [
  [() => _("to ad of the centre line"), (m) => m],
  [() => _("to deuce of the centre line"), (m) => -m],
  [() => _("inside the ad singles sideline"), (m) => SIDELINE - m],
  [() => _("outside the ad singles sideline"), (m) => SIDELINE + m],
  [() => _("inside the deuce singles sideline"), (m) => m - SIDELINE],
  [() => _("outside the deuce singles sideline"), (m) => -m - SIDELINE],
];

// So many balls of each setting tell enough.
const WANTED = 3;

export class Measure {
  // `order` sends a command; `landing` is the picture that is tapped.
  constructor(order, landing) {
    this.order = order;
    this.landing = landing;
    this.chosen = null; // a ball that was marked before and is to be marked anew
    this.taped = null; // the ball that the tape is laid for: another may leave meanwhile
    this.shown = "";
    by("measure-eye").addEventListener("click", () => this.ask());
    by("measure-tape").addEventListener("click", () => this.openTape(by("tape").hidden));
    by("measure-film").addEventListener("click", () => this.mark(this.ball(this.view), "film"));
    by("measure-none").addEventListener("click", () => this.mark(this.ball(this.view), "nobody"));
    by("tape").addEventListener("submit", (event) => this.onTape(event));
    for (const [id, lines] of [["tape-along-from", ALONG], ["tape-across-from", ACROSS]]) {
      by(id).append(...lines.map(([words], number) => new Option(words(), number)));
    }
  }

  // The ball that is asked about: one that was chosen, else the newest without a mark.
  ball(view) {
    const fed = view?.private.fed ?? [];
    return fed.find((one) => one.feed_id === (this.taped ?? this.chosen))
      ?? fed.find((one) => one.seen_by === null) ?? null;
  }

  show(view, ready) {
    const fed = view.private.fed;
    by("measure").hidden = !fed;
    if (!fed) return;
    this.view = view;
    const ball = this.ball(view);
    write(by("measure-of"), this.question(fed, ball));
    by("measure-how").hidden = !ball;
    if (!ball) this.openTape(false);
    this.list(fed, ready);
  }

  question(fed, ball) {
    if (!fed.length) return _("Send a ball. Then say where it landed.");
    if (ball) return _("Ball {n}, {feed}: where did it land?", { n: ball.feed_id, feed: ball.feed });
    const feed = fed[0].feed;
    const marked = fed.filter((one) => one.feed === feed && one.seen_by !== "nobody").length;
    return marked < WANTED
      ? _("{feed}: {n} of {all} balls. Send another.", { feed, n: marked, all: WANTED })
      : _("{feed} has its balls. Enough: the next one.", { feed });
  }

  ask() {
    const ball = this.ball(this.view);
    if (ball) this.landing.askFeed(ball, (place) => this.mark(ball, "eye", place));
  }

  mark(ball, seen_by, landing_m = null) {
    if (!ball) return;
    this.order({ do: "mark-feed", feed_id: ball.feed_id, seen_by, landing_m });
    this.chosen = null;
    this.openTape(false);
  }

  openTape(open) {
    this.taped = open ? this.ball(this.view)?.feed_id ?? null : null;
    by("tape").hidden = !open;
    by("measure-tape").setAttribute("aria-expanded", String(open));
    if (open) by("tape-along").focus();
  }

  onTape(event) {
    event.preventDefault();
    const [along, across] = [by("tape-along"), by("tape-across")];
    const [up, aside] = [along, across].map((one) => one.valueAsNumber);
    if (!Number.isFinite(up) || !Number.isFinite(aside)) return;
    const y = ALONG[by("tape-along-from").value][1](up);
    const x = ACROSS[by("tape-across-from").value][1](aside);
    this.mark(this.ball(this.view), "tape", [x, y].map((metres) => Math.round(100 * metres) / 100));
    along.value = across.value = "";
  }

  // The balls that were marked, the newest first, each to be marked anew.
  list(fed, ready) {
    const marked = fed.filter((one) => one.seen_by !== null);
    const now = JSON.stringify([marked, ready]);
    if (now === this.shown) return;
    this.shown = now;
    by("measured").replaceChildren(...marked.map((one) => this.item(one, ready)));
  }

  item(one, ready) {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = _("Mark ball {n} anew", { n: one.feed_id });
    button.disabled = !ready;
    button.addEventListener("click", () => {
      this.openTape(false);
      this.chosen = one.feed_id;
      this.show(this.view, ready);
      by("measure-eye").focus();
    });
    item.append(this.told(one), " ", button);
    return item;
  }

  told(one) {
    const parts = { n: one.feed_id, feed: one.feed };
    if (one.seen_by === "film") return _("Ball {n}, {feed}: by a film.", parts);
    if (one.seen_by === "nobody") return _("Ball {n}, {feed}: left out.", parts);
    const off = Math.hypot(...one.landing_m.map((metres, axis) => metres - one.asked_m[axis]));
    return _("Ball {n}, {feed}: {m} m from where it was to land.", { ...parts, m: off.toFixed(1) });
  }
}
