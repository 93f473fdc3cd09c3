/** From a sheet to the fitting that the service takes, and from its fields back to the questions. */

import { asSent, millimetres } from "./reading.js";
import { nailsOf } from "./sheets.js";
import { NAILS } from "./observables.js";
import { BACK, keyOf, pathOf, RECORD_FIELDS, STEPS, stepsFor } from "./steps.js";

/** The keys that a step asks of each nail, by the step's id. */
const PER_NAIL = Object.fromEntries(
  STEPS.map((step) => [step.id, step.questions.flatMap((question) => question.keys)]).filter(([, keys]) => keys.length),
);
/** Which step asks for a field of a nail. */
const STEP_OF_NAIL_FIELD = {
  ...Object.fromEntries(Object.entries(PER_NAIL).flatMap(([id, keys]) => keys.map((key) => [key, id]))),
  [keyOf("position")]: "nail_places",
  hole: "nail_exits",
  branch: "nail_exits",
};

/** What is answered on `sheet` to the questions that its stage has, as the service takes it. */
export function fittingOf(sheet) {
  const fitting = {};
  const steps = stepsFor(sheet.answers);
  const paths = [...steps.flatMap(fieldsOf), ...RECORD_FIELDS];
  for (const path of paths) {
    const value = sheet.answers[path];
    if (value !== undefined && value !== "") put(fitting, path, sentOf(value));
  }
  fitting.observations ??= {};
  const nails = nailsSent(sheet, new Set(steps.map((step) => step.id)));
  if (nails.length) put(fitting, NAILS, nails);
  if (sheet.answers.outline) put(fitting, pathOf("outline"), sheet.answers.outline.sent);
  return fitting;
}

function fieldsOf(step) {
  return step.questions.flatMap((question) => question.fields.map((field) => field.path));
}

function sentOf(value) {
  return typeof value === "object" && value !== null && "n" in value ? asSent(value) : value;
}

function put(whole, path, value) {
  const keys = path.split(".");
  const last = keys.pop();
  let here = whole;
  for (const key of keys) here = here[key] ??= {};
  here[last] = value;
}

function nailsSent(sheet, steps) {
  const keys = Object.entries(PER_NAIL).flatMap(([id, names]) => (steps.has(id) ? names : []));
  if (!keys.length) return [];
  return nailsOf(sheet).map(({ branch, hole, at }) => {
    const nail = { branch, hole };
    for (const key of keys) {
      const value = sheet.answers[`${at}.${key}`];
      if (value === undefined) continue;
      if (key === BACK) {
        const position = positionOf(value, sheet.answers[pathOf("shoe_length")]);
        if (position !== null) nail[keyOf("position")] = position;
      } else nail[key] = sentOf(value);
    }
    return nail;
  });
}

/** How far back a nail stands, as a share of the shoe's length; null where one of the two is no length. */
export function positionOf(back, length) {
  const [from, whole] = [back, length].map((typed) => (typed === undefined ? null : millimetres(typed)));
  return from === null || !whole ? null : Math.round((from / whole) * 1000) / 1000;
}

/**
 * Where on the page a field of the fitting is asked.
 *
 * @param {string} field  as an error or still_needed names it
 * @param {import("./sheets.js").Sheet} sheet
 * @returns {{step: string, at: string}} `at` is the answer's name on the sheet
 */
export function questionOf(field, sheet) {
  if (field.startsWith(NAILS)) {
    const [number, key = keyOf("exit_height")] = field.slice(NAILS.length + 1).split(".");
    const at = nailsOf(sheet)[number === "" ? -1 : Number(number)]?.at;
    return {
      step: STEP_OF_NAIL_FIELD[key] ?? "nail_exits",
      at: at ? `${at}.${key === keyOf("position") ? BACK : key}` : "nails",
    };
  }
  if (field.startsWith(pathOf("outline")) || field.startsWith(pathOf("heights"))) {
    return { step: "trace", at: "outline" };
  }
  for (const step of STEPS) {
    const path = fieldsOf(step).find((each) => field === each || field.startsWith(`${each}.`) || each.startsWith(`${field}.`));
    if (path) return { step: step.id, at: path };
  }
  return { step: "review", at: RECORD_FIELDS.find((each) => field.startsWith(each.split(".")[0])) ?? field };
}

/** How much of a step is answered: none, some or all. */
export function progressOf(step, sheet) {
  const nails = nailsOf(sheet);
  const names = [...fieldsOf(step), ...(PER_NAIL[step.id] ?? []).flatMap((key) => nails.map(({ at }) => `${at}.${key}`))];
  const answered = names.filter((name) => sheet.answers[name] !== undefined && sheet.answers[name] !== "").length;
  if (PER_NAIL[step.id] && !nails.length) return answered ? "some" : "none";
  if (!answered) return "none";
  return answered === names.length ? "all" : "some";
}

/** The answers that a step has given, to be taken back. */
export function answersOf(step, sheet) {
  const nails = nailsOf(sheet);
  const names = [...fieldsOf(step), ...(PER_NAIL[step.id] ?? []).flatMap((key) => nails.map(({ at }) => `${at}.${key}`))];
  return names.filter((name) => sheet.answers[name] !== undefined);
}
