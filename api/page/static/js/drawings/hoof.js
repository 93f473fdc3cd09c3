/** The edge of a hoof as our drawings show it: a plain curve for the eye, no measure of any foot. */

// Radii (mm) at angles (deg) round from the toe; the same curve as in the drawing of an answer.
const RADII = {
  fore: [[0, 75], [45, 74], [90, 71], [120, 72], [150, 78]],
  hind: [[0, 81], [45, 72.5], [90, 67], [120, 69], [150, 77]],
};

/** How far the drawn edge runs to each side (deg from the toe), and how wide the iron is (mm). */
export const END = 150;
export const WEB = 25;

/** @param {"fore"|"hind"} foot */
export function hoofCurve(foot) {
  const knots = RADII[foot];
  const radius = (angle) => {
    const turn = Math.abs(angle);
    const last = Math.max(1, knots.findIndex(([knot]) => knot >= turn));
    const [a0, r0] = knots[last - 1];
    const [a1, r1] = knots[last];
    const part = (turn - a0) / (a1 - a0);
    const ease = last === 1 ? part * part : part;
    return r0 + (r1 - r0) * ease;
  };
  /** A point at an angle (deg, positive to the right), `out` mm outside the edge; y runs down. */
  const at = (angle, out = 0) => {
    const turn = (angle * Math.PI) / 180;
    const far = radius(angle) + out;
    return [far * Math.sin(turn), -far * Math.cos(turn)];
  };
  const along = (from, to, out = 0) => {
    const steps = Math.max(2, Math.ceil(Math.abs(to - from) / 3));
    return Array.from({ length: steps + 1 }, (_, step) => {
      const angle = from + ((to - from) * step) / steps;
      return at(angle, typeof out === "function" ? out(angle) : out);
    });
  };
  return { at, along };
}

/** Points as the `d` of a path. */
export function pathOf(points, closed = false) {
  const text = points.map(([x, y], index) => `${index ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
  return closed ? `${text}Z` : text;
}
