// "Back", a key or a swipe from the side, does not leave a lesson that goes on: STOP would be out of
// reach. It puts away what lies over the page, if anything does.

const HERE = "lesson";

export function stayWhile(goesOn, putAway = () => {}) {
  if (history.state !== HERE) history.pushState(HERE, "");
  addEventListener("popstate", () => {
    if (!goesOn()) {
      history.back();
      return;
    }
    history.pushState(HERE, "");
    putAway();
  });
}
