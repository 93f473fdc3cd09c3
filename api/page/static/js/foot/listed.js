/** What a fitting has as a list of places: what was seen on the foot, where the imprint is darker, where clips are. */

import { HAS_CLIP } from "../fitting-fields.js";
import { CLIP_PLACES, LISTED, OF_A_CLIP } from "../lists.js";
import { OBSERVABLES } from "../observables.js";

/** @typedef {import("./questions.js").Question} Question */

export const SEEN = "seen";

/** The places of the clips of this foot, or null where that was not said. @returns {string[]|null} */
export function clipsOf(sheet) {
  const said = sheet.answers[HAS_CLIP];
  if (Array.isArray(said)) return CLIP_PLACES.filter((place) => said.includes(place));
  // Kept by the page before this one: whether there is one at the toe.
  return said === undefined ? null : said ? ["toe"] : [];
}

/**
 * The questions that a list of places makes, each with how things are at every place that was named.
 *
 * @param {object} sheet
 * @param {(name: string) => string|null} groupFor  the group of a quantity; null where it is not asked for
 * @returns {Question[]}
 */
export function listedQuestions(sheet, groupFor) {
  return Object.entries(LISTED).flatMap(([name, { path, places, what, words }]) => {
    const group = groupFor(name);
    if (group === null) return [];
    const at = what ? `${path}.${what}` : path;
    const whole = { quantity: name, at, place: "foot", control: "places", unit: null, words: places, group };
    const named = words && Array.isArray(sheet.answers[at]) ? sheet.answers[at] : [];
    return [whole, ...named.map((place) => ({ quantity: name, at: `${at}@${place}`, place, control: "choice", unit: null, words, group, detail: true }))];
  });
}

/** The questions of each clip that is not at the toe, in the form of those of the one that is. @returns {Question[]} */
export function clipQuestions(sheet, atToe) {
  const others = (clipsOf(sheet) ?? []).filter((place) => place !== "toe");
  return others.flatMap((place) =>
    Object.entries(OF_A_CLIP).flatMap(([key, name]) =>
      atToe
        .filter(({ quantity }) => quantity === name)
        .map((question) => ({ ...question, place, at: `clip:${place}.${key}`, words: question.words.filter((word) => word !== "none") })),
    ),
  );
}

/** The clips as they are sent, where there are others than the one at the toe; else null. */
export function clipsSent(sheet, sentOf) {
  const places = clipsOf(sheet) ?? [];
  if (!places.some((place) => place !== "toe")) return null;
  const key = (place, name, field) => (place === "toe" ? OBSERVABLES[name].fields[0].path : `clip:${place}.${field}`);
  return places.map((place) => {
    const said = Object.entries(OF_A_CLIP).map(([field, name]) => [field, sentOf(key(place, name, field))]);
    return { at: place, ...Object.fromEntries(said.filter(([, value]) => value !== undefined && value !== "" && value !== "none")) };
  });
}

/** The lists of places as they are sent, by path. @returns {[string, object[]][]} */
export function listsSent(said) {
  const found = new Map();
  for (const { path, places, what } of Object.values(LISTED)) {
    const at = what ? `${path}.${what}` : path;
    const named = said.get(at);
    if (!Array.isArray(named)) continue;
    const inOrder = places.filter((place) => named.includes(place));
    const items = what ? inOrder.map((place) => ({ what, place, ...howSeen(said.get(`${at}@${place}`)) })) : inOrder;
    found.set(path, [...(found.get(path) ?? []), ...items]);
  }
  return [...found];
}

function howSeen(word) {
  return word === undefined || word === SEEN ? {} : { [word]: true };
}
