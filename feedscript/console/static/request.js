// Balls on request: whose they are, how many are left, when the next may leave.

import { age, put } from "./view.js";
import { _ } from "./words.js";

export function showRequest(view) {
  put("request-words", view?.request ? words(view.request, view) : "");
}

function words(one, view) {
  const whose = one.player
    ? _("{player}: {feed}, {left} of {all} left.", { player: one.player, feed: one.feed, left: one.left, all: one.at_most })
    : _("{feed}, {left} of {all} left.", { feed: one.feed, left: one.left, all: one.at_most });
  const there = one.station ? [_("At {station}:", { station: one.station })] : [];
  return [...there, whose, ...next(one, view), ...ends(one, view)].join(" ");
}

// Where their time is counted, it ends them.
function ends(one, view) {
  if (one.ends_utc_s === null) return [];
  const seconds = Math.max(0, Math.ceil(one.ends_utc_s - view.utc_s - age(view)));
  return [_("They end in {seconds} s.", { seconds })];
}

function next(one, view) {
  if (one.may_leave_utc_s === null) return [_("The lesson stands still.")];
  const seconds = Math.ceil(one.may_leave_utc_s - view.utc_s - age(view));
  if (one.asked) {
    return [seconds > 0 ? _("It leaves in {seconds} s at the soonest.", { seconds }) : _("It leaves now.")];
  }
  const again = one.came_to_nothing ? [_("The last one did not leave: tap again.")] : [];
  return [...again, seconds > 0
    ? _("The next in {seconds} s at the soonest.", { seconds }) : _("The next at once.")];
}
