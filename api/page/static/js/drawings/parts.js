/** Parts that several drawings share: frame, words, arrows, the rule. */

import { svg } from "../dom.js";
import { t } from "../messages.js";

/** A drawing with a title that says what it shows. */
export function frame(box, titleId, values, ...nodes) {
  return svg("svg", { viewBox: box, class: "drawing", role: "img", "aria-label": t(titleId, values) }, ...nodes);
}

/** A drawing that only goes with words which say the same. */
export function sign(box, ...nodes) {
  return svg("svg", { viewBox: box, class: "sign", "aria-hidden": "true", focusable: "false" }, ...nodes);
}

export function line(x1, y1, x2, y2, kind = "ink") {
  return svg("line", { x1, y1, x2, y2, class: kind });
}

export function path(d, kind = "ink") {
  return svg("path", { d, class: kind });
}

export function words(x, y, text, { anchor = "middle", kind = "label" } = {}) {
  return svg("text", { x, y, "text-anchor": anchor, class: kind }, text);
}

/** A measure between two points: a line with a stroke across each end. */
export function measure(x1, y1, x2, y2) {
  const length = Math.hypot(x2 - x1, y2 - y1) || 1;
  const [ax, ay] = [((y2 - y1) / length) * 6, (-(x2 - x1) / length) * 6];
  return svg(
    "g",
    { class: "look" },
    line(x1, y1, x2, y2, "look"),
    line(x1 - ax, y1 - ay, x1 + ax, y1 + ay, "look"),
    line(x2 - ax, y2 - ay, x2 + ax, y2 + ay, "look"),
  );
}

/** An arrow that ends at a point. */
export function arrow(x1, y1, x2, y2) {
  const turn = Math.atan2(y2 - y1, x2 - x1);
  const wing = (side) => [x2 - 9 * Math.cos(turn + side * 0.45), y2 - 9 * Math.sin(turn + side * 0.45)];
  const [[ax, ay], [bx, by]] = [wing(1), wing(-1)];
  return svg("g", {}, line(x1, y1, x2, y2, "look"), path(`M${ax} ${ay}L${x2} ${y2}L${bx} ${by}`, "look"));
}

/** A steel rule lying from left to right, its nought at x. */
export function rule(x, y, length) {
  const ticks = [];
  for (let mm = 0; mm * 5 <= length - 4; mm += 1) ticks.push(line(x + mm * 5, y, x + mm * 5, y + (mm % 5 ? 5 : 9), "hair"));
  return svg("g", {}, svg("rect", { x, y, width: length, height: 18, class: "rule" }), ticks);
}
