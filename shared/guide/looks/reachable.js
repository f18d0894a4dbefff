// What the theme leaves without a name, or out of reach of a keyboard.
addEventListener("load", () => {
  document.querySelector("[data-md-component=search]").setAttribute("aria-label", "Search");
  for (const wide of document.querySelectorAll(".md-typeset__scrollwrap")) wide.tabIndex = 0;
});
