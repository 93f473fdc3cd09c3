/**
 * A fore and a hind foot from below as shapes: paths in mm, y down, toe up, the lateral side to the right; a hole names
 * the place of its nail. What draws a foot better gives the same list.
 */

import { END, hoofCurve, pathOf, WEB } from "./hoof.js";

const HOLES = [1, 2, 3, 4, 5, 6];
const FROG = "M-4 -12C-3 -18 3 -18 4 -12L24 62C20 72 8 70 4 60C2 50 -2 50 -4 60C-8 70 -20 72 -24 62Z";

/** @param {"fore"|"hind"} kind @returns {{part: string, place?: string, d: string}[]} */
export function shapesOf(kind) {
  const curve = hoofCurve(kind);
  const out = (angle) => (Math.abs(angle) < 100 ? 1 : 4);
  const hole = (side, number) => {
    const [x, y] = curve.at((side === "medial" ? -1 : 1) * (24 + 17 * (number - 1)), -10);
    return { part: "hole", place: `nail:${side}:${number}`, d: `M${x.toFixed(1)} ${y.toFixed(1)}m-3 -3h6v6h-6Z` };
  };
  return [
    { part: "horn", d: pathOf(curve.along(-END, END), true) },
    { part: "frog", d: FROG },
    { part: "bar", d: "M-46 62L-17 12M46 62L17 12" },
    { part: "iron", d: pathOf([...curve.along(-END, END, out), ...curve.along(END, -END, -WEB)], true) },
    { part: "white-line", d: pathOf(curve.along(-END, END, -11)) },
    ...["medial", "lateral"].flatMap((side) => HOLES.map((number) => hole(side, number))),
  ];
}
