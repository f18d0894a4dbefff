// Whose balls the pad records where several stations are on: all, or those of one. Kept by this device,
// so that two coaches record a station each, and one may switch from one to the other.
import { keep, kept } from "./kept.js";
import { by } from "./view.js";
import { _ } from "./words.js";

const KEPT = "whose";

let chosen = kept(KEPT) ?? "";

export function offerStations(view) {
  const names = view.stations.filter((one) => one.name).map((one) => one.name);
  const box = by("whose");
  box.hidden = names.length < 2;
  if (!names.includes(chosen)) choose("");
  const select = box.querySelector("select");
  const shown = [...select.options].map((one) => one.value).join("\n");
  if (shown !== ["", ...names].join("\n")) {
    select.replaceChildren(...["", ...names].map((name) => new Option(name || _("All stations"), name)));
  }
  select.value = chosen;
}

by("whose").querySelector("select").addEventListener("change", ({ target }) => choose(target.value));

function choose(name) {
  if (name !== chosen) keep(KEPT, name);
  chosen = name;
}

// A result that is recorded, for the station that was chosen.
export const ofStation = (command) => (
  command.do === "record" && chosen ? { ...command, station: chosen } : command);
