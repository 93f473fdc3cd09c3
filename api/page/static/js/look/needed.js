/** What is still needed before this stage can go on, worked out before sending as the service works it out. */

import { judging, quantity, requiredAt, rulebook, situationOf, spotOf } from "../rulebook.js";
import { CLIPS, NAILS } from "../lists.js";
import { at, computedOf, isComputedAlone, readingsOf } from "./readings.js";

/**
 * @param {object} fitting  as it is sent
 * @returns {{criterion: string, quantity: string, place: string}[]}  a dimension that a limit follows has place foot
 */
export function stillNeeded(fitting) {
  if (!rulebook()) return [];
  const situation = situationOf(fitting);
  const table = readingsOf(fitting);
  const computed = computedOf(fitting);
  const has = (name, place) => table.has(`${name}@${place}`) || computed.has(`${name}@${place}`);
  const nails = (at(fitting, NAILS) ?? []).map(({ branch, hole }) => `nail:${branch}:${hole}`);
  const listed = (at(fitting, CLIPS) ?? []).map((clip) => clip.at);
  const clips = listed.length ? listed : ["toe"];
  const found = new Map();
  const put = (criterion, name, place) => found.set(`${name}@${place}`, { criterion, quantity: name, place });
  for (const { id, needs } of requiredAt(situation)) {
    for (const need of needs) {
      if (need.stages.length && !need.stages.includes(situation.stage)) continue;
      for (const place of placesLacking(need, nails, clips, has, table, computed)) put(id, need.any_of[0], place);
      for (const key of new Set([...table.keys(), ...computed])) {
        const [name, place] = key.split("@");
        if (!need.any_of.includes(name) || !covers(need, place)) continue;
        for (const dimension of dimensionsOf(name, place, situation)) {
          if (!isComputedAlone(dimension) && !has(dimension, "foot")) put(id, dimension, "foot");
        }
      }
    }
  }
  return [...found.values()];
}

function covers(need, place) {
  return !need.at.length || need.at.includes("clip") || need.at.includes(spotOf(place)) || (need.at.includes("branch") && spotOf(place) === "nail");
}

function placesLacking(need, nails, clips, has, table, computed) {
  if (!need.at.length) {
    const seen = [...table.keys(), ...computed].some((key) => need.any_of.includes(key.slice(0, key.indexOf("@"))));
    return seen ? [] : [quantity(need.any_of[0]).places[0]];
  }
  if (need.at.includes("branch")) {
    // Only what is stated: whether insets and a wall give it, the service alone can tell.
    const isBare = (side) => ![...table.keys()].some((key) => need.any_of.includes(key.slice(0, key.indexOf("@"))) && key.includes(`@nail:${side}:`));
    return ["medial", "lateral"].some(isBare) ? ["nail"] : [];
  }
  if (need.at.includes("clip")) return clips.filter((place) => !need.any_of.some((name) => has(name, place)));
  const places = need.at.includes("nail") ? (nails.length ? nails : ["nail"]) : need.at;
  return places.filter((place) => !need.any_of.some((name) => has(name, place)));
}

function dimensionsOf(name, place, situation) {
  const limits = judging(name, place, situation).flatMap((rule) => [rule.limit.low, rule.limit.high]);
  return new Set(limits.filter((limit) => limit !== null && typeof limit === "object").map((limit) => limit.of));
}
