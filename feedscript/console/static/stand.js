// Where the coach stands: chosen on the device, and remembered there.

const KEPT = "stand";

export function chosenStand(view) {
  const { stands } = view.conventions;
  const kept = remembered();
  // Nobody stands in front of a launcher whose balls are measured.
  const usual = view.private?.fed ? "launcher" : stands[0].name;
  return stands.find((one) => one.name === kept) ?? stands.find((one) => one.name === usual);
}

// A browser that keeps nothing has the choice for as long as the page is open.
let here = null;

function remembered() {
  try {
    return here ?? localStorage.getItem(KEPT);
  } catch {
    return here;
  }
}

export function choose(name) {
  here = name;
  try {
    localStorage.setItem(KEPT, name);
  } catch {
    // not kept
  }
}

export function offerStands(select, view) {
  if (select.options.length) return;
  select.append(...view.conventions.stands.map((one) => new Option(one.label, one.name)));
  select.value = chosenStand(view).name;
}
