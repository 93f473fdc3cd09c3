/** From points tapped on a photograph to outlines in millimetres. Pure reckoning, nothing of the page. */

import { figure } from "../figures.js";
import { pointU } from "./plane.js";

/** @typedef {[number, number]} Point */
/** @typedef {import("./plane.js").Tap} Tap */

/** Parts of the line between two taps. */
const FINE = 24;

const apart = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);
const middle = (points) => [mean(points.map(([x]) => x)), mean(points.map(([, y]) => y))];
const mean = (numbers) => numbers.reduce((sum, each) => sum + each, 0) / numbers.length;

/**
 * A smooth line through points, from the first to the last (Catmull-Rom, centripetal).
 *
 * @param {Point[]} points @returns {Point[]}
 */
export function smooth(points) {
  if (points.length < 3) return points;
  const before = points[0].map((each, axis) => 2 * each - points[1][axis]);
  const after = points.at(-1).map((each, axis) => 2 * each - points.at(-2)[axis]);
  const all = [before, ...points, after];
  const line = [];
  for (let at = 1; at < all.length - 2; at += 1) {
    for (let part = 0; part < FINE; part += 1) line.push(between(all.slice(at - 1, at + 3), part / FINE));
  }
  return [...line, points.at(-1)];
}

function between([p0, p1, p2, p3], part) {
  const knot = (from, one, other) => from + Math.sqrt(Math.max(apart(one, other), 1e-9));
  const t0 = 0;
  const t1 = knot(t0, p0, p1);
  const t2 = knot(t1, p1, p2);
  const t3 = knot(t2, p2, p3);
  const t = t1 + (t2 - t1) * part;
  const mix = (one, other, from, to) => one.map((each, axis) => (each * (to - t) + other[axis] * (t - from)) / (to - from));
  const [a1, a2, a3] = [mix(p0, p1, t0, t1), mix(p1, p2, t1, t2), mix(p2, p3, t2, t3)];
  return mix(mix(a1, a2, t0, t2), mix(a2, a3, t1, t3), t1, t2);
}

/** `count` points at even distances along a line. @returns {Point[]} */
export function even(line, count) {
  const lengths = [0];
  for (let at = 1; at < line.length; at += 1) lengths.push(lengths[at - 1] + apart(line[at - 1], line[at]));
  const whole = lengths.at(-1);
  let at = 0;
  return Array.from({ length: count }, (_, number) => {
    const wanted = (whole * number) / (count - 1);
    while (at < line.length - 2 && lengths[at + 1] < wanted) at += 1;
    const part = (wanted - lengths[at]) / (lengths[at + 1] - lengths[at] || 1);
    return [0, 1].map((axis) => line[at][axis] + part * (line[at + 1][axis] - line[at][axis]));
  });
}

/** Runs of taps that were seen: a stretch is hidden from a tap with 1 in its fourth place up to the next. @returns {Tap[][]} */
export function runs(taps) {
  const all = [[]];
  taps.forEach((tap, at) => {
    all.at(-1).push(tap);
    if (tap[3] && at < taps.length - 1) all.push([]);
  });
  return all;
}

/** The hoof's line with the heels as its ends, in the order in which it was tapped. @returns {Point[]} */
export function hoofLine({ heels, hoof }) {
  if (heels.length < 2 || hoof.length < 2) return hoof;
  const straight = apart(hoof[0], heels[0]) + apart(hoof.at(-1), heels[1]);
  const turned = apart(hoof[0], heels[1]) + apart(hoof.at(-1), heels[0]);
  const [first, last] = straight <= turned ? heels : [heels[1], heels[0]];
  return [first, ...hoof, last];
}

/**
 * The outline as the service takes it, in mm, toe towards +y, +x to the right of it on the photograph.
 *
 * @param {{heels: Tap[], hoof: Tap[], shoe: Tap[], holes: Tap[], mirrored: boolean}} taps  in pixels
 * @param {NonNullable<ReturnType<typeof import("./plane.js").planeOf>>} plane
 * @param {string} foot  left_fore and so on
 */
