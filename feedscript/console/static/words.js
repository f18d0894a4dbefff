// The words of the scripts in the language of the page, which came with the page itself: nothing is
// waited for. English is the language of the scripts. A marked text is a literal, never in `...`:
// _("Ball {n}", { n }), n_("{n} ball", "{n} balls", n), p_("context", "Next").

const { forms, words, languages } = JSON.parse(document.getElementById("words").textContent);

const CONTEXT_ENDS = "\u0004";
const numbers = new Intl.NumberFormat(document.documentElement.lang);

export { languages };

export function _(text, parts = {}) {
  return filled(words[text] ?? text, parts);
}

export function p_(where, text, parts = {}) {
  return filled(words[where + CONTEXT_ENDS + text] ?? text, parts);
}

export function n_(one, more, n, parts = {}) {
  const form = Number(forms[n < 200 ? n : 100 + (n % 100)]);
  return filled((words[one] ?? [one, more])[form], { n, ...parts });
}

// A number with so many decimals. A way to write numbers takes long to make, and hardly any to use.
const figures = new Map();
export function figure(value, digits) {
  if (!figures.has(digits)) {
    figures.set(digits, new Intl.NumberFormat(document.documentElement.lang, {
      minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false,
    }));
  }
  return figures.get(digits).format(value);
}

// Words as a whole sentence.
export function sentence(words) {
  const whole = words ? words[0].toUpperCase() + words.slice(1) : "";
  return !whole || /[.?!]$/.test(whole) ? whole : `${whole}.`;
}

// A day, and a moment, with the month's name: nobody takes it for a day.
const HOME = { en: "en-GB" }; // the day first, as in the other languages
const DAY = { day: "numeric", month: "short", year: "numeric" };
const dated = (date, parts) => {
  const { lang } = document.documentElement;
  return new Intl.DateTimeFormat(HOME[lang] ?? lang, parts).format(date);
};
export const day = (date) => dated(date, DAY);
export const moment = (date) => dated(date, { ...DAY, hour: "2-digit", minute: "2-digit" });
export const timeOfDay = (date) => dated(date, { timeStyle: "medium" });

// Names as a person lists them.
export function listed(names) {
  return new Intl.ListFormat(document.documentElement.lang).format(names);
}

// Says of an element in which language it is, where that is not the page's: a screen reader changes
// its voice there.
export function inLanguage(element, language) {
  if (language && language !== document.documentElement.lang) element.lang = language;
  else element.removeAttribute("lang");
  return element;
}

// The same by the players whom it is about, where all of them speak one language.
export function inTheirs(element, players, names) {
  const spoken = new Set(names.map((name) => players.find((one) => one.name === name)?.language ?? ""));
  return inLanguage(element, spoken.size === 1 ? [...spoken][0] : "");
}

function filled(text, parts) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => {
    const part = parts[name];
    return typeof part === "number" ? numbers.format(part) : part ?? whole;
  });
}
