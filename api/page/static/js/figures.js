/** Figures that sums on the page reckon with, as the service's rulebook has them: unit, source and standing are there. */

/** @type {Map<string, {value: number|null, low: number|null, high: number|null}>} */
let known = new Map();

/** Take the figures of a rulebook. @param {{id: string}[]} parameters */
export function takeFigures(parameters) {
  known = new Map(parameters.map((each) => [each.id, each]));
}

/** Whether there are any: a rulebook of an older service brings none. */
export function haveFigures() {
  return known.has("photograph_points");
}

/** The figure of that name, in its unit. @param {string} name @returns {number} */
export function figure(name) {
  return known.get(name).value;
}

/** The least and the most of it. @param {string} name @returns {[number, number]} */
export function figureRange(name) {
  const { low, high } = known.get(name);
  return [low, high];
}