export function outlineOf(taps, plane, foot) {
  const { place } = frameOf(taps, plane);
  const hoof = traced(hoofLine(taps), place);
  const shoe = traced(taps.shoe, place);
  const all = [...taps.heels, ...taps.hoof, ...taps.shoe];
  const mm = apart(hoof.line[0], hoof.line.at(-1));
  const sent = {
    hoof: hoof.line,
    shoe: shoe.line,
    lateral: lateralSide(foot, taps.mirrored),
    scale: { from: hoof.line[0], to: hoof.line.at(-1), mm: round(mm, 1000), u: round(Math.min(mm * plane.share(all), 100), 1000) },
    made: { by: "photograph", u: round(pointU(plane, all), 1000) },
  };
  if (taps.holes.length) sent.nail_holes = taps.holes.map(place);
  // What hides the iron hides the wall beside it: nothing is to be said of either there.
  const hidden = [...hoof.hidden, ...shoe.hidden.map((ends) => ends.map((end) => nearest(hoof.line, end)))];
  // Where no tap follows, the rest of the branch is hidden: the line ends short of the iron, and the heel is not to be judged by it.
  if (taps.shoe.at(-1)?.[3]) hidden.push([nearest(hoof.line, shoe.line.at(-1)), nearest([hoof.line[0], hoof.line.at(-1)], shoe.line.at(-1))]);
  if (hidden.length) sent.hidden = hidden;
  return sent;
}

/** What takes a pixel to the frame of the outline, and back. @returns {{place: (tap: Point) => Point, back: (point: Point) => Point}} */
export function frameOf(taps, plane) {
  const ground = taps.hoof.map(plane.place);
  const [heel, other] = taps.heels.map(plane.place);
  const origin = middle(ground);
  const heels = middle([heel, other]);
  let [dx, dy] = [other[1] - heel[1], heel[0] - other[0]];
  if ((origin[0] - heels[0]) * dx + (origin[1] - heels[1]) * dy < 0) [dx, dy] = [-dx, -dy];
  const size = Math.hypot(dx, dy);
  const [ux, uy] = [dx / size, dy / size];
  const place = (tap) => {
    const [x, y] = plane.place(tap);
    const [rx, ry] = [x - origin[0], y - origin[1]];
    // The photograph's y runs down: to the right of (ux, uy) is (-uy, ux).
    return [-uy * rx + ux * ry, ux * rx + uy * ry].map((mm) => round(mm, 100));
  };
  const back = ([x, y]) => plane.back([origin[0] - uy * x + ux * y, origin[1] + ux * x + uy * y]);
  return { place, back };
}

/** A line through taps, smooth where it was seen and without a point where it was not. */
function traced(taps, place) {
  const parts = runs(taps).map((run) => smooth(run.map(place)));
  const lengths = parts.map((part) => part.slice(1).reduce((sum, point, at) => sum + apart(part[at], point), 0));
  const whole = lengths.reduce((sum, each) => sum + each, 0);
  const evened = parts.map((part, at) => (part.length < 2 ? part : even(part, Math.max(2, Math.round((figure("photograph_points") * lengths[at]) / whole)))));
  return {
    line: evened.flat().map((point) => point.map((mm) => round(mm, 100))),
    hidden: evened.slice(1).map((part, at) => [evened[at].at(-1), part[0]].map((end) => end.map((mm) => round(mm, 100)))),
  };
}

const nearest = (line, point) => line.reduce((best, each) => (apart(each, point) < apart(best, point) ? each : best));
const round = (number, parts) => Math.round(number * parts) / parts;

/** On which side the lateral branch lies: seen from below, on the right of a left foot. */
export function lateralSide(foot, mirrored) {
  return foot.startsWith("left") !== Boolean(mirrored) ? "+x" : "-x";
}

/** Length along y and width along x of points in mm. */
export function extent(points) {
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  return { length: Math.max(...ys) - Math.min(...ys), width: Math.max(...xs) - Math.min(...xs) };
}
