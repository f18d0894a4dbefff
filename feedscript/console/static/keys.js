// Keys to commands, the same as at the terminal; beside them what a clicker sends that acts as a
// keyboard: Page Down and Page Up, Escape, and a full stop or b for its black screen.

const ACTS = {
  h: "hold", g: "go-on", n: "next", a: "again", k: "skip", "-": "slower", "+": "faster",
  w: "wrong", r: "set-up-again", s: "stop", Escape: "stop", x: "emergency-stop", q: "quit",
};
const RESULTS = {
  8: "long", ArrowUp: "long", 2: "net", ArrowDown: "net", 4: "left", ArrowLeft: "left",
  6: "right", ArrowRight: "right", 5: "in", i: "in", PageDown: "in",
};
const HOLD_OR_GO_ON = [" ", ".", "b"];

// What a key means now: {act}, {result}, {left} (an answer), {yes} or {} (take back); null: nothing.
export function commandFor(key, state) {
  const phase = state?.phase;
  if (HOLD_OR_GO_ON.includes(key)) {
    return { act: phase === "held" || phase === "ready" ? "go-on" : "hold" };
  }
  if (key === "Enter") return { yes: true };
  if (phase === "asking" && (key === "y" || key === "n")) return { left: key === "y" };
  if (key in RESULTS) return { result: RESULTS[key] };
  if (key === "u" || key === "PageUp") return {};
  return key in ACTS ? { act: ACTS[key] } : null;
}
