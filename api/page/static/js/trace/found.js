/** What a tracing shows before it counts: how far the iron stands out beside the wall, place by place. Pure reckoning. */

import { figure } from "../figures.js";

/** @typedef {[number, number]} Point */

/** Where it is told, as a share of the hoof's line from one heel to the other. */
function stations() {
  const [heel, quarter] = [figure("photograph_at_heel"), figure("photograph_at_quarter")];
  return [["heel", heel], ["quarter", quarter], ["toe", 0.5], ["quarter", 1 - quarter], ["heel", 1 - heel]];
}

/**
 * @param {{hoof: Point[], shoe: Point[], lateral: "+x"|"-x", hidden?: [Point, Point][], made: {u: number}}} sent
 * @returns {{place: string, mm: number, u: number, from: Point, to: Point}[]}  nothing of what is hidden
 */
export function found(sent) {
  const along = lengthsAlong(sent.hoof);
  return stations().flatMap(([name, share]) => {
    const at = along.findIndex((each) => each >= share * along.at(-1));
    const from = sent.hoof[at];
    if (isHidden(sent, at)) return [];
    const to = nearestOn(sent.shoe, from);
    const side = from[0] > 0 === (sent.lateral === "+x") ? "lateral" : "medial";
    const outside = Math.hypot(...to) >= Math.hypot(...from);
    const mm = Math.hypot(to[0] - from[0], to[1] - from[1]) * (outside ? 1 : -1);
    return [{ place: name === "toe" ? "toe" : `${side}_${name}`, mm, u: Math.SQRT2 * sent.made.u, from, to }];
  });
}

/** Millimetres as they are told: tenths, and nought without a sign. @param {number} mm */
export function tenths(mm) {
  return (Math.round(mm * 10) / 10 || 0).toFixed(1);
}

function lengthsAlong(line) {
  const lengths = [0];
  for (let at = 1; at < line.length; at += 1) lengths.push(lengths[at - 1] + Math.hypot(line[at][0] - line[at - 1][0], line[at][1] - line[at - 1][1]));
  return lengths;
}

function isHidden({ hoof, hidden = [] }, at) {
  const number = (point) => hoof.findIndex(([x, y]) => x === point[0] && y === point[1]);
  return hidden.some((ends) => {
    const [first, last] = ends.map(number).sort((one, other) => one - other);
    return first <= at && at <= last;
  });
}

function nearestOn(line, [x, y]) {
  let [best, least] = [line[0], Infinity];
  for (let at = 1; at < line.length; at += 1) {
    const [[ax, ay], [bx, by]] = [line[at - 1], line[at]];
    const square = (bx - ax) ** 2 + (by - ay) ** 2;
    const part = square > 0 ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / square)) : 0;
    const point = [ax + part * (bx - ax), ay + part * (by - ay)];
    const far = Math.hypot(point[0] - x, point[1] - y);
    if (far < least) [best, least] = [point, far];
  }
  return best;
}
