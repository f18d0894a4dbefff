// What the hour's parts are made of: elements, times in words, shares of a width; and how many are drawn.

// Minutes as a coach plans them; what lasts less than one is told in seconds.
export const minutes = (seconds) => seconds > 0 && seconds < 59.5 ? `${Math.ceil(seconds)} s` : `${Math.round(seconds / 60)} min`;

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

// So many marks are drawn in all the rows of one picture, a share of them in each: a page of tens of
// thousands of turns takes no click any more.
const MOST_MARKS = 1200;

// Draws the longest marks of a row. `of` is how many rows share the picture; `left` counts.
export function longest(marks, of, left, length = ([begin_s, end_s]) => end_s - begin_s) {
  const most = Math.max(16, Math.floor(MOST_MARKS / Math.max(1, of)));
  left.all += marks.length;
  left.drawn += Math.min(most, marks.length);
  if (marks.length <= most) return marks;
  const chosen = new Set([...marks].sort((one, other) => length(other) - length(one)).slice(0, most));
  return marks.filter((one) => chosen.has(one));
}

export const counted = () => ({ all: 0, drawn: 0 });

// Says what is left out; nothing where all is drawn.
export const leftOut = ({ all, drawn }, words) => (drawn === all ? [] : [make("p", { className: "thinned", textContent: words({ n: drawn, all }) })]);
