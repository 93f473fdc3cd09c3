/** The foot from the side, toe to the left: branch and buttress, nails in the wall, heights, slope. */

import { svg } from "../dom.js";
import { t } from "../messages.js";
import { arrow, frame, line, measure, path, rule, words } from "./parts.js";

// Ground line of the horn at y 130; toe at x 40, buttress at x 208.
const WALL = "M40 130L92 30L214 62L208 130Z";
const BASE = 130;

function wall(...more) {
  return [path(WALL, "horn-face"), ...more];
}

function shoe(end = 236) {
  return path(`M46 ${BASE + 14}L40 ${BASE}H${end}V${BASE + 14}Z`, "iron");
}

/** How far the branch reaches past the buttress. */
export function branchLength() {
  return frame(
    "20 20 280 160",
    "drawing.heel_length",
    {},
    wall(shoe(238)),
    svg("circle", { cx: 208, cy: BASE, r: 5, class: "look-dot" }),
    line(208, BASE - 2, 208, 172, "look thin"),
    line(238, BASE, 238, 172, "look thin"),
    measure(208, 166, 238, 166),
    rule(208, 148, 76),
    words(226, 112, t("label.buttress"), { anchor: "start" }),
  );
}

/** A feeler leaf between horn and iron. */
export function feeler() {
  return frame(
    "20 20 280 150",
    "drawing.gap",
    {},
    wall(),
    path(`M46 ${BASE + 22}L40 ${BASE + 8}L150 ${BASE + 2}L236 ${BASE + 9}V${BASE + 23}Z`, "iron"),
    path(`M196 ${BASE + 2}L296 ${BASE - 8}V${BASE - 2}L196 ${BASE + 5}Z`, "look-fill"),
    words(290, BASE - 16, t("label.feeler"), { anchor: "end" }),
  );
}

/** The shoe tips when it is pressed on one side and then the other. */
export function rocking() {
  return frame(
    "20 20 280 150",
    "drawing.rocks",
    {},
    wall(),
    path(`M46 ${BASE + 12}L40 ${BASE - 2}L236 ${BASE + 12}V${BASE + 26}Z`, "iron"),
    arrow(60, 60, 52, BASE - 10),
    arrow(228, 80, 228, BASE + 4),
    words(64, 54, "1", { kind: "label" }),
    words(228, 72, "2", { kind: "label" }),
  );
}

/** The foot from the front with the two heights at the quarters. */
export function twoHeights(foot) {
  const first = foot?.startsWith("right") ? "lateral" : "medial";
  // From in front, a left foot has its outside on the right of whoever looks.
  const [left, right] = first === "lateral" ? ["lateral", "medial"] : ["medial", "lateral"];
  return frame(
    "0 20 320 160",
    "drawing.wall_heights",
    {},
    path("M104 40H216L244 130H76Z", "horn-face"),
    path(`M72 ${BASE}H248V144H72Z`, "iron"),
    measure(92, 42, 62, 128),
    measure(228, 42, 258, 128),
    words(40, 84, t(`side.${left}.short`)),
    words(282, 84, t(`side.${right}.short`)),
    words(160, 172, t("label.from_front"), { kind: "small" }),
  );
}

/** Nails in the wall, the height of one exit measured. */
export function nailHeights(count = 4) {
  const nails = Array.from({ length: Math.max(1, count) }, (_, index) => {
    const x = 70 + index * 24;
    return [line(x, BASE, x + 16, 92, "nail-line"), svg("circle", { cx: x + 16, cy: 92, r: 4, class: "nail-exit" }), words(x, BASE + 11, String(index + 1), { kind: "tiny" })];
  });
  const x = 86 + (Math.max(1, count) - 1) * 24;
  return frame(
    "20 20 280 150",
    "drawing.nail_exits",
    {},
    wall(shoe()),
    nails,
    measure(x + 12, BASE, x + 28, 92),
    words(x + 34, 112, t("label.exit_height"), { anchor: "start" }),
    words(32, 160, t("label.toe"), { anchor: "start", kind: "small" }),
    words(262, 160, t("label.heel"), { anchor: "end", kind: "small" }),
  );
}

/** Old nail holes that have grown down. */
export function oldHoles() {
  return frame(
    "20 20 280 150",
    "drawing.history",
    {},
    wall(shoe()),
    [92, 116, 140].map((x) => [
      svg("circle", { cx: x + 6, cy: 84, r: 4, class: "hole-line dash" }),
      svg("circle", { cx: x, cy: 108, r: 4, class: "nail-exit" }),
    ]),
    arrow(158, 86, 152, 108),
    words(166, 84, t("label.then"), { anchor: "start", kind: "small" }),
    words(166, 112, t("label.now"), { anchor: "start", kind: "small" }),
  );
}

/** The dimensions of hoof and shoe that are asked. */
export function sizes() {
  return frame(
    "0 10 320 172",
    "drawing.sizes",
    {},
    wall(shoe()),
    measure(252, BASE, 252, BASE + 14),
    words(260, BASE + 12, "1", { anchor: "start" }),
    measure(40, 162, 236, 162),
    words(138, 178, "2"),
    path("M60 130L112 30", "dash"),
    measure(84, 122, 70, 122),
    words(96, 116, "3"),
    measure(28, 126, 80, 26),
    words(36, 72, "5"),
    path("M74 130A34 34 0 0 0 55 101", "look"),
    words(92, 98, "6"),
    path("M150 118H206", "dash"),
    measure(178, 118, 178, 130),
    words(192, 114, "4"),
  );
}

/** Fingers down the wall, over clinches and the edge of the iron. */
export function handOver() {
  return frame(
    "20 20 280 150",
    "drawing.finish",
    {},
    wall(shoe()),
    [92, 116, 140].map((x) => svg("rect", { x, y: 92, width: 8, height: 5, class: "nail" })),
    arrow(104, 40, 66, 118),
    arrow(150, 52, 150, 122),
    arrow(196, 66, 200, 122),
    path("M60 150Q140 166 238 150", "look"),
  );
}

/** The trot-up: away and back on a straight line. */
export function trotUp() {
  return frame(
    "0 20 320 120",
    "drawing.soundness",
    {},
    path("M20 116H300", "ink"),
    arrow(30, 66, 288, 66),
    arrow(288, 94, 30, 94),
    words(160, 56, t("label.away")),
    words(160, 88, t("label.back")),
    words(160, 134, t("label.hard_ground"), { kind: "small" }),
  );
}

/** Iron held to the foot by its time. */
export function heat() {
  return frame(
    "20 20 280 150",
    "drawing.scorch_heat",
    {},
    wall(),
    path(`M46 ${BASE + 14}L40 ${BASE}H236V${BASE + 14}Z`, "hot"),
    path("M120 124q-8-10 0-20t0-20M160 124q-8-10 0-20t0-20M80 124q-6-8 0-16", "dash"),
    svg("circle", { cx: 268, cy: 62, r: 20, class: "look-ring" }),
    line(268, 62, 268, 48, "look"),
    line(268, 62, 277, 67, "look"),
  );
}
