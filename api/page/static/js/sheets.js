/**
 * The feet on this telephone: begun, waiting to be sent, or sent back by the service to be put right.
 *
 * A sheet holds what was tapped, field by field, so that nothing is lost that does not fit together yet.
 */

import { freshUuid } from "./dom.js";
import { names, read, readOwn, remove, write, writeOwn } from "./store.js";

/**
 * @typedef {object} Sheet
 * @property {string} id
 * @property {string} begun  when, ISO 8601
 * @property {string} changed  when, ISO 8601, and what makes two at one moment differ
 * @property {Record<string, unknown>} answers  by field: `observations.heel_fit.medial.width`, or `nail:medial:1.sound`
 * @property {Record<string, string>} good  groups that were looked at and found good, with the moment
 * @property {{medial: number[], lateral: number[]}} holes  holes that have a nail
 * @property {Record<string, unknown>|null} offered  what was so at the last visit, until it is said to be so again
 * @property {{id: string, answers: object, good: object, found: {rule: string, place: string, quantity: string|null}[]}|null}
 *   before  the look at this foot before this one
 * @property {"draft"|"queued"} state
 * @property {boolean} tried  whether it may have reached the service
 * @property {string|null} key  Idempotency-Key, made when it is first sent
 * @property {string|null} body  what is sent, to the byte
 * @property {string|null} corrects  the assessment that this one puts right
 * @property {object|null} problem  what the service answered
 */

const PREFIX = "sheet.";
const CURRENT = "current";
/** How long a moment is in ISO 8601. */
const MOMENT = "2000-01-01T00:00:00.000Z".length;

/** A sheet was changed in another window since it was read here. */
export class ChangedElsewhere extends Error {}

/** Begin a sheet with some answers, and make it the one at hand. @returns {Sheet} */
export function begin(answers = {}, more = {}) {
  const sheet = {
    id: freshUuid(),
    begun: new Date().toISOString(),
    changed: "",
    answers: { ...answers },
    good: {},
    holes: { medial: [], lateral: [] },
    offered: null,
    before: null,
    state: "draft",
    tried: false,
    key: null,
    body: null,
    corrects: null,
    problem: null,
    ...more,
  };
  save(sheet);
  writeOwn(CURRENT, sheet.id);
  return sheet;
}

/**
 * Keep a sheet; false where the telephone has no room, and then the one kept before stays. Raises ChangedElsewhere.
 *
 * @param {Sheet} sheet
 */
export function save(sheet) {
  const kept = load(sheet.id);
  if (kept && sheet.changed && kept.changed !== sheet.changed) throw new ChangedElsewhere(sheet.id);
  const changed = new Date().toISOString() + Math.random().toString(36).slice(2, 6);
  if (!write(PREFIX + sheet.id, { ...sheet, changed })) {
    if (kept) Object.assign(sheet, kept);
    return false;
  }
  sheet.changed = changed;
  return true;
}

/** @returns {Sheet|null} */
export function load(id) {
  return whole(read(PREFIX + id));
}

/** A sheet that an earlier version of the page kept has not all parts. */
function whole(kept) {
  return kept && { begun: kept.changed.slice(0, MOMENT), good: {}, offered: null, before: null, tried: kept.state === "queued", ...kept };
}

/** Throw a sheet away. */
export function discard(id) {
  remove(PREFIX + id);
  if (readOwn(CURRENT) === id) remove(CURRENT);
}

/** All sheets, the latest first. @returns {Sheet[]} */
export function all() {
  return names(PREFIX)
    .map((name) => whole(read(name)))
    .filter(Boolean)
    .sort((one, other) => other.changed.localeCompare(one.changed));
}

/** The sheet at hand in this window, or null. */
export function current() {
  const id = readOwn(CURRENT);
  return id === null ? null : load(id);
}

/** Make a sheet the one at hand. */
export function open(id) {
  writeOwn(CURRENT, id);
}

/** Whether a name in the store is that of a sheet. */
export function isSheet(name, id) {
  return name === PREFIX + id;
}

/** Put one answer on the sheet at hand, or take it off where `value` is undefined. */
export function answer(sheet, path, value) {
  if (value === undefined) delete sheet.answers[path];
  else sheet.answers[path] = value;
  // What the service found wrong there has been looked at.
  if (sheet.problem) {
    const errors = sheet.problem.errors.filter((error) => error.at !== path);
    sheet.problem = errors.length || !sheet.problem.errors.length ? { ...sheet.problem, errors } : null;
  }
  return save(sheet);
}

/** The nails of a sheet in the order in which they are sent. */
export function nailsOf(sheet) {
  return ["medial", "lateral"].flatMap((branch) =>
    [...sheet.holes[branch]].sort((one, other) => one - other).map((hole) => ({ branch, hole, at: `nail:${branch}:${hole}` })),
  );
}
