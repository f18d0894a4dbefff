// The court from above on its side: the launcher's end at the left, the receiver's at the right.

const NS = "http://www.w3.org/2000/svg";
const HALF_LENGTH = 11.885;
const HALF_SINGLES = 4.115;
const HALF_DOUBLES = 5.485;
const SERVICE = 6.4;

function shape(name, attributes, words) {
  const element = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (words !== undefined) element.textContent = words;
  return element;
}

function line(x1, y1, x2, y2, width = 0.09) {
  return shape("line", { x1, y1: -y1, x2, y2: -y2, stroke: "#333", "stroke-width": width });
}

function lines() {
  const drawn = [];
  for (const x of [-HALF_DOUBLES, -HALF_SINGLES, HALF_SINGLES, HALF_DOUBLES]) {
    drawn.push(line(x, -HALF_LENGTH, x, HALF_LENGTH));
  }
  for (const y of [-HALF_LENGTH, HALF_LENGTH]) drawn.push(line(-HALF_DOUBLES, y, HALF_DOUBLES, y));
  for (const y of [-SERVICE, SERVICE]) drawn.push(line(-HALF_SINGLES, y, HALF_SINGLES, y));
  drawn.push(line(0, -SERVICE, 0, SERVICE));
  drawn.push(line(-6.4, 0, 6.4, 0, 0.2));
  return drawn;
}

function launchers(view) {
  return view.launchers.map((launcher) => {
    const [x, y] = launcher.mouth_m;
    return shape("rect", {
      x: x - 0.5, y: -y - 0.5, width: 1, height: 1, fill: launcher.linked ? "#111" : "#b00020",
    });
  });
}

// Where the last feeds were aimed, the newest strongest.
function gone(view) {
  return view.gone.slice(0, 8).reverse().map((ball, index, all) => shape("circle", {
    cx: ball.landing_m[0], cy: -ball.landing_m[1], r: 0.34, fill: "#0072B2",
    opacity: 0.25 + (0.55 * (index + 1)) / all.length,
  }));
}

// Where the players' shots came down, as the coach marked them.
function marked(view) {
  const colour = (result) => view.controls.find((one) => one.name === result)?.colour;
  return (view.private?.landings ?? []).slice().reverse().map((one) => {
    const [x, y] = one.landing_m;
    return shape("path", {
      d: `M${x} ${-y - 0.55}l.55 .55l-.55 .55l-.55 -.55z`, fill: colour(one.result),
      stroke: "#fff", "stroke-width": 0.1,
    });
  });
}

function coming(view) {
  return view.coming.slice(0, 1).flatMap((ball) => {
    const [x, y] = ball.landing_m;
    const from = view.launchers[ball.launcher]?.mouth_m ?? [0, -12];
    return [
      shape("line", {
        x1: from[0], y1: -from[1], x2: x, y2: -y, stroke: "#D55E00", "stroke-width": 0.14,
        "stroke-dasharray": "0.5 0.35",
      }),
      shape("circle", { cx: x, cy: -y, r: 0.65, fill: "none", stroke: "#D55E00", "stroke-width": 0.25 }),
    ];
  });
}

export function drawCourt(svg, view) {
  // Behind the launcher there is room for the shots that fly long.
  svg.setAttribute("viewBox", "-16.2 -6.9 29.6 13.8");
  const next = view.coming[0];
  const words = next ? `The court; next ball: ${next.feed}` : "The court; no ball is coming";
  const court = shape("g", { transform: "rotate(90)" });
  court.append(...lines(), ...launchers(view), ...gone(view), ...marked(view), ...coming(view));
  svg.replaceChildren(shape("title", {}, words), court);
}

// Calls `tapped` with [x, y] in metres, court axes, to a tenth of a metre.
export function onTap(svg, tapped) {
  svg.addEventListener("click", (event) => {
    const court = svg.querySelector("g");
    if (!court) return;
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(court.getScreenCTM().inverse());
    tapped([Math.round(10 * point.x) / 10, Math.round(-10 * point.y) / 10]);
  });
}
