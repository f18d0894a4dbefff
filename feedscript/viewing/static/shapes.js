// What pictures are made of.

const NS = "http://www.w3.org/2000/svg";

export function shape(name, attributes = {}, ...inside) {
  const element = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...inside);
  return element;
}
