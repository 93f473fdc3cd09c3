/** Which drawing goes with which step. */

import { below } from "./below.js";
import { branchLength, feeler, handOver, heat, nailHeights, oldHoles, rocking, sizes, trotUp, twoHeights } from "./side.js";

const HEELS = ["medial_heel", "lateral_heel"];
const QUARTERS = ["medial_quarter", "lateral_quarter"];

/** @param {{id: string}} step @param {import("../sheets.js").Sheet} sheet @returns {SVGElement|null} */
export function drawingFor(step, sheet) {
  const { foot } = sheet.answers;
  const count = Math.max(sheet.holes.medial.length, sheet.holes.lateral.length);
  const drawings = {
    heel_width: () => below(foot, { marks: HEELS }, "drawing.heel_width"),
    heel_length: branchLength,
    frog_gap: () => below(foot, { marks: HEELS, detail: "gap" }, "drawing.frog_gap"),
    toe: () => below(foot, { marks: ["toe", ...QUARTERS] }, "drawing.toe"),
    clip: () => below(foot, { marks: ["toe"] }, "drawing.clip"),
    rocks: rocking,
    gaps: feeler,
    wall_heights: () => twoHeights(foot),
    nail_exits: () => (count ? nailHeights(count) : below(foot, { holes: sheet.holes }, "drawing.holes")),
    nail_signs: () => below(foot, { holes: sheet.holes }, "drawing.holes"),
    nail_places: () => below(foot, { holes: sheet.holes, detail: "length" }, "drawing.nail_places"),
    clinches: handOver,
    scorch_heat: heat,
    scorch_cover: () => below(foot, { marks: ["sole"], detail: "imprint" }, "drawing.scorch_cover"),
    finish: handOver,
    soundness: trotUp,
    history: oldHoles,
    sizes,
  };
  return drawings[step.id]?.() ?? null;
}
