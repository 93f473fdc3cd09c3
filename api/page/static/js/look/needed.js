/** What is still needed before this stage can go on, worked out before sending as the service works it out. */

import { judging, quantity, requiredAt, rulebook, situationOf, spotOf } from "../rulebook.js";
import { NAILS } from "../observables.js";
import { at, computedOf, readingsOf } from "./readings.js";

/**
 * @param {object} fitting  as it is sent
 * @returns {{criterion: string, quantity: string, place: string}[]}  a dimension that a limit follows has place foot
 */
export function stillNeeded(fitting) {
  if (!rulebook()) return [];
  const situation = situationOf(fitting);
  const table = readingsOf(fitting);
  const computed = computedOf(fitting);
  const has = (name, place) => table.has(`${name}@${place}`) || computed.has(`${name}@${place}`) || hasByEye(name, place, table);
  const nails = (at(fitting, NAILS) ?? []).map(({ branch, hole }) => `nail:${branch}:${hole}`);
  const found = new Map();
  const put = (criterion, name, place) => found.set(`${name}@${place}`, { criterion, quantity: name, place });
  for (const { id, needs } of requiredAt(situation)) {
    for (const need of needs) {
      if (need.stages.length && !need.stages.includes(situation.stage)) continue;
      for (const place of placesLacking(need, nails, has, table, computed)) put(id, need.any_of[0], place);
      for (const key of new Set([...table.keys(), ...computed])) {
        const [name, place] = key.split("@");
        if (!need.any_of.includes(name) || !covers(need, place)) continue;
        for (const dimension of dimensionsOf(name, place, situation)) {
          if (!has(dimension, "foot")) put(id, dimension, "foot");
        }
      }
    }
  }
  return [...found.values()];
}

function hasByEye(name, place, table) {
  return [...table].some(([key, reading]) => key.endsWith(`@${place}`) && eyeOf(reading.quantity) === name);
}

function eyeOf(name) {
  for (const { quantities } of rulebook().criteria) {
    const found = quantities.find((each) => each.id === name);
    if (found) return found.eye_of;
  }
  return null;
}

function covers(need, place) {
  return !need.at.length || need.at.includes(spotOf(place));
}

function placesLacking(need, nails, has, table, computed) {
  if (!need.at.length) {
    const seen = [...table.keys(), ...computed].some((key) => need.any_of.includes(key.slice(0, key.indexOf("@"))));
    return seen ? [] : [quantity(need.any_of[0]).places[0]];
  }
  const places = need.at.includes("nail") ? (nails.length ? nails : ["nail"]) : need.at;
  return places.filter((place) => !need.any_of.some((name) => has(name, place)));
}

function dimensionsOf(name, place, situation) {
  const limits = judging(name, place, situation).flatMap((rule) => [rule.limit.low, rule.limit.high]);
  return new Set(limits.filter((limit) => limit !== null && typeof limit === "object").map((limit) => limit.of));
}
