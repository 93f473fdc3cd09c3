/**
 * The map of a foot from below, toe upwards, with the wall laid out on both sides: where each place lies, and what the
 * places are drawn on. The one door to the drawing: what draws it better takes the place of `ground`.
 */

import { el, svg } from "../dom.js";
import { END, hoofCurve, pathOf, WEB } from "./hoof.js";

const SIGN = { medial: -1, lateral: 1 };
const [WIDTH, HEIGHT] = [336, 312];
const [X, Y] = [168, 150];
const LEAST = 48;
const NAIL_Y = [26, 78, 130, 182, 234, 286];
/** The middle of each place, to the right of the middle line for one of a side, and its size. */
const SPOTS = {
  toe: [0, 64, 76, 50],
  toe_side: [46, 82, 48, 48],
  quarter: [62, 148, 50, 64],
  heel: [56, 240, 56, 58],
  sole: [0, 128, 64, 52],
  frog: [0, 214, 50, 60],
};

/** On which side of the drawing a side of the foot lies: 1 right, -1 left. Seen from below, left feet have lateral right. */
export function sideOf(side, foot) {
  return SIGN[side] * (foot?.startsWith("right") ? -1 : 1);
}

/** The middle and the size of a place, in units of the drawing; null where the drawing has no such place. */
function boxOf(place, foot) {
  const nail = /^nail:(medial|lateral):(\d+)$/.exec(place);
  if (nail) return [X + sideOf(nail[1], foot) * (X - LEAST / 2), NAIL_Y[Math.min(NAIL_Y.length, Number(nail[2])) - 1], LEAST, LEAST];
  const [, side, part] = /^(?:(medial|lateral)_)?(\w+)$/.exec(place) ?? [];
  const spot = SPOTS[side && part === "toe" ? "toe_side" : part];
  return spot ? [X + (side ? sideOf(side, foot) : 0) * spot[0], spot[1], spot[2], spot[3]] : null;
}

/** Whether the map has a place. */
export function isOnMap(place) {
  return boxOf(place, "left_fore") !== null;
}

/**
 * The map with a button on each place.
 *
 * @param {string} foot
 * @param {{place: string, state: string, mark: string, name: string}[]} places
 * @param {(place: string) => void} onTap
 */
export function footMap(foot, places, onTap) {
  const map = el("div", { class: "map", "data-foot": foot }, ground(foot, places));
  for (const { place, state, mark, name } of places) {
    const box = boxOf(place, foot);
    if (!box) continue;
    const [x, y, width, height] = box;
    const spot = el("button", { type: "button", class: `place ${state}`, id: `place-${place}`, "data-place": place, "data-state": state, "aria-label": name, on: { click: () => onTap(place) } }, el("span", { "aria-hidden": "true" }, mark));
    // By script, since the page's policy takes no style in an attribute.
    spot.style.left = `${(100 * x) / WIDTH}%`;
    spot.style.top = `${(100 * y) / HEIGHT}%`;
    spot.style.width = `${(100 * width) / WIDTH}%`;
    spot.style.height = `${(100 * height) / HEIGHT}%`;
    map.append(spot);
  }
  return map;
}

/**
 * The map with a numbered mark on each place that something was found at.
 *
 * @param {string} foot
 * @param {{place: string, grade: string, number: number}[]} marks
 * @param {string} name  what it shows, for those who do not see it
 */
export function markedMap(foot, marks, name) {
  const map = el("div", { class: "map marked", role: "img", "aria-label": name }, ground(foot, marks));
  const byPlace = new Map();
  for (const mark of marks) byPlace.set(mark.place, [...(byPlace.get(mark.place) ?? []), mark]);
  for (const [place, here] of byPlace) {
    const [x, y] = boxOf(place, foot) ?? [X, HEIGHT - 26];
    const spot = el("span", { class: `found-mark ${here[0].grade}`, "data-place": place }, here.map(({ number }) => number).join(", "));
    spot.style.left = `${(100 * x) / WIDTH}%`;
    spot.style.top = `${(100 * y) / HEIGHT}%`;
    map.append(spot);
  }
  return map;
}

/** Hoof, shoe, frog and white line, and a line from each nail to its hole. */
function ground(foot, places) {
  const kind = foot?.endsWith("hind") ? "hind" : "fore";
  const curve = hoofCurve(kind);
  const out = (angle) => (Math.abs(angle) < 100 ? 1 : 4);
  const ring = [...curve.along(-END, END, out), ...curve.along(END, -END, -WEB)];
  const nails = places.filter(({ place }) => place.startsWith("nail:"));
  return svg(
    "svg",
    { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "drawing", "aria-hidden": "true", focusable: "false" },
    svg(
      "g",
      { transform: `translate(${X} ${Y}) scale(1.18)` },
      svg("path", { d: pathOf(curve.along(-END, END), true), class: "horn-face" }),
      svg("path", { d: pathOf(ring, true), class: "iron" }),
      svg("path", { d: pathOf(curve.along(-END, END, -11)), class: "hair dash" }),
      svg("path", { d: "M-4 -12C-3 -18 3 -18 4 -12L24 62C20 72 8 70 4 60C2 50 -2 50 -4 60C-8 70 -20 72 -24 62Z", class: "frog" }),
      svg("path", { d: "M-46 62L-17 12M46 62L17 12", class: "hair" }),
      nails.map(({ place }) => leader(curve, place, foot)),
    ),
  );
}

function leader(curve, place, foot) {
  const [, side, hole] = place.split(":");
  const [hx, hy] = curve.at(sideOf(side, foot) * (24 + 17 * (Number(hole) - 1)), -10);
  const [x, y] = boxOf(place, foot);
  const [fromX, fromY] = [(x - X) / 1.18 - Math.sign(x - X) * 20, (y - Y) / 1.18];
  return svg("g", {}, svg("path", { d: `M${fromX.toFixed(1)} ${fromY.toFixed(1)}L${hx.toFixed(1)} ${hy.toFixed(1)}`, class: "hair" }), svg("rect", { x: hx - 3, y: hy - 3, width: 6, height: 6, class: "nail" }));
}
