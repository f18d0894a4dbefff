// The screen stays on while this device holds control. A browser gives its wake lock to pages that
// came over https or from the machine itself only; elsewhere the coach is told.

import { _ } from "./words.js";

let wanted = false;

export async function stayAwake() {
  wanted = true;
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // refused, for instance on a low battery; the lesson goes on either way
  }
}

// A lock is lost whenever the page is out of sight.
document.addEventListener("visibilitychange", () => {
  if (wanted && document.visibilityState === "visible") stayAwake();
});

export function whyItMaySleep() {
  return "wakeLock" in navigator
    ? ""
    : _("This browser cannot keep the screen on here: set the device to lock late.");
}
