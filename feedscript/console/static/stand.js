// Where the coach stands: chosen on the device, and remembered there.

import { keep, kept } from "./kept.js";

const KEPT = "stand";

export function chosenStand(view) {
  const { stands } = view.conventions;
  // Nobody stands in front of a launcher whose balls are measured.
  const usual = view.private?.fed ? "launcher" : stands[0].name;
  return stands.find((one) => one.name === kept(KEPT)) ?? stands.find((one) => one.name === usual);
}

export function choose(name) {
  keep(KEPT, name);
}

export function offerStands(select, view) {
  if (select.options.length) return;
  select.append(...view.conventions.stands.map((one) => new Option(one.label, one.name)));
  select.value = chosenStand(view).name;
}
