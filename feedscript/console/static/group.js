// The screen for the group: no records, no questions, and a stop for everyone.

import { Link } from "./link.js";
import { showHour } from "./hour.js";
import { stayWhile } from "./stay.js";
import { by, show, showLink } from "./view.js";

let view = null;

// Nobody chooses on a screen for the group: the court lies as the screen does.
function stand() {
  const wide = window.innerWidth > window.innerHeight;
  const { stands } = view.conventions;
  return stands.find((one) => (one.turn_deg % 180 !== 0) === wide) ?? stands[0];
}

const link = new Link(
  (message) => {
    if (message.view) {
      view = message.view;
      show(view, view.to_group, stand());
      showHour(view, false);
      showLink(true, view, link.unreceived);
    }
  },
  (linked) => showLink(linked, view, link.unreceived),
);

window.addEventListener("resize", () => { if (view) show(view, view.to_group, stand()); });
setInterval(() => showHour(view, false), 250);
stayWhile(() => !view?.ended);
by("stop").addEventListener("click", () => link.stop(false));
