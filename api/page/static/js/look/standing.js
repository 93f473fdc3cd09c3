/** What stands of the look before this one: the service carries it, and so it is not needed again. */

import { LISTED, NAILS, STANDS } from "../lists.js";
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
  if (!before || before.visit !== fitting.visit) return fitting;
  const whole = structuredClone(fitting);
  lay(whole, STANDS.dressing, foundAt(STANDS.dressing, before, carried));
  const seen = at(before, STANDS.seen) ?? carried.find(({ field }) => field === STANDS.seen)?.value;
  if (seen && !at(whole, STANDS.seen)) lay(whole, STANDS.seen, seen);
  if (before.stage === "dressed" || fitting.stage === "dressed") return whole;
  if (whole.hot_fitted !== false) {
    const found = foundAt(STANDS.imprint, before, carried);
    for (const key of STANDS.anew) delete found[key];
    lay(whole, STANDS.imprint, found);
  }
  if (DRIVEN.includes(before.stage) && whole.stage === "finished") {
    for (const nail of at(whole, NAILS) ?? []) {
      const same = (at(before, NAILS) ?? []).find(({ branch, hole }) => branch === nail.branch && hole === nail.hole) ?? {};
      for (const key of STANDS.nail) if (nail[key] === undefined && same[key] !== undefined) nail[key] = same[key];
    }
  }
  return whole;
}

/** What was found at a path at the look before, or at one that stood then. */
function foundAt(path, before, carried) {
  const earlier = carried.filter(({ field, place }) => !place && field.startsWith(`${path}.`)).map(({ field, value }) => [field.slice(path.length + 1), value]);
  return { ...Object.fromEntries(earlier), ...at(before, path) };
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
  return ({ quantity, place }) => {
    const list = LISTED[quantity]?.path;
    if (list) return !at(fitting, list) && Boolean(at(whole, list));
    return carried.has(`${quantity}@${place}`) || carried.has(`${eyeQuantity(quantity, place)?.id}@${place}`);
  };
}

/** Put what was found under what is said at a path; a list in its place. */
function lay(whole, path, found) {
  if (!Array.isArray(found) && !Object.keys(found).length) return;
  const keys = path.split(".");
  const last = keys.pop();
  const here = keys.reduce((inner, key) => (inner[key] ??= {}), whole);
  here[last] = Array.isArray(found) ? found : { ...found, ...here[last] };
}
