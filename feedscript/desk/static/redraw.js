// Drawing again what is another than before, and nothing else.

const drawn = new WeakMap();

/** Says words in an element, where it says others: even the same ones would be laid out and read out again. */
export function put(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

// Draws parts into an element, in their order: each {key, said, draw}, where `draw` makes its node or
// nodes of what is `said`. A part that says what it said under this key before stays as it is. What
// others put into the element goes.
export function drawParts(element, parts) {
  const before = drawn.get(element) ?? new Map(), now = new Map();
  for (const { key, said, draw } of parts) {
    const words = [said].flat().map((one) => (typeof one === "string" ? one : JSON.stringify(one))).join("\n");
    const known = before.get(key);
    now.set(key, known?.words === words ? known : { words, nodes: [draw()].flat() });
  }
  drawn.set(element, now);
  const nodes = [...now.values()].flatMap((one) => one.nodes), stays = new Set(nodes);
  for (const node of [...element.childNodes]) if (!stays.has(node)) node.remove();
  let at = element.firstChild;
  for (const node of nodes) {
    if (node === at) at = at.nextSibling;
    else element.insertBefore(node, at);
  }
}
