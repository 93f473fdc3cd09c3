/**
 * What is drawn: a foot with a known fault, and others beside it, by a seed. Form, side, fore or hind, turn, light and
 * scale follow the seed alone, the fault the value alone; this is the one place where either is worked out.
 *
 * @typedef {{part: string, d: string}} Shape
 * @typedef {{
 *   exercise: string, value: number, seed: number, foot: string, place: string, shapes: Shape[],
 *   truth: {lines: number[][][], ticks: number[][][]}, centre: number[], width: number, turn: number, mirror: boolean, light: number,
 * }} Recipe  `lines` are what is measured, from its one end to its other; `ticks` only show these
 */

import { between, betweenKnots, eased, oneOf, Outline, pathOf } from "./outline.js";
import { chanceOf } from "./random.js";

const FEET = ["left_fore", "right_fore", "left_hind", "right_hind"];
const FLAT = 13;
const ANGLES = { medial_heel: -126, medial_quarter: -62, toe: 0, lateral_quarter: 62, lateral_heel: 126 };
/** Half the length of a mark across the end of what is measured (mm). */
const TICK = 4;
const TURN = Math.PI / 180;
/** Between the points of a bearing wall (degrees). */
const FINE = 0.25;

/** The recipe of an exercise, a true value and a seed. @returns {Recipe} */
export function recipeOf(exercise, value, seed) {
  const chance = chanceOf(seed);
  const foot = oneOf(chance, FEET);
  const place = oneOf(chance, exercise.places);
  const common = { exercise: exercise.id, value, seed, foot, place, light: Math.floor(chance() * 360), zoom: between(chance, 0.85, 1.2) };
  const drawn = VIEWS[exercise.id](value, chance, { foot, place, hind: foot.endsWith("hind") });
  return { ...common, mirror: foot.startsWith("left"), ...drawn, width: drawn.width * common.zoom };
}

/** A mark across the end of a measure. */
function tick([x, y], [dx, dy], half = TICK) {
  const size = Math.hypot(dx, dy) || 1;
  const across = [(-dy / size) * half, (dx / size) * half];
  return [[x - across[0], y - across[1]], [x + across[0], y + across[1]]];
}

function measured(from, to, way, half = TICK) {
  return { lines: [[from, to]], ticks: [tick(from, way, half), tick(to, way, half)] };
}

/** The foot from below, with the iron at the value's distance from the wall at one place and faults at the others. */
function below(value, chance, { place, hind }, width) {
  const hoof = new Outline(chance, hind);
  const at = ANGLES[place];
  const knots = Object.entries(ANGLES).map(([name, angle]) => [angle, name === place ? value : between(chance, -1.5, name.endsWith("heel") ? 4 : 2)]);
  const out = betweenKnots(knots, FLAT);
  const web = between(chance, 20, 27);
  const wall = between(chance, 7.5, 11);
  const end = 142;
  const edge = (angle) => out(angle) - web * (1 - 0.28 * eased((Math.abs(angle) - 60) / 90));
  const length = between(chance, 8, 13);
  // The branch past the heel, straight back, with its corners taken off.
  const beyond = (angle) => {
    const [outer, inner] = [hoof.beside(angle, out(angle)), hoof.beside(angle, edge(angle))];
    const back = Math.max(outer[1], inner[1]) + length;
    const inward = Math.sign(inner[0] - outer[0]) * 3;
    return [[outer[0] + inward / 2, back - 5], [outer[0] + inward * 2, back], [inner[0] - inward, back], [inner[0], back - 4]];
  };
  const iron = [...hoof.along(-end, end, out), ...beyond(end), ...hoof.along(end, -end, edge), ...beyond(-end).reverse()];
  const holes = [-84, -66, -48, -31, 31, 48, 66, 84].map((angle) => between(chance, angle - 2, angle + 2));
  const from = hoof.beside(at, 0);
  const to = hoof.beside(at, value);
  const tip = [between(chance, -2, 2), between(chance, -24, -14)];
  const frog = [tip, [between(chance, 16, 21), 60], [4, 66], [0, between(chance, 46, 56)], [-4, 66], [-between(chance, 16, 21), 60]];
  return {
    shapes: [
      { part: "horn", d: pathOf(hoof.along(-152, 152), true) },
      { part: "frog", d: pathOf(frog, true) },
      { part: "white-line", d: pathOf(hoof.along(-140, 140, -wall)) },
      { part: "iron", d: pathOf(iron, true) },
      ...holes.map((angle) => ({ part: "hole", d: pathOf([[-1, 2.6], [1, 2.6], [1, -2.6], [-1, -2.6]].map(([x, along]) => hole(hoof, angle, -wall + x * 1.6, along)), true) })),
      { part: "wall", d: pathOf(hoof.along(-152, 152)) },
    ],
    truth: measured(from, to, hoof.at(at).out),
    centre: hoof.beside(at, -14),
    width,
    turn: between(chance, -28, 28),
  };
}

