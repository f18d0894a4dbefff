// The hour's clock: how long it has run, what is still planned, ahead or behind, and what could go to end
// in time. It goes on between views.

import { age, minutes, put } from "./view.js";
import { _ } from "./words.js";

export function showHour(view, forCoach) {
  const one = view?.hour;
  put("hour", one ? clock(one, age(view)) : "");
  put("could-go", one && forCoach ? couldGo(one.could_go) : "");
}

function clock(one, passed) {
  const run = one.run_s + passed;
  const left = Math.max(0, one.left_s - (one.goes_on ? passed : 0));
  const told = _("{run} gone, {whole} planned; {left} min to come: {standing}", {
    run: minutes(run), whole: minutes(one.planned_s), left: Math.round(left / 60),
    standing: standing(one.planned_s - run - left, one.on_time_s),
  });
  return [told, one.ends_at_hour && _("Ends after the turn in which the hour is full.")]
    .filter(Boolean).join(". ");
}

function standing(ahead, onTime) {
  const most = Math.max(1, Math.round(Math.abs(ahead) / 60));
  if (Math.abs(ahead) < onTime) return _("on time");
  return ahead > 0 ? _("{n} min ahead", { n: most }) : _("{n} min behind", { n: most });
}

function couldGo(offered) {
  if (!offered.length) return "";
  const ways = offered.map((one) => _("{titles} ({n} min)", {
    titles: one.titles.map((title) => `“${title}”`).join(" + "), n: Math.round(one.saves_s / 60),
  }));
  return _("To end in time leave out one of these: {ways}", { ways: ways.join(", ") });
}
