// Where a ball comes down within its stated scatter: drawn for each ball by its number, always the same.
// Numbers that fill the square evenly come from multiples of two irrational shares, those of the plastic
// number (M. Roberts, The Unreasonable Effectiveness of Quasirandom Sequences, 2018; from memory); from
// them normal ones as Box and Muller make them (Annals of Mathematical Statistics 29:610, 1958).

const SHARES = [0.7548776662466927, 0.5698402909980532];

// [x, y] in metres from the feed's landing; `scatter` is one sigma's half axes and their turn, in degrees
// from court x towards court y.
export function strayOf(number, [major_m, minor_m, turn_deg]) {
  const [one, other] = SHARES.map((share) => (number * share) % 1);
  const far = Math.sqrt(-2 * Math.log(1 - one));
  const along = major_m * far * Math.cos(2 * Math.PI * other);
  const across = minor_m * far * Math.sin(2 * Math.PI * other);
  const turn = (turn_deg * Math.PI) / 180;
  return [along * Math.cos(turn) - across * Math.sin(turn), along * Math.sin(turn) + across * Math.cos(turn)];
}
