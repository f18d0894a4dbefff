// A hand that is down on the page. What it pressed must still be there, and where it was, when it is
// let go: whatever comes meanwhile is drawn then, or the click would go nowhere.

const TAP_MS = 50; // after a finger is lifted its click comes by itself

let free = Promise.resolve(), release = null;

function released() {
  release?.();
  release = null;
}

addEventListener("pointerdown", () => {
  if (!release) free = new Promise((done) => { release = done; });
}, true);
for (const end of ["pointerup", "pointercancel"]) {
  addEventListener(end, ({ pointerType }) => setTimeout(released, pointerType === "mouse" ? 0 : TAP_MS), true);
}
// Lifted where the page does not hear of it: outside of the window, or with another window before it.
addEventListener("pointermove", ({ buttons }) => { if (!buttons) released(); }, true);
addEventListener("blur", released);

/** Comes when nothing of the page is pressed: at once, mostly. */
export const letGo = () => free;
