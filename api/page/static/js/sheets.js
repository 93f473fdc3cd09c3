/**
 * The fittings on this telephone: begun, waiting to be sent, or sent back by the service to be put right.
 *
 * A sheet holds what was tapped, field by field, so that nothing is lost that does not fit together yet.
 */

import { OBSERVABLES } from "./observables.js";
import { names, read, remove, write } from "./store.js";

/**
 * @typedef {object} Sheet
 * @property {string} id
 * @property {string} changed  when, ISO 8601
 * @property {Record<string, unknown>} answers  by field: `observations.heel_fit.medial.width`, or `nail:medial:1.sound`
 * @property {{medial: number[], lateral: number[]}} holes  holes that have a nail
 * @property {"draft"|"queued"} state
 * @property {string|null} step  where the work stands
 * @property {string|null} key  Idempotency-Key, made when it is first sent
 * @property {string|null} body  what is sent, to the byte
 * @property {string|null} corrects  the assessment that this one puts right
 * @property {object|null} problem  what the service answered
 */

const PREFIX = "sheet.";
const CURRENT = "current";

/** What goes over from one foot to the next of the same horse. */
const CARRIED = [
  "work", "horse.id", "visit", "person.id", "person.role", "assessor.id",
  OBSERVABLES.last_shod.fields[0].path, OBSERVABLES.fitted.fields[0].path,
];

/** Begin a sheet with some answers, and make it the one at hand. @returns {Sheet} */
export function begin(answers = {}, more = {}) {
  for (const { id, state, answers: given } of all()) if (state === "draft" && !Object.keys(given).length) discard(id);
  const sheet = {
    id: crypto.randomUUID?.() ?? randomId(),
    changed: "",
    answers: { ...answers },
    holes: { medial: [], lateral: [] },
    state: "draft",
    step: null,
    key: null,
    body: null,
    corrects: null,
    problem: null,
    ...more,
  };
  save(sheet);
  write(CURRENT, sheet.id);
  return sheet;
}

/** Begin the next foot of the same horse. */
export function beginNext(answers) {
  return begin(Object.fromEntries(Object.entries(answers).filter(([path]) => CARRIED.includes(path))));
}

/** A random UUID, also where the page is not served securely. */
export function randomId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** Keep a sheet; false where the telephone has no room. */
export function save(sheet) {
  return write(PREFIX + sheet.id, { ...sheet, changed: new Date().toISOString() });
}

/** @returns {Sheet|null} */
export function load(id) {
  return read(PREFIX + id);
}

/** Throw a sheet away. */
export function discard(id) {
  remove(PREFIX + id);
  if (read(CURRENT) === id) remove(CURRENT);
}

/** All sheets, the latest first. @returns {Sheet[]} */
export function all() {
  return names(PREFIX)
    .map((name) => read(name))
    .filter(Boolean)
    .sort((one, other) => other.changed.localeCompare(one.changed));
}

/** The sheet at hand, or null. */
export function current() {
  const id = read(CURRENT);
  return id === null ? null : load(id);
}

/** Make a sheet the one at hand. */
export function open(id) {
  write(CURRENT, id);
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
