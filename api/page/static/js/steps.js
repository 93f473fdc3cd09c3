/**
 * The questions in working order, and which field of a fitting each one fills.
 *
 * What a quantity is, which words it takes and how it is measured stands in the rulebook; which questions a stage has,
 * too. A step without a criterion is about the foot as such.
 */

import { OBSERVABLES, SITUATION } from "./observables.js";
import { asked, dimensionNeeded, needed } from "./rulebook.js";

/**
 * @typedef {object} Question
 * @property {string|null} quantity  in the rulebook
 * @property {string} control  choice, flag, number, date, or one of the nails'
 * @property {{path: string, place?: string}[]} fields
 * @property {string[]} keys  of what is asked of each nail
 * @property {string|null} [unit]  of a number: mm where left out
 * @property {number} [step]
 * @property {number} [start]  where the first tap on a stepper begins
 * @property {string[]} [words]  of a choice that the rulebook does not list
 * @property {string} [quick]  a button that answers all fields with `quickValue`
 */

/** What is typed of each nail for its position: how far back it stands. */
export const BACK = "back";

/** The key in a nail of a quantity that is read of each. */
export const keyOf = (quantity) => OBSERVABLES[quantity].fields[0].key;

/** The path of what the table has under `name`, where that is one field. */
export const pathOf = (name) => OBSERVABLES[name].fields[0].path;

/** How a unit is asked for where that is not as it stands in the table. */
const UNITS = { 1: "%" };

/** @type {{id: string, criterion: string|null, drawing: string, questions: Question[], basics?: boolean}[]} */
const PLACED = [
  basics("foot", "choice"),
  basics("stage", "choice"),
  basics("work", "choice"),
  basics("hoof_form", "choice"),
  basics("hot_fitted", "flag"),
  step("heel_width", "heel_fit", asks("width", { control: "choice", numbers: true, start: 2 })),
  step("heel_length", "heel_fit", asks("length", { start: 10 })),
  step("frog_gap", "heel_fit", asks("frog_gap", { start: 8 })),
  step("toe", "toe_fit", asks("overhang", { start: 0 })),
  step(
    "clip",
    "toe_fit",
    asks("clip"),
    asks("clip_height", { step: 1, start: 12 }),
    asks("wall_rasped_back"),
  ),
  step("rocks", "levelness", asks("rocks")),
  step(
    "gaps",
    "levelness",
    asks("gap", { step: 0.05, start: 0.1, quick: "gaps.none", quickValue: { n: "0", unit: "mm" } }),
  ),
  step("wall_heights", "levelness", asks("height_difference", { control: "number", step: 1, start: 60 })),
  step("nail_exits", "nails", asksNails(["exit_height"], "exits", { step: 0.5, start: 20 })),
  step("nail_signs", "nails", asksNails(["sound", "reaction", "blood"], "signs")),
  step("nail_places", "nails", asksNails(["position", "hole_inset", "exit_ratio"], "nail_places")),
  step("clinches", "clinches", asksNails(["clinch"], "clinches"), asks("rasped_above_clinches")),
  step(
    "scorch_heat",
    "scorch",
    asks("shoe_heat"),
    asks("contact_time", { step: 1, start: 5 }),
  ),
  step(
    "scorch_cover",
    "scorch",
    asks("coverage", { step: 1, start: 95 }),
    asks("sole_scorch", { step: 1, start: 0 }),
    asks("sole_pressure"),
  ),
  step("finish", "finish", asks("hand")),
  step("soundness", "soundness", asks("trot_up")),
  step(
    "history",
    "history",
    asks("last_shod", { control: "date", quantity: null }),
    asks("fitted", { control: "date", quantity: null }),
    asks("old_hole_drop", { step: 1, start: 8 }),
  ),
  step(
    "sizes",
    null,
    asks("shoe_thickness", { step: 1, start: 12 }),
    asks("shoe_length", { step: 1, start: 160 }),
    asks("wall_thickness", { step: 1, start: 10 }),
    asks("sole_thickness", { step: 1, start: 10 }),
    asks("wall_height", { step: 1, start: 95 }),
    asks("wall_angle", { step: 1, start: 52 }),
  ),
];

const placed = new Set(PLACED.flatMap((each) => each.questions.map(({ quantity }) => quantity)));

/** The steps above, then one for each quantity of a foot that has no place in them. */
export const STEPS = [
  ...PLACED,
  ...Object.entries(OBSERVABLES)
    .filter(([name, { control, fields }]) => control && fields[0].path && !placed.has(name))
    .map(([name, { criterion }]) => step(name, criterion, asks(name))),
];

/** The good word of each sign of a nail. */
export const NAIL_SIGNS = [
  { quantity: "sound", good: "firm" },
  { quantity: "reaction", good: "none" },
  { quantity: "blood", good: false },
];

/** Fields of the record, asked before sending. */
export const RECORD_FIELDS = ["horse.id", "visit", "person.id", "person.role", "assessor.id", "notes"];

function step(id, criterion, ...questions) {
  return { id, criterion, drawing: id, questions };
}

/** A question about the foot as such. */
function basics(id, control) {
  const words = control === "choice" ? SITUATION[id] : undefined;
  return { ...step(id, null, { quantity: null, control, words, fields: [{ path: id }], keys: [] }), basics: true };
}

/** The question of what the table has under `name`. */
function asks(name, more = {}) {
  const { unit, control, fields } = OBSERVABLES[name];
  return { quantity: name, control, unit: UNITS[unit] ?? unit, fields, keys: [], ...more };
}

/** The question of one or several quantities of each nail. */
function asksNails(names, control, more = {}) {
  const keys = names.map((name) => (name === "position" ? BACK : keyOf(name)));
  return { quantity: names.length === 1 ? names[0] : null, control, fields: [], keys, ...more };
}

/** Stage, and whether the shoe was hot, as they bear on what is asked. */
export function situationOf(answers) {
  return { stage: answers.stage, hotFitted: answers.stage === "hot_fit" ? true : answers.hot_fitted };
}

/** The steps that this foot has at its stage. */
export function stepsFor(answers) {
  const situation = situationOf(answers);
  return STEPS.filter((each) => {
    if (each.id === "hot_fitted") return situation.stage !== undefined && situation.stage !== "hot_fit";
    return each.criterion === null || asked(each.criterion, situation);
  });
}

/** Whether the foot cannot be released without what the step asks. */
export function isNeeded(each, answers) {
  const situation = situationOf(answers);
  if (each.basics) return ["foot", "stage", "work"].includes(each.id);
  if (each.criterion === null) return each.questions.some((question) => dimensionNeeded(question.quantity, situation));
  return needed(each.criterion, situation);
}
