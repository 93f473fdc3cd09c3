/** A recipe as a picture: shapes in shade and light, and the measure once it may be seen. */

import { svg } from "../dom.js";
import { t } from "../messages.js";
import { pathOf } from "./outline.js";

const LIT = new Set(["horn", "iron", "bulb", "frog", "pastern"]);

/**
 * @param {import("./recipes.js").Recipe} recipe
 * @param {boolean} shown  whether the truth is drawn in
 */
export function drawingOf(recipe, shown) {
  const { centre, width, turn, mirror, light } = recipe;
  const half = width / 2;
  const sign = mirror ? -1 : 1;
  const place = `scale(${sign} 1) rotate(${turn.toFixed(3)}) translate(${(-centre[0]).toFixed(3)} ${(-centre[1]).toFixed(3)})`;
  const lines = recipe.truth.lines.map((line) => svg("path", { class: "p-measure", "data-measure": "", d: pathOf(line) }));
  const ticks = recipe.truth.ticks.map((line) => svg("path", { class: "p-tick", d: pathOf(line) }));
  return svg(
    "svg",
    {
      class: "practice-drawing",
      viewBox: `${-half} ${-half} ${width} ${width}`,
      role: "img",
      "aria-label": t("practice.drawing"),
      id: "drawing",
    },
    svg(
      "defs",
      {},
      svg(
        "linearGradient",
        { id: "light", gradientUnits: "userSpaceOnUse", x1: -70, y1: 0, x2: 70, y2: 0, gradientTransform: `translate(${centre[0].toFixed(2)} ${centre[1].toFixed(2)}) rotate(${light})` },
        svg("stop", { offset: 0, "stop-color": "#fff", "stop-opacity": 0.42 }),
        svg("stop", { offset: 0.5, "stop-color": "#888", "stop-opacity": 0.05 }),
        svg("stop", { offset: 1, "stop-color": "#000", "stop-opacity": 0.4 }),
      ),
    ),
    svg(
      "g",
      { transform: place },
      recipe.shapes.map(({ part, d }) => [
        svg("path", { class: `p-${part}`, "data-part": part, d }),
        LIT.has(part) ? svg("path", { class: "p-light-over", d, fill: "url(#light)" }) : null,
      ]),
      shown ? svg("g", { class: "p-truth", id: "truth" }, ticks, lines) : null,
    ),
  );
}
