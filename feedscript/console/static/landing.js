// The picture in which the coach marks where a player's shot came down: the pad's place, much larger
// than the court beside it. A tap marks; so do the arrow keys and Enter. In a lesson that measures the
// place of a ball itself is marked so, on the receiver's half.

import { drawLandings, tapped, turned } from "./court.js";
import { by, write } from "./standing.js";
import { _ } from "./words.js";

const STEP_M = 0.25;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export class Landing {
  // `mark` is called with the number of the ball and [x, y] in metres.
  constructor(mark) {
    this.mark = mark;
    this.ball = null;
    this.fed = null; // in a lesson that measures: the ball itself
    this.closed = -Infinity; // when it was put away last
    const picture = by("landing-court");
    // The place is the pointer's: some browsers tell a click's in whole pixels only. It is marked with
    // the click, or that would go to the button of the pad that lies below.
    let place = null;
    picture.addEventListener("pointerup", (event) => { place = tapped(picture, event); });
    picture.addEventListener("click", () => { if (place) this.at(place); });
    picture.addEventListener("keydown", (event) => this.onKey(event));
    by("landing-back").addEventListener("click", () => this.close());
  }

  get open() {
    return this.ball !== null;
  }

  ask(ball) {
    this.cross = [0, -9];
    this.opened(ball.feed_id, null);
  }

  // `marked` is called with the place where this ball of the launcher came down.
  askFeed(ball, marked) {
    this.cross = [...ball.asked_m];
    this.opened(ball.feed_id, { ...ball, marked });
  }

  opened(ball, fed) {
    [this.ball, this.fed] = [ball, fed];
    write(by("landing-at"), "");
    by("landing").hidden = false;
    if (this.view) this.show(this.view, this.stand, "");
    by("landing-court").focus();
  }

  close() {
    const from = this.fed ? "measure-eye" : "where";
    [this.ball, this.fed] = [null, null];
    this.closed = performance.now();
    by("landing").hidden = true;
    by(from).focus({ preventScroll: true });
  }

  at(place) {
    if (this.fed) this.fed.marked(place);
    else this.mark(this.ball, place);
    this.close();
  }

  // `words` say of which ball.
  show(view, stand, words) {
    [this.view, this.stand] = [view, stand];
    if (!this.open) return;
    const { fed } = this;
    write(by("landing-of"), fed
      ? _("Ball {n}, {feed}: where did it land?", { n: fed.feed_id, feed: fed.feed }) : words);
    write(by("landing-from"), _("You stand {where}. Tap the place; or move the cross with the "
      + "arrow keys, and Enter.", { where: stand.label }));
    drawLandings(by("landing-court"), view, stand, this.cross, fed);
  }

  onKey(event) {
    const step = ARROWS[event.key];
    if (!step && event.key !== "Enter") return;
    event.preventDefault();
    event.stopPropagation();
    if (!step) {
      if (!event.repeat) this.at(this.cross);
      return;
    }
    const moved = turned(step.map((side) => STEP_M * side), this.stand);
    this.cross = this.cross.map((metres, axis) => metres + moved[axis]);
    drawLandings(by("landing-court"), this.view, this.stand, this.cross, this.fed);
    const [x, y] = this.cross;
    const past = this.fed ? y >= 0 : y < 0;
    const aside = { m: Math.abs(x) };
    const along = { m: Math.abs(y) };
    write(by("landing-at"), [
      x < 0 ? _("{m} m to the deuce side", aside) : _("{m} m to the ad side", aside),
      past ? _("{m} m past the net", along) : _("{m} m short of the net", along),
    ].join(", "));
  }
}
