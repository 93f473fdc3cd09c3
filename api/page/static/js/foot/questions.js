/** What is asked of a foot: each field that the service takes and its rulebook judges, at each place. */

import { NAILS, OF_A_CLIP } from "../lists.js";
import { OBSERVABLES } from "../observables.js";
import { asked, ownObservables, quantity, situationOf, wordsOf } from "../rulebook.js";
import { nailsOf } from "../sheets.js";
import { groupOf } from "./groups.js";
import { clipQuestions, clipsOf, listedQuestions } from "./listed.js";

/**
 * @typedef {object} Question
 * @property {string} quantity
 * @property {string} at  the answer's name on the sheet
 * @property {string} place
 * @property {"number"|"flag"|"choice"|"places"} control  of places the answer is a list of them
 * @property {string|null} unit  of a number
 * @property {(string|boolean)[]} words  to tap, true and false for yes and no
 * @property {string} group
 * @property {boolean} [detail]  how a thing is at a place where it was seen
 */

const NAIL = `${NAILS}.{nail}.`;
const LISTS = ["further_contact_times"];

/** The answer's name on the sheet for a path of the table, at a nail for one of a nail. */
function nameOf(path, nail) {
  return nail ? `${nail.at}.${path.replace(NAIL, "")}` : path;
}

/** Every question of this foot at its stage, in the order of the table. @returns {Question[]} */
export function questionsOf(sheet) {
  const situation = situationOf(sheet.answers);
  const nails = nailsOf(sheet);
  const groupFor = (name) => (isAsked(quantity(name), name, situation) ? groupOf(name, quantity(name).criterion, situation.stage) : null);
  const plain = Object.entries({ ...OBSERVABLES, ...ownObservables() }).flatMap(([name, entry]) => {
    const known = quantity(name);
    // What only enters what is computed is asked for as a number, wherever its fields are.
    const enters = !entry.control && entry.unit !== null && !LISTS.some((list) => entry.fields[0].path.endsWith(list));
    if (!(entry.control || enters) || !isAsked(known, name, situation)) return [];
    return entry.fields.flatMap((field) => {
      if (!enters && !known.judged_places.includes(field.place)) return [];
      const make = (place, nail) => ({
        quantity: name,
        at: nameOf(field.path, nail),
        place,
        control: entry.control ?? "number",
        unit: name === "position" ? "mm" : entry.unit === "1" ? "%" : entry.unit,
        words: entry.control === "flag" ? [false, true] : wordsOf(name, place, field.words),
        group: groupOf(name, known.criterion, situation.stage),
      });
      return field.path.startsWith(NAIL) ? nails.map((nail) => make(nail.at, nail)) : [make(field.place, null)];
    });
  });
  const clips = clipsOf(sheet);
  const ofClip = (question) => Object.values(OF_A_CLIP).includes(question.quantity);
  const kept = plain.filter((question) => clips === null || clips.includes("toe") || !ofClip(question));
  return [...kept, ...clipQuestions(sheet, plain.filter(ofClip)), ...listedQuestions(sheet, groupFor)];
}

function isAsked(known, name, situation) {
  if (!known?.judged) return false;
  if (known.criterion === null) return situation.stage !== "dressed" || !name.startsWith("shoe");
  // What is observed before its criterion is due is hidden by then: the white line, once the shoe is nailed on.
  if (known.also_at?.length) return known.also_at.includes(situation.stage);
  if (!asked(known.criterion, situation)) return false;
  return !isOfDrivenNail(name) || ["nailed", "finished"].includes(situation.stage);
}

/** Whether it can only be seen of a nail that is driven: of an empty hole only where it stands. */
function isOfDrivenNail(name) {
  return Boolean((OBSERVABLES[name] ?? ownObservables()[name])?.fields[0].path.startsWith(NAIL));
}

/** Whether a question has its number beside the words. */
export function takesNumber(question) {
  return question.control === "number";
}

/** The questions that a tap on a place opens: both sides of a pair together, one nail alone. */
export function clusterOf(place) {
  if (place.startsWith("nail:")) return place;
  return place.replace(/^(medial|lateral)_/, "");
}

/** The short name of what is asked. */
export function titleOf(name) {
  return quantity(name)?.title.split(/[;,]/)[0] ?? name.replaceAll("_", " ");
}

/** The answer's name for a path of the service. */
export function nameAt(path, sheet) {
  const [, ofAny] = path.split("[].");
  if (ofAny && nailsOf(sheet).length) return `${nailsOf(sheet)[0].at}.${ofAny}`;
  if (!path.startsWith(`${NAILS}.`)) return path;
  const [number, ...keys] = path.slice(NAILS.length + 1).split(".");
  const nail = nailsOf(sheet)[Number(number)];
  return nail && keys.length ? `${nail.at}.${keys.join(".")}` : path;
}
