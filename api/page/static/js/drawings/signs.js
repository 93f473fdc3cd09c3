/** Small drawings that stand beside a word: how iron lies to the wall, how a clinch looks, the form of a hoof. */

import { svg } from "../dom.js";
import { line, path, sign } from "./parts.js";
import { FORE, HIND } from "./shapes.js";

/** Wall and iron cut through, looked at from behind: where the edge of the iron lies. */
const EDGE = { tight: 24, close: 37, full: 45, wide: 60 };

const CLINCHES = {
  flush: () => [svg("rect", { x: 26, y: 18, width: 6, height: 12, class: "nail" })],
  proud: () => [path("M32 18L44 22V28L32 30Z", "nail")],
  cracked: () => [svg("rect", { x: 26, y: 18, width: 6, height: 12, class: "nail" }), path("M18 24h18", "crack")],
  pulled: () => [path("M26 12h6v10h-6zM20 32q6 6 12 2", "nail")],
  missing: () => [svg("rect", { x: 25, y: 18, width: 8, height: 12, class: "hole-line dash" })],
  sharp: () => [path("M32 17L48 30L32 30Z", "nail")],
  thin: () => [svg("rect", { x: 29, y: 18, width: 2.5, height: 12, class: "nail" })],
};

const HEAT = { black: "heat-black", dull_red: "heat-dull", cherry: "heat-cherry", bright: "heat-bright" };

const FORMS = {
  regular: "M10 42L24 10H52L58 42Z",
  acute: "M4 42L28 14H54L60 42Z",
  upright: "M16 42L24 8H50L54 42Z",
  base_wide: "M6 42L20 10H46L62 42Z",
  base_narrow: "M12 42L20 10H46L52 42Z",
};

const CLIPS = {
  none: () => [],
  seated: () => [path("M24 40V20L30 40Z", "nail")],
  proud: () => [path("M18 40L14 20L26 40Z", "nail")],
  too_deep: () => [path("M30 40V20L36 40Z", "nail")],
};

/** The small drawing for a word of a quantity, or null where there is none. */
export function signFor(quantity, word) {
  if (quantity === "width" && word in EDGE) {
    return sign("0 0 64 48", path("M4 2H26L36 32H4Z", "horn-face"), path(`M4 32H${EDGE[word]}V44H4Z`, "iron"), line(36, 20, 36, 47, "look"));
  }
  if (quantity === "clinch" && word in CLINCHES) {
    return sign("0 0 64 48", path("M4 2H32V46H4Z", "horn-face"), line(32, 2, 32, 46, "wall"), CLINCHES[word]());
  }
  if (quantity === "shoe_heat" && word in HEAT) {
    return sign("0 0 64 48", svg("rect", { x: 4, y: 14, width: 56, height: 20, rx: 3, class: HEAT[word] }));
  }
  if (quantity === "hoof_form" && word in FORMS) {
    return sign("0 0 64 48", path(FORMS[word], "horn-face"), path("M4 42H62", "wall"));
  }
  if (quantity === "clip" && word in CLIPS) {
    return sign("0 0 64 48", path("M24 2L24 40H58V2Z", "horn-face"), line(24, 2, 24, 40, "wall"), path("M14 40H58V46H14Z", "iron"), CLIPS[word]());
  }
  return null;
}

/** From where a thing is looked at that is not seen from below. */
const SEEN_FROM = { axis: "side", exit_height: "side", toe_shortened: "side", axis_front: "front", across: "front", flare: "front" };
const BOXES = { side: "-12 -130 230 152", front: "-90 -130 180 152" };

/** The foot from where a quantity is looked at, or null. From in front a left foot has its lateral side to the right. */
export function viewFor(quantity, foot) {
  const from = SEEN_FROM[quantity];
  if (!from) return null;
  const turned = from === "front" && foot?.startsWith("right") ? "scale(-1 1)" : "scale(1 1)";
  const shapes = (foot?.endsWith("hind") ? HIND : FORE)[from];
  const view = sign(BOXES[from], svg("g", { transform: turned }, shapes.map(({ part, d }) => path(d, `part-${part}`))));
  view.classList.add("view");
  return view;
}

/** A mark for a grade or decision: its shape tells it as well as its shade. */
export function gradeMark(grade, number = "") {
  const shapes = {
    minor: svg("circle", { cx: 16, cy: 16, r: 12, class: "grade-minor" }),
    major: svg("rect", { x: 4, y: 4, width: 24, height: 24, class: "grade-major" }),
    critical: svg("g", {}, path("M16 0L32 16L16 32L0 16Z", "grade-critical"), path("M16 4L28 16L16 28L4 16Z", "grade-ring")),
    release: svg("g", {}, svg("circle", { cx: 16, cy: 16, r: 13, class: "grade-minor" }), path("M9 17L14 22L24 10", "tick")),
    go_on: svg("g", {}, svg("circle", { cx: 16, cy: 16, r: 13, class: "grade-minor" }), path("M9 16H22M17 10L23 16L17 22", "tick")),
    incomplete: svg("circle", { cx: 16, cy: 16, r: 12, class: "grade-unseen" }),
  };
  return sign("-1 -1 34 34", shapes[grade], number === "" ? null : svg("text", { x: 16, y: 21.5, "text-anchor": "middle", class: `mark-number ${grade}` }, String(number)));
}
