// The screen for the group: no records, no questions, and a stop for everyone.

import { Link } from "./link.js";
import { by, show, showLink } from "./view.js";

// What the group should know in phases that are no time for calls.
const TELLS = {
  "arming": "The launcher is being armed. Stay behind it.",
  "showing": "Nobody in front: one ball is shown.",
  "watching": "Nobody in front: one ball is shown.",
  "judging": "Nobody in front: one ball was shown.",
  "held": "Wait.",
  "making-safe": "Wait.",
  "collecting": "Collect the balls. The launcher is off.",
  "asking": "Stopped. Stay where you are.",
  "stopped": "Stopped. Stay where you are.",
  "finished": "The lesson is over.",
};

let state = null;

const link = new Link(
  (message) => {
    if (message.state) {
      state = message.state;
      show(state, TELLS);
      showLink(true, state);
    }
  },
  (linked) => showLink(linked, state),
);

by("stop").addEventListener("click", async () => {
  if (!await link.stop(false)) {
    by("lost").textContent = "STOP was not received yet. Use the switch at the launcher.";
    by("lost").hidden = false;
  }
});
