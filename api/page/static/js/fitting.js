/** From a sheet to the fitting that the service takes, and from its fields back to the answers. */

import { DAYS, RECORD_FIELDS } from "./fitting-fields.js";
import { CLIPS, HOLES, NAILS } from "./lists.js";
import { FOLLOWS, OBSERVABLES, READ, SITUATION } from "./observables.js";
import { at } from "./look/readings.js";
import { asSent, millimetres } from "./reading.js";
import { nailsOf } from "./sheets.js";
import { saidByItself, saidOf } from "./foot/good.js";
import { clipsOf, clipsSent, listsSent } from "./foot/listed.js";
import { nameAt, questionsOf } from "./foot/questions.js";

const TRACED = OBSERVABLES.outline.fields[0].path;
const CLIP = OBSERVABLES.clip.fields[0].path;
const LENGTH = OBSERVABLES.shoe_length.fields[0].path;

const ofScorch = (path) => path.split(".")[1] === "scorch";
/** By field of the scorch, which a cold shoe has none of, the other field of the same quantity. */
const COLD = new Map(
  READ.filter(([, , path]) => ofScorch(path)).flatMap(([name, , hot]) =>
    READ.filter(([other, , path]) => other === name && !ofScorch(path)).map(([, , path]) => [hot, path]),
  ),
);

/** What is said on `sheet`, as the service takes it. */
export function fittingOf(sheet) {
  const fitting = {};
  const said = saidOf(sheet);
  for (const path of [...Object.keys(SITUATION), ...RECORD_FIELDS, ...DAYS]) {
    const value = said.get(path);
    if (value !== undefined && value !== "") put(fitting, path, value);
  }
  fitting.observations ??= {};
  const nails = new Map();
  const wordsAt = new Map();
  for (const question of questionsOf(sheet)) {
    const value = sentOf(said.get(question.at), question, said);
    if (value === undefined || value === "" || isListed(question)) continue;
    const nail = /^(nail:\w+:\d+)\.([\w.]+)$/.exec(question.at);
    const path = said.get("hot_fitted") === false ? COLD.get(question.at) ?? question.at : question.at;
    if (!nail) put(fitting, path, value);
    else {
      if (!nails.has(nail[1])) nails.set(nail[1], {});
      put(nails.get(nail[1]), nail[2], value);
    }
    if (question.control === "number" && typeof value === "string") wordsAt.set(question.at, nail ? [nail[1], nail[2]] : path);
  }
  const driven = ["nailed", "finished"].includes(sheet.answers.stage);
  const listed = nailsOf(sheet).map(({ branch, hole, at }) => ({ branch, hole, ...nails.get(at) }));
  if (driven && listed.length) put(fitting, NAILS, listed);
  else if (!driven && nails.size) put(fitting, HOLES, listed.filter(({ branch, hole }) => nails.has(`nail:${branch}:${hole}`)));
  putWhole(fitting, wordsAt, sheet);
  for (const [path, list] of listsSent(said)) put(fitting, path, list);
  if (sheet.answers.stage !== "dressed") putClips(fitting, sheet, said);
  if (sheet.answers.outline) put(fitting, TRACED, sheet.answers.outline.sent);
  if (FOLLOWS && sheet.before) fitting.follows = sheet.before.id;
  return fitting;
}

/** Which words of the eye were said of a whole group with one button: they tell nothing of the eye. */
function putWhole(fitting, wordsAt, sheet) {
  if (!wordsAt.size) return;
  fitting.good_as_a_whole = [...wordsAt].flatMap(([name, where]) => {
    if (saidByItself(name, sheet)) return [];
    if (typeof where === "string") return [where];
    const [place, key] = where;
    return [NAILS, HOLES].flatMap((list) => {
      const number = (at(fitting, list) ?? []).findIndex(({ branch, hole }) => `nail:${branch}:${hole}` === place);
      return number < 0 ? [] : [`${list}.${number}.${key}`];
    });
  });
}

/** Whether it is sent as an item of a list. */
function isListed({ control, detail, at }) {
  return control === "places" || detail || at.startsWith("clip:");
}

function putClips(fitting, sheet, said) {
  const questions = new Map(questionsOf(sheet).map((question) => [question.at, question]));
  const list = clipsSent(sheet, (at) => (questions.has(at) ? sentOf(said.get(at), questions.get(at), said) : undefined));
  if (list) {
    const toe = at(fitting, CLIPS.split(".").slice(0, -1).join("."));
    for (const { fields } of [OBSERVABLES.clip, OBSERVABLES.clip_height]) if (toe) delete toe[fields[0].path.split(".").at(-1)];
    put(fitting, CLIPS, list);
  } else if (clipsOf(sheet)?.length === 0) put(fitting, CLIP, "none");
}

function sentOf(value, question, said) {
  if (typeof value !== "object" || value === null) return value;
  if (!("n" in value)) return undefined;
  if (question.quantity !== "position") return asSent(value);
  return positionOf(value, said.get(LENGTH)) ?? undefined;
}

function put(whole, path, value) {
  const keys = path.split(".");
  const last = keys.pop();
  let here = whole;
  for (const key of keys) here = here[key] ??= {};
  here[last] = value;
}

/** How far back a nail stands, as a share of the shoe's length; null where one of the two is no length. */
export function positionOf(back, length) {
  const [from, whole] = [back, length].map((typed) => (typed === undefined ? null : millimetres(typed)));
  return from === null || !whole ? null : Math.round((from / whole) * 1000) / 1000;
}

/** The answer on a sheet that a field of the fitting was made of, as an error or still_needed names it. */
export function answerAt(field, sheet) {
  if (field.startsWith(TRACED)) return "outline";
  const [hot] = [...COLD].find(([, path]) => path === field) ?? [field];
  const name = nameAt(hot, sheet);
  const names = [...questionsOf(sheet).map(({ at }) => at), ...Object.keys(SITUATION), ...RECORD_FIELDS, ...DAYS];
  return names.find((each) => name === each || name.startsWith(`${each}.`)) ?? names.find((each) => each.startsWith(`${name}.`)) ?? name;
}
