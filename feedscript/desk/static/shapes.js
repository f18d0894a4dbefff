// What pictures are made of: shapes, and places of the court on paper, in metres.

const NS = "http://www.w3.org/2000/svg";

export function shape(name, attributes = {}, ...inside) {
  const element = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(key, value);
  }
  element.append(...inside);
  return element;
}

// Court axes on paper: the length runs to the right, the receiver's ad side (+x) lies below.
export const onPaper = ([x, y]) => [y, x];
export const points = (path) => path.map(([x, y]) => `${y.toFixed(2)},${x.toFixed(2)}`).join(" ");
export const aside = (path) => path.map(([, y, z]) => `${y.toFixed(2)},${(-z).toFixed(2)}`).join(" ");
