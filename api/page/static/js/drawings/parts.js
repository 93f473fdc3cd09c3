/** Parts that several small drawings share. */

import { svg } from "../dom.js";

/** A drawing that only goes with words which say the same. */
export function sign(box, ...nodes) {
  return svg("svg", { viewBox: box, class: "sign", "aria-hidden": "true", focusable: "false" }, ...nodes);
}

/** A straight line. */
export function line(x1, y1, x2, y2, kind = "ink") {
  return svg("line", { x1, y1, x2, y2, class: kind });
}

/** A path. */
export function path(d, kind = "ink") {
  return svg("path", { d, class: kind });
}
