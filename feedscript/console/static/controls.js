// The buttons and keys of a lesson. What there is to press, what it is called and whether it can be
// done now comes with each view; the page gives each its place.

import { by } from "./view.js";
import { _ } from "./words.js";

// Until the first view comes there is the stop, with its keys, as the page itself has it.
const STOPS = [...document.querySelectorAll(".stopbar [data-control]")].map((button) => ({
  name: button.dataset.control,
  area: button.parentElement.dataset.area,
  keys: button.getAttribute("aria-keyshortcuts").split(" "),
}));

export class Controls {
  // `press` is called with the control whose button or key was pressed.
  constructor(press) {
    this.press = press;
    this.all = STOPS;
    for (const stop of STOPS) {
      button(stop.name).addEventListener("click", () => press(this.named(stop.name)));
    }
    document.addEventListener("keydown", (event) => this.onKey(event));
  }

  named(name) {
    return this.all.find((one) => one.name === name);
  }

  // With `ready` false nothing can be pressed but the stop. The pad lies as the court is seen from
  // `stand`, and its keys with it.
  show(view, stand, ready) {
    const own = new Map(stand.keys.map((one) => [one.name, one]));
    this.all = view.controls.map((one) => ({ ...one, ...own.get(one.name) }));
    for (const area of document.querySelectorAll(".do [data-area]")) {
      this.fill(area, this.all.filter((one) => one.area === area.dataset.area), ready);
    }
    this.turn(stand);
    const names = view.conventions.key_names;
    by("keys").replaceChildren(_("Keys, also of a clicker:"), ...this.all.flatMap((one) => {
      const keys = document.createElement("b");
      keys.textContent = (one.keys ?? []).map((key) => names[key] ?? key).join(" ");
      return one.keys ? [" ", keys, ` ${one.label};`] : [];
    }));
  }

  // A button stays the same one through all views: a tap under way must find it.
  fill(area, controls, ready) {
    area.hidden = !controls.some((one) => one.shown);
    for (const old of area.querySelectorAll("[data-control]")) {
      if (!controls.some((one) => one.name === old.dataset.control)) old.remove();
    }
    for (const control of controls) {
      const found = button(control.name) ?? this.made(area, control.name);
      found.textContent = [control.mark, control.label].filter(Boolean).join(" ");
      found.className = control.look ?? "";
      found.hidden = !control.shown;
      found.disabled = !ready || Boolean(control.why_not);
      found.title = control.why_not ?? "";
      if (control.colour) found.style.setProperty("--own", control.colour);
    }
  }

  turn(stand) {
    const pad = by("pad");
    if (pad.dataset.stand === stand.name) return;
    pad.dataset.stand = stand.name;
    pad.setAttribute("aria-label", _("What the ball became; you stand {where}", {
      where: stand.label,
    }));
    pad.append(...stand.pad.map(button).filter(Boolean));
  }

  made(area, name) {
    const made = document.createElement("button");
    made.type = "button";
    made.dataset.control = name;
    made.addEventListener("click", () => this.press(this.named(name)));
    area.append(made);
    return made;
  }

  onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    const typing = event.target.closest("input, select");
    const pressing = event.target.closest("button, summary, a");
    if (typing && event.key !== "Escape") return;
    if (pressing && (event.key === " " || event.key === "Enter")) return;
    const meant = this.all.find((one) => one.keys?.includes(event.key));
    if (!meant) return;
    event.preventDefault();
    this.press(meant);
  }
}

export function button(name) {
  return document.querySelector(`[data-control="${name}"]`);
}

// It was pressed: seen by whoever pressed a key, felt by a thumb.
export function flash(name) {
  button(name)?.classList.add("hit");
  setTimeout(() => button(name)?.classList.remove("hit"), 160);
  navigator.vibrate?.(20);
}
