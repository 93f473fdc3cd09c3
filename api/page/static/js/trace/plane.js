/**
 * From pixels of the photograph to millimetres of the ground: by the four corners of a card, or by two marks on a rule.
 *
 * A card takes the tilt of the camera out; a rule gives a scale alone, and what tilt may do stays in its uncertainty.
 */

import { figure } from "../figures.js";
import { homography, inverse, mapped, shares, stretch } from "./homography.js";

/** @typedef {[number, number, number?, number?]} Tap  x, y and standard uncertainty in pixels; 1: hidden up to the next */

/** How many points are tapped for the scale. */
export const SCALE_TAPS = { card: 4, sheet: 4, rule: 2 };
/** The length, in pixels, of what is taken for a short length; any will do that is short beside the foot. */
const NEAR_PX = 10;

const apart = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);
const sure = (tap) => tap[2] ?? figure("photograph_tap_unknown");

/** The longer and the shorter side of a card, in mm; null of what is none. @returns {[number, number]|null} */
export function sidesOf(by) {
  return by === "rule" ? null : [figure(`photograph_${by}_long`), figure(`photograph_${by}_short`)];
}

/** How sure a tap is on a photograph that is drawn so large, in its pixels. @param {number} scale  screen over photograph */
export function tapU(scale) {
  return Math.max(figure("photograph_tap_least"), figure("photograph_tap_screen") / scale);
}

/**
 * What takes pixels to millimetres; y runs down as on the photograph. Null while the scale is not whole, or cannot be.
 *
 * @param {"card"|"sheet"|"rule"} by @param {Tap[]} scale @param {number|null} length  of the rule between the marks, in mm
 */
export function planeOf(by, scale, length) {
  if (scale.length < SCALE_TAPS[by]) return null;
  return by === "rule" ? byRule(scale, length) : byCard(scale, sidesOf(by));
}

/**
 * The other card, where the sides that were tapped are nearer to those of that one; null where they are not.
 *
 * @param {"card"|"sheet"|"rule"} by @param {Tap[]} scale
 */
export function otherCard(by, scale) {
  const corners = by !== "rule" && scale.length === SCALE_TAPS[by] && around(scale);
  if (!corners) return null;
  const [one, other] = sumsOfSides(corners);
  const off = (kind) => Math.abs(Math.log(Math.max(one, other) / Math.min(one, other) / (sidesOf(kind)[0] / sidesOf(kind)[1])));
  const another = by === "card" ? "sheet" : "card";
  return off(another) < off(by) ? another : null;
}

/** Both pairs of opposite sides. */
function sumsOfSides(corners) {
  const sides = corners.map((corner, at) => apart(corner, corners[(at + 1) % 4]));
  return [sides[0] + sides[2], sides[1] + sides[3]];
}

function byRule([one, other], length) {
  const pixels = apart(one, other);
  if (!(length > 0) || !(pixels > 0)) return null;
  const mm = length / pixels;
  const share = Math.hypot(Math.hypot(sure(one), sure(other)) / pixels, figure("photograph_rule_tilt"));
  return { place: ([x, y]) => [x * mm, y * mm], back: ([x, y]) => [x / mm, y / mm], perPixel: () => mm, share: () => share, level: false };
}

function byCard(taps, [long, short]) {
  const corners = around(taps);
  if (!corners) return null;
  const [one, other] = sumsOfSides(corners);
  const wide = one >= other ? [long, short] : [short, long];
  if (Math.abs(Math.log(Math.max(one, other) / Math.min(one, other) / (long / short))) > figure("photograph_card_odd")) return null;
  const places = [[0, 0], [wide[0], 0], [wide[0], wide[1]], [0, wide[1]]];
  const h = homography(corners, places);
  if (!h) return null;
  const back = inverse(h);
  return {
    place: (point) => mapped(h, point),
    back: (point) => mapped(back, point),
    perPixel: (point) => stretch(h, point),
    share: (points) => Math.max(...shares(corners, places, corners.map(sure), lengthsOf(points))),
    level: true,
  };
}

/** The corners in their order round the card; null where they lie in no four-sided figure. @param {Tap[]} taps */
function around(taps) {
  const middle = [0, 1].map((axis) => taps.reduce((sum, tap) => sum + tap[axis], 0) / 4);
  const angle = ([x, y]) => Math.atan2(y - middle[1], x - middle[0]);
  const corners = [...taps].sort((one, other) => angle(one) - angle(other));
  const turns = corners.map((corner, at) => {
    const [next, after] = [corners[(at + 1) % 4], corners[(at + 2) % 4]];
    return (next[0] - corner[0]) * (after[1] - next[1]) - (next[1] - corner[1]) * (after[0] - next[0]);
  });
  return turns.every((turn) => turn > 0) ? corners : null;
}

/** The foot's length and width, and short lengths both ways at a few of its points. */
function lengthsOf(points) {
  const most = (axis) => [...points].sort((one, other) => one[axis] - other[axis]);
  const [across, along] = [most(0), most(1)];
  const some = points.filter((_, at) => at % Math.max(1, Math.floor(points.length / 6)) === 0);
  const short = some.flatMap(([x, y]) => [[[x, y], [x + NEAR_PX, y]], [[x, y], [x, y + NEAR_PX]]]);
  return [[across[0], across.at(-1)], [along[0], along.at(-1)], ...short];
}

/** The standard uncertainty of a traced point in mm and each direction: of the taps, and of the edge that is followed. */
export function pointU(plane, taps) {
  const squares = taps.map((tap) => (sure(tap) * plane.perPixel(tap)) ** 2);
  return Math.hypot(Math.sqrt(squares.reduce((sum, each) => sum + each, 0) / squares.length), figure("photograph_edge_off"));
}
