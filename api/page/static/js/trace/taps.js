/** What was tapped of one foot, part by part, as it is kept in its sheet; every change can be taken back. */

import { figure } from "../figures.js";
import { millimetres } from "../reading.js";
import { planeOf, SCALE_TAPS } from "./plane.js";

/** @typedef {import("./plane.js").Tap} Tap */

export const PARTS = ["scale", "heels", "hoof", "shoe", "holes"];
const MOST = { heels: 2, hoof: 200, shoe: 200, holes: 14 };
const MOST_STEPS = 200;
/** What stood before each change, of the sheet at hand: so a tap moved or hidden comes back as it was. */
let steps = [];
let stepsOf = null;

/** The tracing of a sheet, begun where there is none. */
export function tracingOf(sheet) {
  sheet.tracing ??= {};
  const { tracing } = sheet;
  // A tracing that was begun before there were cards has its two marks as its scale.
  if (tracing.scale) [tracing.rule, tracing.by] = [tracing.scale, "rule"];
  delete tracing.scale;
  const begun = { part: "scale", by: "card", corners: [], rule: [], heels: [], hoof: [], shoe: [], holes: [], mirrored: false, snap: true };
  for (const [name, value] of Object.entries(begun)) tracing[name] ??= value;
  if (stepsOf !== sheet.id) [steps, stepsOf] = [[], sheet.id];
  return tracing;
}

/** The list that the taps of a part go to. */
export function listOf(tracing, part = tracing.part) {
  if (part !== "scale") return part;
  return tracing.by === "rule" ? "rule" : "corners";
}

/** The taps of a part. @returns {Tap[]} */
export function tapsOf(tracing, part = tracing.part) {
  return tracing[listOf(tracing, part)];
}

/** How many a part takes, and how many it needs. */
export function bounds(tracing, part = tracing.part) {
  const scale = SCALE_TAPS[tracing.by];
  return part === "scale" ? { fewest: scale, most: scale } : { fewest: fewestOf(part), most: MOST[part] };
}

/** Fewest taps from which a line is drawn that follows a hoof. */
function fewestOf(part) {
  return { heels: 2, holes: 0 }[part] ?? figure(`photograph_taps_${part}`);
}

/** What takes pixels to millimetres, or null while that is not known. */
export function planeOfTaps(tracing) {
  const length = tracing.length && millimetres(tracing.length);
  return planeOf(tracing.by, tapsOf(tracing, "scale"), length);
}

/** Whether a part has what it needs. */
export function ready(tracing, part = tracing.part) {
  return tapsOf(tracing, part).length >= bounds(tracing, part).fewest && (part !== "scale" || planeOfTaps(tracing) !== null);
}

/** All that the outline is made of. */
export function allTaps({ heels, hoof, shoe, holes, mirrored }) {
  return { heels, hoof, shoe, holes, mirrored };
}

/** Remember how a part stands before it is changed. */
export function remember(tracing) {
  const list = listOf(tracing);
  steps = [...steps.slice(-MOST_STEPS), { list, taps: JSON.stringify(tracing[list]) }];
}

/** Take back the last change of this part; after a reload its last tap. @returns {boolean} whether there was any */
export function takeBack(tracing) {
  const list = listOf(tracing);
  const at = steps.findLastIndex((step) => step.list === list);
  if (at >= 0) {
    tracing[list] = JSON.parse(steps[at].taps);
    steps = steps.filter((_, number) => number !== at);
    return true;
  }
  return tracing[list].pop() !== undefined;
}

/** Say of the stretch after the last tap that it is hidden, or that it is not. */
export function turnHidden(tracing) {
  const tap = tapsOf(tracing).at(-1);
  if (!tap) return;
  remember(tracing);
  tap[3] = tap[3] ? 0 : 1;
}
