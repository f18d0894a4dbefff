// What the pages of this address alone know, beside the cookie: a browser sends a host's cookies to
// every port of it, but what a page keeps is for its own scheme, host and port.

const KEPT = "feedscript.page";

export function keep(key) {
  localStorage.setItem(KEPT, key);
}

function kept() {
  return localStorage.getItem(KEPT) ?? "";
}

// For what is asked by a script.
export function headers() {
  return { "Content-Type": "application/json", "Feedscript-Page": kept() };
}

// For what is opened, shown or listened to, where no header can be given.
export function keyed(address) {
  return `${address}?page=${encodeURIComponent(kept())}`;
}
