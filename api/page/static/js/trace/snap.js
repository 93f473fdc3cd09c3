/**
 * A tap taken to the edge beside it: the place along the normal of the line where the grey changes most. Pure reckoning.
 *
 * Grey values are averaged along the edge against noise and smoothed across it by a Gaussian's derivative (Canny 1986,
 * "A computational approach to edge detection"); a change that noise explains is no edge.
 */

import { figure } from "../figures.js";

/** Pixels from one place looked at to the next, and ways in which an edge is sought where that of the line is not known. */
const STEP = 0.5;
const WAYS = 12;

/** The derivative of a Gaussian, three standard deviations to each side. @param {number} sigma  in pixels */
function derivativeOf(sigma) {
  const half = Math.ceil((3 * sigma) / STEP);
  return Array.from({ length: 2 * half + 1 }, (_, at) => {
    const x = ((at - half) * STEP) / sigma;
    return (x * Math.exp(-0.5 * x * x)) / sigma;
  });
}

/** @typedef {{width: number, height: number, left: number, top: number, data: ArrayLike<number>}} Grey  a patch, 0 to 255 */

/**
 * @param {Grey} grey @param {[number, number]} point @param {[number, number]|null} along  the way of the line there, if known
 * @param {number} reach  how far the edge may lie, in pixels
 * @returns {[number, number]|null}  null where there is no edge
 */
export function snapped(grey, point, along, reach) {
  const ways = along ? [normal(along)] : Array.from({ length: WAYS }, (_, at) => [Math.cos((Math.PI * at) / WAYS), Math.sin((Math.PI * at) / WAYS)]);
  const sigma = figure("photograph_edge_smoothing");
  const weights = derivativeOf(sigma);
  let best = null;
  for (const way of ways) {
    const found = strongest(grey, point, way, reach, sigma, weights);
    if (found && (!best || found.change > best.change)) best = { ...found, way };
  }
  return best && [point[0] + best.off * best.way[0], point[1] + best.off * best.way[1]];
}

/** The way of a line at a new tap, from those beside it; null where none is far enough off. */
export function wayAt(point, before, after) {
  const [one, other] = [before ?? point, after ?? point];
  const way = [other[0] - one[0], other[1] - one[1]];
  return Math.hypot(...way) > 2 ? way : null;
}

function normal([x, y]) {
  const size = Math.hypot(x, y);
  return [-y / size, x / size];
}

function strongest(grey, point, way, reach, sigma, weights) {
  const most = Math.ceil((reach + 3 * sigma) / STEP);
  const along = figure("photograph_edge_beside");
  const profile = [];
  let bends = 0;
  for (let at = -most; at <= most; at += 1) {
    const values = [];
    for (let beside = -along; beside <= along; beside += 1) values.push(value(grey, point[0] + at * STEP * way[0] - beside * way[1], point[1] + at * STEP * way[1] + beside * way[0]));
    profile.push(values.reduce((sum, each) => sum + each, 0) / values.length);
    // Second differences along the edge have 1 + 4 + 1 times the variance of the noise, and nothing of a straight edge.
    for (let number = 2; number < values.length; number += 1) bends += (values[number] - 2 * values[number - 1] + values[number - 2]) ** 2 / 6 / (values.length - 2);
  }
  const noise = Math.sqrt(bends / profile.length / (2 * along + 1)) * Math.hypot(...weights);
  const changes = derivative(profile, weights);
  if (!changes.length) return null;
  const middle = (changes.length - 1) / 2;
  const least = Math.max(figure("photograph_edge_change"), figure("photograph_edge_stands_out") * noise);
  // Of two edges the nearer one was meant, were it somewhat weaker.
  const weighed = changes.map((change, at) => {
    const peak = change >= (changes[at - 1] ?? Infinity) && change >= (changes[at + 1] ?? Infinity);
    return peak && change > least ? Math.sqrt(change) * Math.exp(-0.5 * (((at - middle) * STEP) / (reach / figure("photograph_edge_nearness"))) ** 2) : 0;
  });
  const at = weighed.indexOf(Math.max(...weighed));
  if (!weighed[at]) return null;
  const [before, here, after] = [changes[at - 1], changes[at], changes[at + 1]];
  const bend = before - 2 * here + after;
  const part = bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (before - after)) / bend)) : 0;
  return { off: (at + part - middle) * STEP, change: weighed[at] };
}

function derivative(profile, weights) {
  const half = (weights.length - 1) / 2;
  const changes = [];
  for (let at = half; at < profile.length - half; at += 1) {
    changes.push(Math.abs(weights.reduce((sum, weight, by) => sum + weight * profile[at + by - half], 0)));
  }
  return changes;
}

/** Between the four pixels around; the border goes on beyond the patch. */
function value({ width, height, left, top, data }, x, y) {
  const [column, row] = [Math.min(Math.max(x - left - 0.5, 0), width - 1.001), Math.min(Math.max(y - top - 0.5, 0), height - 1.001)];
  const [c, r] = [Math.floor(column), Math.floor(row)];
  const [p, q] = [column - c, row - r];
  const at = r * width + c;
  return (1 - q) * ((1 - p) * data[at] + p * data[at + 1]) + q * ((1 - p) * data[at + width] + p * data[at + width + 1]);
}
