/**
 * Lines for drawings of practice: hoofs of chance form, and edges that run beside them at an exact distance. All in mm,
 * y down as on a screen, the toe up.
 */

const TURN = Math.PI / 180;

/** A number from `low` to `high` by chance. */
export function between(chance, low, high) {
  return low + chance() * (high - low);
}

/** One of several by chance. */
export function oneOf(chance, these) {
  return these[Math.min(these.length - 1, Math.floor(chance() * these.length))];
}

/** The path of points, to the thousandth of a millimetre. */
export function pathOf(points, closed = false) {
  const written = points.map(([x, y]) => `${Number(x.toFixed(3))} ${Number(y.toFixed(3))}`);
  return `M${written.join("L")}${closed ? "Z" : ""}`;
}

/** From one to the other, without a corner at either end. */
export function eased(share) {
  const within = Math.min(1, Math.max(0, share));
  return within * within * (3 - 2 * within);
}

/** A bearing edge by its angles from the toe (degrees): round in front, pointed behind, by chance never twice the same. */
export class Outline {
  constructor(chance, hind) {
    this.radius = between(chance, 62, 72);
    const pointed = hind ? between(chance, 0.035, 0.075) : between(chance, -0.015, 0.02);
    this.even = [between(chance, -0.02, 0.03), pointed, hind ? between(chance, 0.0, 0.02) : between(chance, -0.012, 0.012)];
    this.odd = [between(chance, -0.025, 0.025), between(chance, -0.015, 0.015)];
  }

  /** The point at an angle, and the direction straight out from it. */
  at(angle) {
    const turn = angle * TURN;
    let [length, change] = [1, 0];
    this.even.forEach((part, order) => {
      length += part * Math.cos((order + 1) * turn);
      change -= part * (order + 1) * Math.sin((order + 1) * turn);
    });
    this.odd.forEach((part, order) => {
      length += part * Math.sin((order + 1) * turn);
      change += part * (order + 1) * Math.cos((order + 1) * turn);
    });
    const [sin, cos] = [Math.sin(turn), Math.cos(turn)];
    const along = [change * sin + length * cos, -(change * cos - length * sin)];
    const size = Math.hypot(...along);
    return { point: [this.radius * length * sin, -this.radius * length * cos], out: [along[1] / size, -along[0] / size] };
  }

  /** The point so far outside the edge. */
  beside(angle, out) {
    const { point, out: way } = this.at(angle);
    return [point[0] + out * way[0], point[1] + out * way[1]];
  }

  /** A line beside the edge; `out` is a distance, or a function of the angle. */
  along(first, last, out = 0, step = 1) {
    const count = Math.max(1, Math.ceil(Math.abs(last - first) / step));
    const angles = Array.from({ length: count + 1 }, (_, place) => first + ((last - first) * place) / count);
    return angles.map((angle) => this.beside(angle, typeof out === "function" ? out(angle) : out));
  }
}

/** A distance that is each of the `knots` [angle, distance] about its angle, and eases from one to the next. */
export function betweenKnots(knots, flat) {
  return (angle) => {
    const after = knots.findIndex(([at]) => at >= angle);
    if (after === -1) return knots.at(-1)[1];
    if (after === 0) return knots[0][1];
    const [[from, low], [to, high]] = [knots[after - 1], knots[after]];
    return low + (high - low) * eased((angle - from - flat) / (to - from - 2 * flat));
  };
}
