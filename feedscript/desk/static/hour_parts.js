// What the hour's parts are made of: elements, times in words, shares of a width.

export const minutes = (seconds) => `${Math.round(seconds / 60)} min`;

export const clock = (seconds) => {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};

export const share = (part, whole) => `${(100 * part) / (whole || 1)}%`;

export function make(name, properties = {}, ...inside) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...inside);
  return made;
}