function hole(hoof, angle, out, along) {
  const { point, out: way } = hoof.at(angle);
  return [point[0] + out * way[0] - along * way[1], point[1] + out * way[1] + along * way[0]];
}

/** The seat from the side: a gap over the iron at the middle, closing to both sides. */
function gap(value, chance, { place }) {
  const thickness = between(chance, 9.5, 13);
  const flat = between(chance, 7, 11);
  const [left, right] = [between(chance, 12, 20), between(chance, 12, 20)];
  const rests = [between(chance, 0, 0.12), between(chance, 0, 0.12)];
  const open = (x) => {
    const side = x < 0 ? 0 : 1;
    const share = (Math.abs(x) - flat) / (side ? right : left);
    return value + (Math.min(rests[side], value) - value) * eased(share);
  };
  const slope = between(chance, 46, 56) * TURN;
  const heel = place.endsWith("heel");
  const ends = heel ? [-60, between(chance, 22, 30)] : place === "toe" ? [-between(chance, 20, 28), 60] : [-60, 60];
  const xs = Array.from({ length: 241 }, (_, step) => ends[0] + ((ends[1] - ends[0]) * step) / 240);
  const bottom = [...xs, 0].sort((one, other) => one - other).map((x) => [x, -open(x)]);
  const high = 52;
  const lean = (x) => x + high / Math.tan(slope);
  const top = [[heel ? ends[1] + 12 : lean(ends[1]), -high], [lean(ends[0]), -high]];
  const iron = [[ends[0] - 2, 0], [ends[1] + (heel ? between(chance, 8, 12) : 2), 0], [ends[1] + (heel ? 7 : 1), thickness], [ends[0], thickness]];
  const fibres = Array.from({ length: 16 }, () => between(chance, -52, 44)).filter((x) => x > ends[0] + 3 && x < ends[1] - 3);
  return {
    shapes: [
      { part: "light", d: pathOf([[-80, -80], [80, -80], [80, 80], [-80, 80]], true) },
      { part: "horn", d: pathOf([...bottom, ...top], true) },
      ...fibres.map((x) => ({ part: "fibre", d: pathOf([[x, -open(x) - between(chance, 1, 3)], [x + 26 / Math.tan(slope), -28]]) })),
      { part: "iron", d: pathOf(iron, true) },
    ],
    truth: measured([0, 0], [0, -value], [0, 1], 6),
    centre: [between(chance, -5, 5), -8],
    width: 54,
    turn: between(chance, -9, 9),
  };
}

