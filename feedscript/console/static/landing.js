// The picture in which the coach marks where a player's shot came down: the pad's place, much larger
// than the court beside it. A tap marks; so do the arrow keys and Enter.

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
    const picture = by("landing-court");
    // Not a click: some browsers tell those in whole pixels only.
    picture.addEventListener("pointerup", (event) => this.at(tapped(picture, event)));
    picture.addEventListener("keydown", (event) => this.onKey(event));
    by("landing-back").addEventListener("click", () => this.close());
  }

  get open() {
    return this.ball !== null;
  }

  ask(ball) {
    this.ball = ball.feed_id;
    this.cross = [0, -9];
    by("landing").hidden = false;
    by("landing-court").focus();
  }

  close() {
    this.ball = null;
    by("landing").hidden = true;
    by("where").focus({ preventScroll: true });
  }

  at(place) {
    this.mark(this.ball, place);
    this.close();
  }

  // `words` say of which ball.
  show(view, stand, words) {
    [this.view, this.stand] = [view, stand];
    if (!this.open) return;
    write(by("landing-of"), words);
    write(by("landing-from"), _("You stand {where}. Tap the place; or move the cross with the "
      + "arrow keys, and Enter.", { where: stand.label }));
    drawLandings(by("landing-court"), view, stand, this.cross);
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
    drawLandings(by("landing-court"), this.view, this.stand, this.cross);
    const [x, y] = this.cross;
    const aside = { m: Math.abs(x) };
    const along = { m: Math.abs(y) };
    write(by("landing-at"), [
      x < 0 ? _("{m} m to the deuce side", aside) : _("{m} m to the ad side", aside),
      y < 0 ? _("{m} m past the net", along) : _("{m} m short of the net", along),
    ].join(", "));
  }
}
