/** What is drawn over the photograph, and the outlines by themselves before they are sent. */

import { svg } from "../dom.js";
import { digits, t } from "../messages.js";
import { tenths } from "./found.js";
import { hoofLine, runs, smooth } from "./geometry.js";

const SHADES = { corners: "#0047b3", rule: "#0047b3", heels: "#b00020", hoof: "#b00020", shoe: "#0b6b3a", holes: "#5a189a" };
/** The overlay is drawn for a desk and shown half as wide on a telephone. */
const FOUND_PX = 26;
const NUMBERED = ["heels", "holes"];

/**
 * Draw lines and points; those of `list` larger, and where points were before they were taken to an edge.
 *
 * @param {Map<string, [number, number]>} moved  the tap by the point that it became
 */
export function paintTaps(context, at, tracing, list, moved = new Map()) {
  const scale = tracing.by === "rule" ? "rule" : "corners";
  const { corners } = tracing;
  if (scale === "rule") stroke(context, tracing.rule.map(at), SHADES.rule, list === "rule");
  else if (corners.length === 4) stroke(context, [...around(corners), around(corners)[0]].map(at), SHADES.corners, list === "corners");
  for (const name of ["hoof", "shoe"]) {
    const seen = runs(name === "hoof" ? hoofLine(tracing) : tracing.shoe);
    for (const run of seen) stroke(context, smooth(run.map(([x, y]) => [x, y])).map(at), SHADES[name], name === list);
    seen.slice(1).forEach((run, number) => stroke(context, [seen[number].at(-1), run[0]].map(at), SHADES[name], false, [3, 9]));
  }
  for (const name of [scale, "heels", "hoof", "shoe", "holes"]) {
    tracing[name].forEach((point, index) => {
      const tap = moved.get(String(point.slice(0, 2)));
      if (tap && name === list) stroke(context, [at(tap), at(point)], "#000000", false);
      dot(context, at(point), SHADES[name], name === list, NUMBERED.includes(name) ? String(index + 1) : "");
    });
  }
}

/** What a tracing shows, laid over the photograph: from the wall to the iron, with millimetres. */
export function paintFound(context, at, all, back) {
  for (const { from, to, mm } of all) {
    const [wall, iron] = [at(back(from)), at(back(to))];
    stroke(context, [wall, iron], "#000000", true);
    label(context, iron, digits(tenths(mm)), FOUND_PX);
  }
}

const middle = (points) => [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);

/** Corners in their order round the card. */
function around(corners) {
  const [x, y] = middle(corners);
  return [...corners].sort((one, other) => Math.atan2(one[1] - y, one[0] - x) - Math.atan2(other[1] - y, other[0] - x));
}

function stroke(context, points, shade, strong, dashes = []) {
  if (points.length < 2) return;
  context.setLineDash(dashes);
  for (const [colour, width] of [["#ffffff", strong ? 5 : 3], [shade, strong ? 2.5 : 1.5]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    points.forEach(([x, y], index) => (index ? context.lineTo(x, y) : context.moveTo(x, y)));
    context.stroke();
  }
  context.setLineDash([]);
}

function dot(context, [x, y], shade, strong, text) {
  context.beginPath();
  context.arc(x, y, strong ? 7 : 4, 0, 2 * Math.PI);
  context.fillStyle = strong ? "#ffffff" : shade;
  context.strokeStyle = shade;
  context.lineWidth = strong ? 3 : 1;
  context.fill();
  context.stroke();
  if (text) label(context, [x, y], text);
}

function label(context, [x, y], text, size = 14) {
  context.font = `bold ${size}px system-ui, sans-serif`;
  context.fillStyle = "#ffffff";
  context.strokeStyle = "#141414";
  context.lineWidth = size / 5;
  context.strokeText(text, x + 9, y - 7);
  context.fillText(text, x + 9, y - 7);
}

/** The outlines as they are sent: toe upwards, both sides named. */
export function sketch(sent) {
  const across = (points) => points.map(([x, y], index) => `${index ? "L" : "M"}${x} ${-y}`).join("");
  const all = [...sent.hoof, ...sent.shoe];
  const [xs, ys] = [all.map(([x]) => x), all.map(([, y]) => -y)];
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const lateral = sent.lateral === "+x" ? 1 : -1;
  const side = (name, sign) => svg("text", { x: sign > 0 ? right + 8 : left - 8, y: 0, "text-anchor": sign > 0 ? "start" : "end", class: "label" }, t(`side.${name}.short`));
  return svg(
    "svg",
    { viewBox: `${left - 80} ${top - 22} ${right - left + 160} ${bottom - top + 34}`, class: "drawing", role: "img", "aria-label": t("trace.sketch") },
    svg("path", { d: across(sent.shoe), class: "iron-line" }),
    svg("path", { d: across(sent.hoof), class: "wall" }),
    (sent.nail_holes ?? []).map(([x, y]) => svg("rect", { x: x - 2.5, y: -y - 2.5, width: 5, height: 5, class: "nail" })),
    svg("text", { x: (left + right) / 2, y: top - 8, "text-anchor": "middle", class: "label" }, t("place.toe.short")),
    side("lateral", lateral),
    side("medial", -lateral),
  );
}