/** The face of the wall with its nails; one of them is the one that is asked for. */
function exits(value, chance, { hind }) {
  const thickness = between(chance, 9.5, 13);
  const asked = Math.floor(chance() * 4);
  const heights = [0, 1, 2, 3].map((nail) => (nail === asked ? value : Math.max(6, Math.min(54, 25 + between(chance, -14, 16)))));
  const first = between(chance, -44, -38);
  const step = between(chance, hind ? 23 : 19, hind ? 27 : 23);
  const xs = [0, 1, 2, 3].map((nail) => first + nail * step + between(chance, -1.5, 1.5));
  const [left, right] = [between(chance, -68, -60), between(chance, 60, 68)];
  const top = between(chance, 72, 86);
  const wall = [[left, 0], [left + between(chance, 8, 16), -top], [right + between(chance, -14, -4), -top + between(chance, 4, 18)], [right, 0]];
  const lines = Array.from({ length: 3 }, () => between(chance, 14, top - 14));
  const x = xs[asked];
  return {
    shapes: [
      { part: "horn", d: pathOf(wall, true) },
      ...lines.map((y) => ({ part: "fibre", d: pathOf([[left + 4, -y], [0, -y - between(chance, -3, 3)], [right - 6, -y]]) })),
      { part: "iron", d: pathOf([[left - 2, 0], [right + 4, 0], [right + 2, thickness], [left, thickness]], true) },
      ...xs.flatMap((at, nail) => [
        { part: "clinch", d: pathOf([[at - 3, -heights[nail] - 3], [at + 3, -heights[nail] - 3], [at + 3, -heights[nail]], [at - 3, -heights[nail]]], true) },
        ...(nail === asked ? [{ part: "asked", d: pathOf([[at, thickness + 2], [at - 4, thickness + 9], [at + 4, thickness + 9]], true) }] : []),
      ]),
    ],
    truth: measured([x, 0], [x, -value], [0, 1]),
    centre: [x * 0.35, -24],
    width: 112,
    turn: between(chance, -12, 12),
  };
}

/** The foot from behind: the wall from hair to bearing edge on either side; the lateral side lies to the right. */
function level(value, chance) {
  const height = between(chance, 46, 62);
  const [lateral, medial] = [height + value / 2, height - value / 2];
  const half = between(chance, 50, 60);
  const hair = half - between(chance, 2, 9);
  const thickness = between(chance, 9.5, 13);
  const bulbs = [1, -1].map((side) => [[side * 3, -2], [side * hair * 0.5, -between(chance, 5, 9)], [side * hair, 0], [side * hair * 0.6, height * 0.45], [side * 4, height * 0.4]]);
  const wall = [[-hair, 0], [hair, 0], [half, lateral], [-half, medial]];
  const down = (x, y) => [x, y + thickness];
  const iron = [[-half - 1.5, medial], [half + 1.5, lateral], down(half - 1, lateral), down(-half + 1, medial)];
  // What one side has more than the other, laid along that side.
  const side = value >= 0 ? half : -half;
  const low = Math.min(lateral, medial);
  const [from, to] = [[side, low], [side, low + Math.abs(value)]];
  const truth = measured(from, to, [0, 1], 8);
  truth.ticks.push([[-half - 6, low], [half + 6, low]]);
  return {
    shapes: [
      { part: "pastern", d: pathOf([[-hair * 0.7, 0], [-hair * 0.55, -60], [hair * 0.55, -60], [hair * 0.7, 0]]) },
      { part: "horn", d: pathOf(wall, true) },
      ...bulbs.map((each) => ({ part: "bulb", d: pathOf(each, true) })),
      { part: "hair", d: pathOf([[-hair - 3, 0], [hair + 3, 0]]) },
      { part: "iron", d: pathOf(iron, true) },
    ],
    truth,
    centre: [0, height * 0.48],
    width: 150,
    turn: between(chance, -14, 14),
  };
}

