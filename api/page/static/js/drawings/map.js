/**
 * The map of a foot from below, toe upwards, with the wall laid out on both sides: where each place lies, and what the
 * places are drawn on. The shapes of the drawing come from `shapes.js`.
 */

import { el, svg } from "../dom.js";
import { FORE, HIND } from "./shapes.js";

const SIGN = { medial: -1, lateral: 1 };
const WIDTH = 336;
/** Height of the map, by whether the wall laid out has more than five nails a side. */
const [SHORT, LONG] = [274, 312];
const [X, Y] = [168, 150];
const LEAST = 48;
const SCALE = 1.18;
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

/** What a foot has none of before the shoe is on. */
const OF_THE_SHOE = ["iron", "fuller"];
/** Where a mark of the whole foot stands: beside it, since on it it would lie on something else. */
const BESIDE = 20;

/** The middle and the size of a place, in units of the drawing; null where the drawing has no such place. */
function boxOf(place, foot) {
  const nail = /^nail:(medial|lateral):(\d+)$/.exec(place);
  if (nail) return [X + sideOf(nail[1], foot) * (X - LEAST / 2), NAIL_Y[Math.min(NAIL_Y.length, Number(nail[2])) - 1], LEAST, LEAST];
  const [, side, part] = /^(?:(medial|lateral)_)?(\w+)$/.exec(place) ?? [];
  const spot = SPOTS[side && part === "toe" ? "toe_side" : part];
  return spot ? [X + (side ? sideOf(side, foot) : 0) * spot[0], spot[1], spot[2], spot[3]] : null;
}

function heightOf(places) {
  return places.some(({ place }) => /^nail:\w+:[6-9]/.test(place)) ? LONG : SHORT;
}

/** Whether the map has a place. */
export function isOnMap(place) {
  return boxOf(place, "left_fore") !== null;
}

/**
 * The map with a button on each place.
 *
 * @param {{foot: string, stage: string}} of
 * @param {{place: string, state: string, mark: string, name: string}[]} places
 * @param {string[]} clips  the places of its clips
 * @param {(place: string) => void} onTap
 */
export function footMap({ foot, stage }, places, clips, onTap) {
  const nails = places.map(({ place }) => place).filter(isNail);
  const map = el("div", { class: "map", "data-foot": foot }, ground(foot, { height: heightOf(places), nails, led: nails, clips, bare: stage === "dressed" }));
  const height = heightOf(places);
  for (const { place, state, mark, name } of places) {
    const box = boxOf(place, foot);
    if (!box) continue;
    const [x, y, width, tall] = box;
    const spot = el("button", { type: "button", class: `place ${state}`, id: `place-${place}`, "data-place": place, "data-state": state, "aria-label": name, on: { click: () => onTap(place) } }, el("span", { "aria-hidden": "true" }, mark));
    // By script, since the page's policy takes no style in an attribute.
    spot.style.left = `${(100 * x) / WIDTH}%`;
    spot.style.top = `${(100 * y) / height}%`;
    spot.style.width = `${(100 * width) / WIDTH}%`;
    spot.style.height = `${(100 * tall) / height}%`;
    map.append(spot);
  }
  return map;
}

/**
 * The map with a numbered mark on each place that something was found at.
 *
 * @param {{foot: string, stage: string}} of
 * @param {{place: string, grade: string, number: number}[]} marks
 * @param {{nails: string[], clips: string[]}} shoe  where it has nails and clips
 * @param {{name: string, wholeFoot: string}} words  what it shows, for those who do not see it; of a mark of the whole
 */
export function markedMap({ foot, stage }, marks, { nails, clips }, { name, wholeFoot }) {
  const led = marks.map(({ place }) => place).filter(isNail);
  const shown = { height: heightOf(marks), nails: [...new Set([...nails, ...led])], led, clips, bare: stage === "dressed" };
  const map = el("div", { class: "map marked", role: "img", "aria-label": name }, ground(foot, shown));
  const height = heightOf(marks);
  const byPlace = new Map();
  for (const mark of marks) byPlace.set(mark.place, [...(byPlace.get(mark.place) ?? []), mark]);
  for (const [place, here] of byPlace) {
    const [x, y] = boxOf(place, foot) ?? [X, BESIDE];
    const numbers = here.map(({ number }) => number).join(", ");
    const spot = el("span", { class: `found-mark ${here[0].grade}`, "data-place": place }, numbers, boxOf(place, foot) ? null : el("span", { class: "mark-words" }, wholeFoot));
    spot.style.left = `${(100 * x) / WIDTH}%`;
    spot.style.top = `${(100 * y) / height}%`;
    map.append(spot);
  }
  return map;
}

function isNail(place) {
  return place.startsWith("nail:");
}

/** Hoof, shoe and frog with the clips and nail holes that are known, and a line from some nails to their holes. */
function ground(foot, { height, nails, led, clips, bare }) {
  const { below, clips: clip, holes } = foot?.endsWith("hind") ? HIND : FORE;
  const most = Math.max(...Object.keys(holes).map(Number));
  const count = Math.min(most, Math.max(Math.min(...Object.keys(holes).map(Number)), ...nails.map((place) => Number(place.split(":")[2]))));
  const driven = bare ? [] : holes[count].filter(({ place }) => nails.includes(place));
  const shown = [
    ...below.filter(({ part }) => !bare || !OF_THE_SHOE.includes(part)),
    ...clip.filter(({ place }) => !bare && clips.includes(place.replace("clip:", ""))),
    ...driven,
  ];
  const drawn = ({ part, place, d }) => svg("path", { d, class: `part-${part}`, "data-part": place ?? null });
  return svg(
    "svg",
    { viewBox: `0 0 ${WIDTH} ${height}`, class: "drawing", "aria-hidden": "true", focusable: "false" },
    svg("g", { transform: `translate(${X} ${Y}) scale(${sideOf("lateral", foot) * SCALE} ${SCALE})` }, shown.map(drawn)),
    driven.filter(({ place }) => led.includes(place)).map(({ place, d }) => leader(place, d, foot)),
  );
}

function leader(place, d, foot) {
  const [, across, down] = /^M(-?[\d.]+) (-?[\d.]+)/.exec(d);
  const [x, y] = boxOf(place, foot);
  const to = [X + sideOf("lateral", foot) * SCALE * Number(across), Y + SCALE * Number(down)];
  const from = [x + Math.sign(X - x) * (LEAST / 2), y];
  return svg("path", { d: `M${from.join(" ")}L${to.join(" ")}`, class: "part-leader" });
}
