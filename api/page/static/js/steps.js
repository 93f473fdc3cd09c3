/**
 * The questions in working order, and which field of a fitting each one fills.
 *
 * What a quantity is, which words it takes and how it is measured stands in the rulebook; which questions a stage has,
 * too. A step without a criterion is about the foot as such.
 */

import { asked, dimensionNeeded, needed } from "./rulebook.js";

/**
 * @typedef {object} Question
 * @property {string|null} quantity  in the rulebook
 * @property {string} control  choice, flag, number, date, or one of the nails'
 * @property {{path: string, place?: string}[]} fields
 * @property {string} [unit]  of a number: mm where left out
 * @property {number} [step]
 * @property {number} [start]  where the first tap on a stepper begins
 * @property {string[]} [words]  of a choice that the rulebook does not list
 * @property {string} [quick]  a button that answers all fields with `quickValue`
 */

const SIDES = ["medial", "lateral"];
const heels = (name) => SIDES.map((side) => ({ path: `observations.heel_fit.${side}.${name}`, place: `${side}_heel` }));
const one = (path, place) => [{ path, place }];
const basics = (id, words) => ({
  id,
  criterion: null,
  basics: true,
  drawing: id,
  questions: [{ quantity: null, control: "choice", words, fields: one(id) }],
});

/** @type {{id: string, criterion: string|null, drawing: string, questions: Question[], basics?: boolean}[]} */
export const STEPS = [
  basics("foot", ["left_fore", "right_fore", "left_hind", "right_hind"]),
  basics("stage", ["hot_fit", "nailed", "finished"]),
  basics("work", ["riding", "harness", "draught"]),
  basics("hoof_form", ["regular", "acute", "upright", "base_wide", "base_narrow"]),
  {
    id: "hot_fitted",
    criterion: null,
    basics: true,
    drawing: "hot_fitted",
    questions: [{ quantity: null, control: "flag", fields: one("hot_fitted") }],
  },
  step("heel_width", "heel_fit", { quantity: "width", control: "choice", numbers: true, start: 2, fields: heels("width") }),
  step("heel_length", "heel_fit", { quantity: "length", control: "number", start: 10, fields: heels("length") }),
  step("frog_gap", "heel_fit", { quantity: "frog_gap", control: "number", start: 8, fields: heels("frog_gap") }),
  step("toe", "toe_fit", {
    quantity: "overhang",
    control: "number",
    start: 0,
    fields: [
      { path: "observations.toe_fit.overhang", place: "toe" },
      ...SIDES.map((side) => ({ path: `observations.toe_fit.${side}_overhang`, place: `${side}_quarter` })),
    ],
  }),
  step(
    "clip",
    "toe_fit",
    { quantity: "clip", control: "choice", fields: one("observations.toe_fit.clip", "toe") },
    { quantity: "clip_height", control: "number", step: 1, start: 12, fields: one("observations.toe_fit.clip_height", "toe") },
    { quantity: "wall_rasped_back", control: "flag", fields: one("observations.toe_fit.wall_rasped_back", "toe") },
  ),
  step("rocks", "levelness", { quantity: "rocks", control: "flag", fields: one("observations.levelness.rocks") }),
  step("gaps", "levelness", {
    quantity: "gap",
    control: "number",
    step: 0.05,
    start: 0.1,
    quick: "gaps.none",
    quickValue: { n: "0", unit: "mm" },
    fields: ["toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"].map((place) => ({
      path: `observations.levelness.gaps.${place}`,
      place,
    })),
  }),
  step("wall_heights", "levelness", {
    quantity: "height_difference",
    control: "number",
    step: 1,
    start: 60,
    fields: SIDES.map((side) => ({ path: `observations.levelness.${side}_height`, place: `${side}_quarter` })),
  }),
  step("nail_exits", "nails", { quantity: "exit_height", control: "exits", step: 0.5, start: 20, fields: [] }),
  step("nail_signs", "nails", { quantity: null, control: "signs", fields: [] }),
  step("nail_places", "nails", { quantity: null, control: "nail_places", fields: [] }),
  step(
    "clinches",
    "clinches",
    { quantity: "clinch", control: "clinches", fields: [] },
    { quantity: "rasped_above_clinches", control: "flag", fields: one("observations.finish.rasped_above_clinches") },
  ),
  step(
    "scorch_heat",
    "scorch",
    { quantity: "shoe_heat", control: "choice", fields: one("observations.scorch.shoe_heat") },
    { quantity: "contact_time", control: "number", unit: "s", step: 1, start: 5, fields: one("observations.scorch.contact_time") },
  ),
  step(
    "scorch_cover",
    "scorch",
    { quantity: "coverage", control: "number", unit: "%", step: 1, start: 95, fields: one("observations.scorch.coverage") },
    { quantity: "sole_scorch", control: "number", step: 1, start: 0, fields: one("observations.scorch.sole_scorch", "sole") },
    { quantity: "sole_pressure", control: "flag", fields: one("observations.scorch.sole_pressure", "sole") },
  ),
  step("finish", "finish", { quantity: "hand", control: "choice", fields: one("observations.finish.hand") }),
  step("soundness", "soundness", { quantity: "trot_up", control: "choice", fields: one("observations.soundness.trot_up") }),
  step(
    "history",
    "history",
    { quantity: null, control: "date", fields: one("observations.history.last_shod") },
    { quantity: null, control: "date", fields: one("observations.history.fitted") },
    { quantity: "old_hole_drop", control: "number", step: 1, start: 8, fields: one("observations.history.old_hole_drop") },
  ),
  {
    id: "sizes",
    criterion: null,
    drawing: "sizes",
    questions: [
      dimension("shoe_thickness", "shoe.thickness", 12),
      dimension("shoe_length", "shoe.length", 160),
      dimension("wall_thickness", "hoof.wall_thickness", 10),
      dimension("sole_thickness", "hoof.sole_thickness", 10),
      dimension("wall_height", "hoof.wall_height", 95),
      dimension("wall_angle", "hoof.wall_angle", 52, "deg"),
    ],
  },
];

/** What can be said of each nail: key in the fitting, quantity in the rulebook, words of those that are flags. */
export const NAIL_SIGNS = [
  { key: "sound", good: "firm" },
  { key: "reaction", good: "none" },
  { key: "blood", good: false },
];

/** Fields of the record, asked before sending. */
export const RECORD_FIELDS = ["horse.id", "visit", "person.id", "person.role", "assessor.id", "notes"];

function step(id, criterion, ...questions) {
  return { id, criterion, drawing: id, questions };
}

function dimension(quantity, path, start, unit = "mm") {
  return { quantity, control: "number", unit, step: 1, start, fields: one(path) };
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