/** The bearing wall after the hot shoe: browned, but for bare stretches whose lengths add up to what is lacking. */
function imprint(value, chance, { hind }) {
  const hoof = new Outline(chance, hind);
  const wide = between(chance, 9, 12);
  const angles = Array.from({ length: 1121 }, (_, step) => -140 + step / 4);
  const middle = angles.map((angle) => hoof.beside(angle, -wide / 2));
  const lengths = [0];
  for (let place = 1; place < middle.length; place++) lengths.push(lengths.at(-1) + Math.hypot(middle[place][0] - middle[place - 1][0], middle[place][1] - middle[place - 1][1]));
  const whole = lengths.at(-1);
  const angleAt = (length) => {
    const after = Math.max(1, lengths.findIndex((each) => each >= length));
    const share = (length - lengths[after - 1]) / (lengths[after] - lengths[after - 1]);
    return angles[after - 1] + share * (angles[after] - angles[after - 1]);
  };
  const bare = whole * (1 - value);
  const most = 1 + Math.floor(chance() * 4);
  const count = bare < 4 ? 1 : most;
  // As much chance is used whatever the value is, so that what comes after it follows the seed alone.
  const shares = Array.from({ length: 4 }, () => between(chance, 0.4, 1)).slice(0, count);
  const sum = shares.reduce((total, each) => total + each, 0);
  const slack = Array.from({ length: 5 }, () => between(chance, 0.15, 1)).slice(0, count + 1);
  const room = slack.reduce((total, each) => total + each, 0);
  const patches = [];
  let from = 0;
  shares.forEach((share, place) => {
    from += ((whole - bare) * slack[place]) / room;
    const to = from + (bare * share) / sum;
    patches.push([angleAt(from), angleAt(Math.min(to, whole))]);
    from = to;
  });
  const band = (first, last) => pathOf([...hoof.along(first, last, 0, FINE), ...hoof.along(last, first, -wide, FINE)], true);
  const seen = bare > 0 ? patches : [];
  const tip = [between(chance, -2, 2), between(chance, -24, -14)];
  return {
    shapes: [
      { part: "horn", d: pathOf(hoof.along(-152, 152), true) },
      { part: "frog", d: pathOf([tip, [19, 60], [4, 66], [0, 50], [-4, 66], [-19, 60]], true) },
      { part: "imprint", d: band(-140, 140) },
      ...seen.map(([first, last]) => ({ part: "bare", d: band(first, last) })),
      { part: "wall", d: pathOf(hoof.along(-152, 152)) },
    ],
    truth: { lines: seen.map(([first, last]) => hoof.along(first, last, -wide / 2, FINE)), ticks: seen.flatMap(([first, last]) => [first, last].map((angle) => [hoof.beside(angle, 3), hoof.beside(angle, -wide - 3)])), whole },
    centre: [0, -2],
    width: 168,
    turn: between(chance, -30, 30),
  };
}

/** The foot from the side: the front of the hoof against the front of the pastern. */
function axis(value, chance, { hind }) {
  const slope = between(chance, hind ? 49 : 44, hind ? 57 : 52);
  const along = (angle, length) => [length * Math.cos(angle * TURN), -length * Math.sin(angle * TURN)];
  const toe = between(chance, 78, 92);
  const pastern = between(chance, 62, 74);
  const length = between(chance, 112, 126);
  const top = along(slope, toe);
  const up = along(slope - value, pastern);
  const joint = [top[0] + up[0], top[1] + up[1]];
  const heel = [length + along(slope, between(chance, 30, 38))[0], -between(chance, 26, 33)];
  const thickness = between(chance, 9.5, 13);
  const back = [heel[0] + between(chance, 10, 14), heel[1] - 4];
  const behind = [back[0] + up[0] * 0.72 - between(chance, 0, 4), back[1] + up[1] * 0.72];
  const shown = 46;
  const before = along(slope, -2);
  const parts = [
    [along(slope, toe - shown), top],
    [top, [top[0] + along(slope - value, shown)[0], top[1] + along(slope - value, shown)[1]]],
  ];
  return {
    shapes: [
      { part: "pastern", d: pathOf([top, joint, behind, back, heel], true) },
      { part: "horn", d: pathOf([[0, 0], top, [top[0] + (heel[0] - top[0]) * 0.4, top[1] + (heel[1] - top[1]) * 0.34], heel, [length, 0]], true) },
      { part: "bulb", d: pathOf([heel, back, [back[0] - 1, -8], [length + 5, -3], [length, 0]], true) },
      { part: "hair", d: pathOf([top, [top[0] + (heel[0] - top[0]) * 0.4, top[1] + (heel[1] - top[1]) * 0.34], heel]) },
      { part: "iron", d: pathOf([[before[0], 0], [length + between(chance, 7, 11), 0], [length + 6, thickness], [2, thickness]], true) },
    ],
    truth: { lines: parts, ticks: [[top, [top[0] + along(slope, shown)[0], top[1] + along(slope, shown)[1]]]] },
    centre: [72, -52],
    width: 176,
    turn: between(chance, -7, 7),
  };
}

const VIEWS = {
  heel_width: (value, chance, where) => below(value, chance, where, 82),
  toe: (value, chance, where) => below(value, chance, where, 96),
  nail_line: (value, chance, where) => below(value, chance, where, 88),
  gap,
  exit_height: exits,
  level,
  imprint,
  axis,
};
