/**
 * The plane of the ground as a camera sees it: from four points of known places to any other. Pure reckoning.
 *
 * A homography has eight figures, and four points give eight equations (Hartley and Zisserman 2004, "Multiple View
 * Geometry", 4.1; both sets of points are first moved and scaled about their middle, 4.4.4). It is kept as nine numbers,
 * row by row.
 */

/** @typedef {[number, number]} Point */
/** @typedef {number[]} Homography */

const STEP_PX = 0.5;
const TINY = 1e-12;

/** The homography that takes four points to four others; null where three of either lie in one line. @returns {Homography|null} */
export function homography(from, to) {
  const [one, other] = [framed(from), framed(to)];
  if (!one || !other) return null;
  const rows = [];
  for (let at = 0; at < 4; at += 1) {
    const [[x, y], [u, v]] = [one.points[at], other.points[at]];
    rows.push([x, y, 1, 0, 0, 0, -u * x, -u * y, u], [0, 0, 0, x, y, 1, -v * x, -v * y, v]);
  }
  const solved = solve(rows);
  if (!solved) return null;
  const { scale: s, middle: [mx, my] } = one;
  const { scale: q, middle: [nx, ny] } = other;
  const into = [s, 0, -s * mx, 0, s, -s * my, 0, 0, 1];
  const out = [1 / q, 0, nx, 0, 1 / q, ny, 0, 0, 1];
  return times(out, times([...solved, 1], into));
}

/** Where a homography takes a point. @returns {Point} */
export function mapped(h, [x, y]) {
  const w = h[6] * x + h[7] * y + h[8];
  return [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w];
}

/** The homography back. @returns {Homography} */
export function inverse([a, b, c, d, e, f, g, h, i]) {
  return [e * i - f * h, c * h - b * i, b * f - c * e, f * g - d * i, a * i - c * g, c * d - a * f, d * h - e * g, b * g - a * h, a * e - b * d];
}

/** How far a point goes for a pixel in the direction in which it goes furthest. */
export function stretch(h, point) {
  const [x, y] = mapped(h, point);
  const [[ax, ay], [bx, by]] = [[STEP_PX, 0], [0, STEP_PX]].map(([dx, dy]) => {
    const [u, v] = mapped(h, [point[0] + dx, point[1] + dy]);
    return [(u - x) / STEP_PX, (v - y) / STEP_PX];
  });
  // The greater singular value of the derivative.
  const sum = ax * ax + ay * ay + bx * bx + by * by;
  const product = (ax * by - ay * bx) ** 2;
  return Math.sqrt((sum + Math.sqrt(Math.max(0, sum * sum - 4 * product))) / 2);
}

/**
 * What errors of the four points do to lengths: the standard uncertainty of each length as a share of it.
 *
 * @param {Point[]} from  the four points, in pixels @param {Point[]} to  where they are, in mm
 * @param {number[]} us  the standard uncertainty of each, in pixels and each direction
 * @param {[Point, Point][]} lengths  the ends of each, in pixels
 */
export function shares(from, to, us, lengths) {
  const long = (h, [one, other]) => apart(mapped(h, one), mapped(h, other));
  const whole = homography(from, to);
  const sums = lengths.map(() => 0);
  for (let corner = 0; corner < 4; corner += 1) {
    for (let axis = 0; axis < 2; axis += 1) {
      const [less, more] = [-STEP_PX, STEP_PX].map((step) => homography(from.map((point, at) => (at === corner ? point.map((each, along) => each + (along === axis ? step : 0)) : point)), to));
      if (!less || !more) return lengths.map(() => Infinity);
      lengths.forEach((each, at) => (sums[at] += (((long(more, each) - long(less, each)) / (2 * STEP_PX)) * us[corner]) ** 2));
    }
  }
  return lengths.map((each, at) => Math.sqrt(sums[at]) / long(whole, each));
}

const apart = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);

/** Four points about their middle, at a mean distance of the root of two; null where three lie in a line. */
function framed(points) {
  const middle = [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / 4);
  const far = points.reduce((sum, point) => sum + apart(point, middle), 0) / 4;
  if (!(far > 0)) return null;
  const scale = Math.SQRT2 / far;
  const moved = points.map(([x, y]) => [scale * (x - middle[0]), scale * (y - middle[1])]);
  for (let out = 0; out < 4; out += 1) {
    const [[ax, ay], [bx, by], [cx, cy]] = moved.filter((_, at) => at !== out);
    if (Math.abs((bx - ax) * (cy - ay) - (by - ay) * (cx - ax)) < 1e-6) return null;
  }
  return { points: moved, scale, middle };
}

/** Gauss's elimination with the largest pivot of each column. */
function solve(rows) {
  const size = rows.length;
  for (let column = 0; column < size; column += 1) {
    let best = column;
    for (let row = column + 1; row < size; row += 1) if (Math.abs(rows[row][column]) > Math.abs(rows[best][column])) best = row;
    [rows[column], rows[best]] = [rows[best], rows[column]];
    if (Math.abs(rows[column][column]) < TINY) return null;
    for (let row = 0; row < size; row += 1) {
      if (row === column) continue;
      const factor = rows[row][column] / rows[column][column];
      for (let at = column; at <= size; at += 1) rows[row][at] -= factor * rows[column][at];
    }
  }
  return rows.map((row, at) => row[size] / row[at]);
}

function times(a, b) {
  return a.map((_, at) => {
    const [row, column] = [3 * Math.floor(at / 3), at % 3];
    return a[row] * b[column] + a[row + 1] * b[column + 3] + a[row + 2] * b[column + 6];
  });
}
