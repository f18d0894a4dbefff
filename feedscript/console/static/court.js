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

function line(x1, y1, x2, y2, width = 0.06) {
  return shape("line", { x1, y1: -y1, x2, y2: -y2, stroke: "#444", "stroke-width": width });
}

function lines() {
  const drawn = [];
  for (const x of [-HALF_DOUBLES, -HALF_SINGLES, HALF_SINGLES, HALF_DOUBLES]) {
    drawn.push(line(x, -HALF_LENGTH, x, HALF_LENGTH));
  }
  for (const y of [-HALF_LENGTH, HALF_LENGTH]) drawn.push(line(-HALF_DOUBLES, y, HALF_DOUBLES, y));
  for (const y of [-SERVICE, SERVICE]) drawn.push(line(-HALF_SINGLES, y, HALF_SINGLES, y));
  drawn.push(line(0, -SERVICE, 0, SERVICE));
  drawn.push(line(-6.4, 0, 6.4, 0, 0.16));
  return drawn;
}

const MARK = { in: "●", net: "▬", long: "▲", left: "◀", right: "▶" };

export function drawCourt(svg, state) {
  svg.replaceChildren();
  svg.setAttribute("viewBox", "-14.5 -7.4 29 14.8");
  const court = shape("g", { transform: "rotate(90)" });
  court.append(...lines());
  for (const launcher of state.launchers) {
    const [x, y] = launcher.mouth_m;
    court.append(shape("rect", {
      x: x - 0.45, y: -y - 0.45, width: 0.9, height: 0.9,
      fill: launcher.linked ? "#111" : "#b00020",
    }));
  }
  state.gone.slice(0, 8).reverse().forEach((ball, index, all) => {
    const [x, y] = ball.landing_m;
    court.append(shape("circle", {
      cx: x, cy: -y, r: 0.32, fill: "#0072B2", opacity: 0.25 + (0.55 * (index + 1)) / all.length,
    }));
  });
  for (const ball of state.coming.slice(0, 1)) {
    const [x, y] = ball.landing_m;
    const from = state.launchers[ball.launcher]?.mouth_m ?? [0, -12];
    court.append(shape("line", {
      x1: from[0], y1: -from[1], x2: x, y2: -y, stroke: "#D55E00", "stroke-width": 0.12,
      "stroke-dasharray": "0.5 0.35",
    }));
    court.append(shape("circle", {
      cx: x, cy: -y, r: 0.6, fill: "none", stroke: "#D55E00", "stroke-width": 0.22,
    }));
  }
  svg.append(court);
  const coming = state.coming[0];
  const title = shape("title", {}, coming
    ? `The court; next ball: ${coming.feed}`
    : "The court; no ball is coming");
  svg.prepend(title);
}

export function mark(result) {
  return MARK[result] ?? "";
}
