// The screen for the group: no records, no questions, and a stop for everyone.

import { Link } from "./link.js";
import { by, show, showLink, stop } from "./view.js";

let view = null;

const link = new Link(
  (message) => {
    if (message.view) {
      view = message.view;
      show(view, view.to_group);
      showLink(true, view);
    }
  },
  (linked) => showLink(linked, view),
);

by("stop").addEventListener("click", () => stop(link, false));
