// What the pages of this address alone know, beside the cookie: a browser sends a host's cookies to
// every port of it, but what a page keeps is for its own scheme, host and port.

import { _ } from "./words.js";

const KEPT = "feedscript.page";

// What to tell where it cannot be kept; "" where it is.
export function keep(key) {
  try {
    localStorage.setItem(KEPT, key);
    return "";
  } catch {
    return _("This browser keeps nothing for pages. Let it keep data of this address, or take another one.");
  }
}

function kept() {
  try {
    return localStorage.getItem(KEPT) ?? "";
  } catch {
    return "";
  }
}

// For what is asked by a script.
export function headers() {
  return { "Content-Type": "application/json", "Feedscript-Page": kept() };
}

// For what is opened, shown or listened to, where no header can be given.
export function keyed(address) {
  return `${address}?page=${encodeURIComponent(kept())}`;
}
