// The language of the page: the browser's own, until one is chosen on this device. The choice is
// kept as a cookie, since the page comes in its language already.

import { languages } from "./words.js";

const select = document.getElementById("language");
select.append(...Object.entries(languages).map(([language, name]) => {
  const option = new Option(name, language);
  option.lang = language;
  return option;
}));
select.value = document.documentElement.lang;
select.addEventListener("change", () => {
  document.cookie = `feedscript_language=${select.value}; path=/; max-age=31536000; samesite=strict`;
  location.reload();
});
