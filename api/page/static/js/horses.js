/** What is known of each horse from the looks at its feet: the same foot finds it again at the next one. */

import { FOLLOWS, OBSERVABLES } from "./observables.js";
import { DAYS, HAS_CLIP } from "./fitting-fields.js";
import { saidOf } from "./foot/good.js";
import { questionsOf } from "./foot/questions.js";
import { lastAnswers } from "./answers.js";
import { quantity } from "./rulebook.js";
import { all, begin } from "./sheets.js";
import { read, readOwn, write, writeOwn } from "./store.js";

const NAME = "horses";
const AT_HAND = "horse";
const MOST = 200;
/** How long the name of a visit may be for the service. */
const VISIT_LENGTH = 64;

/** The feet in the order in which they are gone round. */
export const FEET = ["left_fore", "right_fore", "left_hind", "right_hind"];
const STAGES = ["dressed", "hot_fit", "nailed", "finished"];
/** What is the horse's or the visit's, and what is the foot's or its shoe's. */
const OF_VISIT = ["work", "horse.id", "visit", "person.id", "person.role", "assessor.id", ...DAYS];
const OF_FOOT = ["hoof_form", "stance", "hot_fitted", HAS_CLIP];

/**
 * @typedef {object} Known
 * @property {string} visit
 * @property {string} seen  when it was last seen, ISO 8601
 * @property {string} [again]  the visit at which all was said to be so again
 * @property {Record<string, unknown>} answers  of the visit
 * @property {Record<string, {answers: object, holes: object, visit: string}>} feet
 */

/** Every horse that is known, the latest first. @returns {[string, Known][]} */
export function horses() {
  return Object.entries(read(NAME, {})).sort(([, one], [, other]) => other.seen.localeCompare(one.seen));
}

/** The horse at hand: its own name or number, "" for one that has none. */
export function horseAtHand() {
  return readOwn(AT_HAND, "");
}

/** Make a horse the one at hand; false where the telephone has no room. */
export function takeHorse(id) {
  return writeOwn(AT_HAND, id);
}

/** @returns {Known|null} */
export function knownOf(id) {
  const known = read(NAME, {});
  // A horse may be named as what every object has.
  return Object.hasOwn(known, id) ? known[id] : null;
}

