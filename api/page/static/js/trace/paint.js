/** What is drawn over the photograph, and the outlines by themselves before they are sent. */

import { svg } from "../dom.js";
import { t } from "../messages.js";
import { hoofLine, smooth } from "./geometry.js";

const SHADES = { scale: "#0047b3", heels: "#b00020", hoof: "#b00020", shoe: "#0b6b3a", holes: "#5a189a" };

/** Draw lines and points; those of `part` larger. */
export function paintTaps(context, at, taps, part) {
  stroke(context, taps.scale.map(at), SHADES.scale, part === "scale");
  stroke(context, smooth(hoofLine(taps)).map(at), SHADES.hoof, part === "hoof");
  stroke(context, smooth(taps.shoe).map(at), SHADES.shoe, part === "shoe");
  for (const name of ["scale", "heels", "hoof", "shoe", "holes"]) {
    taps[name].forEach((point, index) => dot(context, at(point), SHADES[name], name === part, name === "heels" || name === "holes" ? String(index + 1) : ""));
  }
}

function stroke(context, points, shade, strong) {
  if (points.length < 2) return;
  for (const [colour, width] of [["#ffffff", strong ? 5 : 3], [shade, strong ? 2.5 : 1.5]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    points.forEach(([x, y], index) => (index ? context.lineTo(x, y) : context.moveTo(x, y)));
    context.stroke();
  }
}

function dot(context, [x, y], shade, strong, text) {
  context.beginPath();
  context.arc(x, y, strong ? 7 : 4, 0, 2 * Math.PI);
  context.fillStyle = strong ? "#ffffff" : shade;
  context.strokeStyle = shade;
  context.lineWidth = strong ? 3 : 1;
  context.fill();
  context.stroke();
  if (!text) return;
  context.font = "bold 14px system-ui, sans-serif";
  context.fillStyle = "#ffffff";
  context.strokeStyle = "#141414";
  context.lineWidth = 3;
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
