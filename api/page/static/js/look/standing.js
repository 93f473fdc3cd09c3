/** What stands of the look before this one: the service carries it, and so it is not needed again. */

import { NAILS, STANDS } from "../lists.js";
import { eyeQuantity } from "../rulebook.js";
import { at, readingsOf } from "./readings.js";

const DRIVEN = ["nailed", "finished"];

/**
 * `fitting` with what stands of the one before it, whole; it is for a look at what is needed, and never sent.
 *
 * @param {object} fitting
 * @param {object|null} before  the fitting before it, as it was sent
 * @param {{field: string, value: unknown, place?: string}[]} carried  what the service carried into that one
 */
export function withStanding(fitting, before, carried) {
  if (!before || before.stage === "dressed" || fitting.stage === "dressed" || before.visit !== fitting.visit) return fitting;
  const whole = structuredClone(fitting);
  if (whole.hot_fitted !== false) {
    const earlier = carried.filter(({ field, place }) => !place && field.startsWith(`${STANDS.imprint}.`)).map(({ field, value }) => [field.slice(STANDS.imprint.length + 1), value]);
    const found = { ...Object.fromEntries(earlier), ...at(before, STANDS.imprint) };
    for (const key of STANDS.anew) delete found[key];
    if (Object.keys(found).length) lay(whole, STANDS.imprint, found);
  }
  if (DRIVEN.includes(before.stage) && whole.stage === "finished") {
    for (const nail of at(whole, NAILS) ?? []) {
      const same = (at(before, NAILS) ?? []).find(({ branch, hole }) => branch === nail.branch && hole === nail.hole) ?? {};
      for (const key of STANDS.nail) if (nail[key] === undefined && same[key] !== undefined) nail[key] = same[key];
    }
  }
  return whole;
}

/**
 * Which questions the look before this one answers, while it is not said anew.
 *
 * @param {object} fitting  as it is sent
 * @param {object} whole  the same with what stands
 * @returns {(question: {quantity: string, place: string}) => boolean}
 */
export function carriedIn(fitting, whole) {
  const said = readingsOf(fitting);
  const carried = new Set(whole === fitting ? [] : [...readingsOf(whole).keys()].filter((key) => !said.has(key)));
  return ({ quantity, place }) => carried.has(`${quantity}@${place}`) || carried.has(`${eyeQuantity(quantity, place)?.id}@${place}`);
}

/** Put what was found under what is said at a path. */
function lay(whole, path, found) {
  const keys = path.split(".");
  const last = keys.pop();
  const here = keys.reduce((inner, key) => (inner[key] ??= {}), whole);
  here[last] = { ...found, ...here[last] };
}