/** The name of today's visit of a horse. */
export function visitOf(id) {
  const now = new Date();
  const day = new Date(now.getTime() - now.getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
  return id ? [...`${day}-${id}`].slice(0, VISIT_LENGTH).join("").trim() : "";
}

/** Remember of a sheet what is the horse's, the foot's and the shoe's. */
export function remember(sheet) {
  const id = sheet.answers["horse.id"] ?? "";
  const known = read(NAME, {});
  const before = knownOf(id);
  const { answers, holes } = sheet;
  const visit = answers.visit ?? "";
  const feet = { ...before?.feet, [answers.foot]: { answers: pick(answers, isOfFoot), holes, visit } };
  const again = before?.again;
  const now = { visit, again, seen: new Date().toISOString(), answers: pick(answers, (path) => OF_VISIT.includes(path)), feet };
  const kept = Object.entries({ ...known, [id]: now }).sort(([, one], [, other]) => other.seen.localeCompare(one.seen)).slice(0, MOST);
  return write(NAME, Object.fromEntries(kept));
}

function pick(answers, wanted) {
  return Object.fromEntries(Object.entries(answers).filter(([path, value]) => wanted(path) && value !== undefined));
}

/** Sizes of hoof and shoe, and what the foot is. */
function isOfFoot(path) {
  if (OF_FOOT.includes(path)) return true;
  return Object.entries(OBSERVABLES).some(
    ([name, { fields }]) => fields.some((field) => field.path === path) && quantity(name)?.criterion === null && !DAYS.includes(path),
  );
}

/**
 * Begin a look at a foot of the horse at hand, or go on with one that was begun.
 *
 * What was so at the same visit is taken over; what was so at an earlier one, or of the foot beside it, is offered.
 */
export function lookAt(foot, stage = null) {
  const horse = horseAtHand();
  const begun = draftOf(foot);
  if (begun && (stage === null || begun.answers.stage === stage)) return begun;
  const visit = visitOf(horse);
  const known = knownOf(horse);
  const own = known?.feet[foot];
  const beside = known?.feet[foot.replace(/^(left|right)/, (side) => (side === "left" ? "right" : "left"))];
  const today = known !== null && known.visit === visit && horse !== "";
  const last = stateOf(foot);
  const answers = { foot, stage: stage ?? stageAfter(last), ...(horse ? { "horse.id": horse, visit } : {}), ...(today ? known.answers : {}) };
  const sameDay = own && horse !== "" && (own.visit === visit || known.again === visit);
  const of = own ?? beside;
  const source = { ...known?.answers, ...of?.answers };
  for (const path of ["visit", ...DAYS]) delete source[path];
  if (sameDay) {
    const kept = last && answers.stage !== last.assessment.stage ? carriedOn(last, answers.stage) : {};
    return begin({ ...source, ...kept, ...answers }, { holes: own.holes, before: beforeOf(last) });
  }
  const offered = of ? { answers: source, holes: of.holes, own: Boolean(own) } : null;
  return begin(answers, { offered, before: beforeOf(last) });
}

/** The horse at hand where what was so at its last visit is still to be said again today; null where nothing is. */
export function toSayAgain() {
  const horse = horseAtHand();
  const known = knownOf(horse);
  const visit = visitOf(horse);
  return known && horse !== "" && known.visit !== visit && known.again !== visit ? known : null;
}

/** All that was so at the last visit of the horse at hand is so again today; false where the telephone has no room. */
export function sayAgain() {
  const horse = horseAtHand();
  const known = read(NAME, {});
  return write(NAME, { ...known, [horse]: { ...known[horse], again: visitOf(horse) } });
}

/** What an earlier stage of this visit showed, put on a sheet whose stage was changed. */
export function carryTo(sheet) {
  const last = stateOf(sheet.answers.foot);
  if (!last || STAGES.indexOf(sheet.answers.stage) <= STAGES.indexOf(last.assessment.stage)) return;
  sheet.answers = { ...carriedOn(last, sheet.answers.stage), ...sheet.answers };
  if (!sheet.holes.medial.length && !sheet.holes.lateral.length) sheet.holes = last.holes;
}

/** Take what is offered: it is so again. */
export function takeOffered(sheet) {
  sheet.answers = { ...sheet.offered.answers, ...sheet.answers };
  sheet.holes = sheet.offered.holes;
  sheet.offered = null;
}

/** A look at this foot of the horse at hand that was begun and not sent. */
export function draftOf(foot) {
  const horse = horseAtHand();
  return all().find(({ state, answers }) => state === "draft" && answers.foot === foot && (answers["horse.id"] ?? "") === horse) ?? null;
}

/** The last answer of this foot of the horse at hand at today's visit, or null. */
export function stateOf(foot) {
  const horse = horseAtHand();
  const visit = visitOf(horse);
  const ofFoot = ({ answers, assessment }) => assessment.foot === foot && (answers["horse.id"] ?? "") === horse && (horse === "" || answers.visit === visit);
  return lastAnswers().find(ofFoot) ?? null;
}

/** What only an earlier stage shows, as it was said then; where a fitting names the one before it, the service knows. */
function carriedOn(last, stage) {
  if (FOLLOWS) return {};
  const sheet = { answers: last.answers, good: last.good ?? {}, holes: last.holes };
  const said = saidOf(sheet);
  const stands = ({ group }) => group === "imprint" || (group === "nails" && stage === "finished");
  return Object.fromEntries(questionsOf(sheet).filter(stands).filter(({ at }) => said.has(at)).map(({ at }) => [at, said.get(at)]));
}

function beforeOf(last) {
  if (!last) return null;
  const { assessment, answers, good = {}, holes } = last;
  const found = assessment.findings.map(({ rule, place, measured }) => ({ rule, place, quantity: measured?.quantity ?? null }));
  return { id: assessment.id, answers, good, found, holes, carried: assessment.carried ?? [] };
}

/** The stage at which the foot is looked at next: the one after where it may go on, the same where it may not. */
export function stageAfter(last) {
  if (!last) return "hot_fit";
  const { stage, decision } = last.assessment;
  return decision === "go_on" ? STAGES[Math.min(STAGES.indexOf(stage) + 1, STAGES.length - 1)] : stage;
}

/**
 * Look once more at the foot of an answer, at the same stage: its sizes and its situation stand, and what was said
 * before is shown as said before; `whole`: it is still said, since only something is to be added.
 */
export function again(of, { whole = false } = {}) {
  const { assessment, answers, good = {}, holes } = of;
  if (whole) return begin(answers, { good: { ...good }, holes, corrects: assessment.id, before: null });
  const kept = pick(answers, (path) => OF_VISIT.includes(path) || isOfFoot(path) || ["foot", "stage"].includes(path));
  return begin(kept, { holes, before: beforeOf(of) });
}
