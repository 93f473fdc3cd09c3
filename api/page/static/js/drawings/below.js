/** The foot from below, toe upwards: hoof, shoe and frog, with the places to look at picked out. */

import { svg } from "../dom.js";
import { t } from "../messages.js";
import { END, hoofCurve, pathOf, STRETCHES, WEB } from "./hoof.js";
import { frame, line, path, words } from "./parts.js";

const SIGN = { medial: -1, lateral: 1 };
const BRANCH_END = 88;

/** On which side of the drawing a side of the foot lies: 1 right, -1 left. Seen from below, left feet have lateral right. */
export function sideOf(side, foot) {
  return SIGN[side] * (foot?.startsWith("right") ? -1 : 1);
}

/**
 * @param {string|undefined} foot  left_fore and so on
 * @param {object} shown
 * @param {string[]} [shown.marks]  places to pick out
 * @param {"gap"|"imprint"|"length"|null} [shown.detail]
 * @param {{medial: number[], lateral: number[]}} [shown.holes]  holes with a nail
 * @param {string} title  id of the text that says what is shown
 */
export function below(foot, shown, title) {
  const kind = foot?.endsWith("hind") ? "hind" : "fore";
  const curve = hoofCurve(kind);
  const nodes = [...shoe(curve), path(pathOf(curve.along(-END, END)), "wall"), ...frog()];
  if (shown.detail === "imprint") nodes.push(imprint(curve));
  if (shown.holes) nodes.push(...nailHoles(curve, shown.holes, foot));
  for (const place of shown.marks ?? []) nodes.push(...marked(curve, place, foot, shown.detail));
  if (shown.detail === "length") {
    nodes.push(line(0, curve.at(0, 1)[1], 0, BRANCH_END, "look"), line(-50, BRANCH_END, 50, BRANCH_END, "look"));
  }
  for (const side of ["medial", "lateral"]) {
    nodes.push(words(sideOf(side, foot) * 118, 4, t(`side.${side}.short`)), words(sideOf(side, foot) * 118, 20, t(`side.${side}.trade`), { kind: "small" }));
  }
  nodes.push(words(0, -86, t("place.toe.short")));
  return frame("-160 -102 320 200", title, { foot: t(foot ? `foot.${foot}` : "foot.any") }, nodes);
}

function shoe(curve) {
  const out = (angle) => (Math.abs(angle) < 100 ? 1 : 3.5);
  const outer = curve.along(-END, END, out);
  const inner = curve.along(END, -END, -WEB);
  const [right, left] = [outer.at(-1), outer[0]];
  const [innerRight, innerLeft] = [inner[0], inner.at(-1)];
  const ends = (from, to) => [[from[0], BRANCH_END], [to[0], BRANCH_END]];
  return [path(pathOf([...outer, ...ends(right, innerRight), ...inner, ...ends(innerLeft, left)], true), "iron")];
}

function frog() {
  return [
    path("M-4 -12C-3 -18 3 -18 4 -12L24 62C20 72 8 70 4 60C2 50 -2 50 -4 60C-8 70 -20 72 -24 62Z", "hair"),
    path("M-46 62L-17 12M46 62L17 12", "hair"),
  ];
}

function imprint(curve) {
  return path(pathOf([...curve.along(-140, 140, -1), ...curve.along(140, -140, -11)], true), "imprint");
}

function nailHoles(curve, holes, foot) {
  return ["medial", "lateral"].flatMap((side) =>
    [1, 2, 3, 4, 5, 6].flatMap((hole) => {
      const angle = sideOf(side, foot) * (22 + 16 * (hole - 1));
      const [x, y] = curve.at(angle, -9);
      const [nx, ny] = curve.at(angle, -19);
      const used = holes[side].includes(hole);
      return [
        svg("rect", { x: x - 4, y: y - 4, width: 8, height: 8, class: used ? "nail" : "hole" }),
        words(nx, ny + 4, String(hole), { kind: used ? "tiny" : "tiny faint" }),
      ];
    }),
  );
}

function marked(curve, place, foot, detail) {
  if (place === "sole") return [svg("ellipse", { cx: 0, cy: -28, rx: 30, ry: 14, class: "look-area" })];
  if (place === "foot") return [path(pathOf(curve.along(-END, END, 4)), "look broad")];
  if (place === "toe") return [path(pathOf(curve.along(-STRETCHES.toe[1], STRETCHES.toe[1], 4)), "look broad")];
  const [side, part] = place.split("_");
  const sign = sideOf(side, foot);
  const [from, to] = STRETCHES[part];
  if (detail === "gap") {
    const [x, y] = [sign * 24, 50];
    return [line(x, y, sign * 41, y, "look broad"), line(x, y - 7, x, y + 7, "look"), line(sign * 41, y - 7, sign * 41, y + 7, "look")];
  }
  return [path(pathOf(curve.along(sign * (from + 3), sign * (to - 2), 6)), "look broad")];
}
