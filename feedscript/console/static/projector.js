// The screen for the group: no records, no questions, and a stop for everyone.

import { Link } from "./link.js";
import { by, show, showLink } from "./view.js";

let state = null;

const link = new Link(
  (message) => {
    if (message.state) {
      state = message.state;
      show(state);
      showLink(true, state);
    }
  },
  (linked) => showLink(linked, state),
);

by("stop").addEventListener("click", () => link.stop(false));
