// What was chosen on this device, kept for when the page is loaded anew. A browser that keeps nothing
// has it for as long as the page is open.

const here = new Map();

export function kept(name) {
  try {
    return here.get(name) ?? localStorage.getItem(name);
  } catch {
    return here.get(name) ?? null;
  }
}

export function keep(name, value) {
  here.set(name, value);
  try {
    localStorage.setItem(name, value);
  } catch {
    // not kept
  }
}
