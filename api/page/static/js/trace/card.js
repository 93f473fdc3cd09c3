/** The scale card: a page of our own to print and cut out, two rectangles of known sides with marks at their corners. */

import { button, el, svg } from "../dom.js";
import { haveFigures } from "../figures.js";
import { digits, t } from "../messages.js";
import { plainBar } from "../views/bar.js";
import { sidesOf } from "./plane.js";

/** Width and height of the drawing in mm; `.print-card` in trace.css prints it so wide. */
const [WIDTH, HEIGHT] = [160, 184];
const [LEFT, TOP] = [6, 6];
const CHECK = 50;

/** @param {object} page */
export function cardView(page) {
  if (!haveFigures()) return [plainBar(page, t("trace.print_title"), ["trace", "step.back"]), el("main", {}, el("p", {}, t("trace.no_figures")))];
  const [long, short] = sidesOf("sheet");
  const [width, height] = sidesOf("card");
  const below = TOP + short + 8;
  return [
    plainBar(page, t("trace.print_title"), ["trace", "step.back"]),
    el(
      "main",
      { class: "scale-card" },
      el("p", {}, t("trace.print_how")),
      svg(
        "svg",
        { class: "print-card", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": t("trace.print_title") },
        svg("rect", { x: 0, y: 0, width: WIDTH, height: HEIGHT, fill: "#ffffff" }),
        rectangle("sheet", LEFT, TOP, long, short),
        rectangle("card", LEFT, below, width, height),
        svg("path", { id: "print-check", d: `M${LEFT + width + 8} ${below + 12}h${CHECK}`, stroke: "#000000", "stroke-width": 0.4 }),
        [0, CHECK].map((x) => svg("path", { d: `M${LEFT + width + 8 + x} ${below + 9}v6`, stroke: "#000000", "stroke-width": 0.3 })),
        svg("text", { x: LEFT + width + 8 + CHECK / 2, y: below + 21, "font-size": 5, "text-anchor": "middle", fill: "#000000" }, `${CHECK} mm`),
      ),
      button(t("trace.print"), () => print(), { class: "wide", id: "print-card" }),
    ),
  ];
}

function rectangle(name, x, y, long, short) {
  const corner = 6;
  const marks = [[x, y, 1, 1], [x + long, y, -1, 1], [x + long, y + short, -1, -1], [x, y + short, 1, -1]];
  return [
    svg("rect", { id: `print-${name}`, x, y, width: long, height: short, fill: "#ffffff", stroke: "#000000", "stroke-width": 0.2 }),
    // A dark triangle in each corner: its tip is what is tapped.
    marks.map(([cx, cy, right, down]) => svg("path", { d: `M${cx} ${cy}h${right * corner}L${cx} ${cy + down * corner}z`, fill: "#000000" })),
    svg("text", { x: x + long / 2, y: y + short / 2, "font-size": 6, "text-anchor": "middle", fill: "#000000" }, `${digits(long)} × ${digits(short)} mm`),
  ];
}
