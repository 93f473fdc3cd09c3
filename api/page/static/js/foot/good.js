/** "Looked at, good": which words that states of a group, by the running service's own rulebook. */

import { eyeFigure, eyeQuantity, judging, situationOf } from "../rulebook.js";
import { pastLimit } from "../look/limits.js";
import { PLAIN } from "./groups.js";
import { clipsOf } from "./listed.js";
import { questionsOf } from "./questions.js";

/** Of several words on which no rule fires the one that is meant by good. */
const MEANT = { width: "full", clip: "seated" };

/** The rules that fire on a word at a place by itself, whatever else is read. */
function firing(question, word, situation) {
  const { quantity, place } = question;
  if (question.control === "number") {
    const eye = eyeQuantity(quantity, place);
    if (eye) return judging(eye.id, place, situation).filter((rule) => rule.limit.words.includes(word));
    const figure = eyeFigure(quantity, word);
    if (!figure) return [];
    const reading = { value: figure.value, u: figure.u };
    return judging(quantity, place, situation).filter((rule) => rule.level === "simple" && pastLimit(rule, reading, () => null));
  }
  const read = word === true ? "yes" : word === false ? "no" : word;
  return judging(quantity, place, situation).filter((rule) => rule.limit.words.includes(read));
}

/** The word of a question that says that all is well, of a list of places the empty one; undefined where none does. */
export function goodWord(question, sheet) {
  const { words } = question;
  // Whether there is a clip at all is known of the shoe.
  if (question.quantity === "clip" && !clipsOf(sheet)?.includes(question.place)) return undefined;
  if (question.detail) return undefined;
  if (question.control === "places") return [];
  if (words.length < 2 || PLAIN.includes(question.group)) return undefined;
  const situation = situationOf(sheet.answers);
  const fired = new Map(words.map((word) => [word, firing(question, word, situation).length]));
  const meansNothing = question.control !== "number" && ![...fired.values()].some(Boolean);
  if (meansNothing) return undefined;
  const good = words.filter((word) => !fired.get(word));
  const meant = MEANT[question.quantity];
  return good.includes(meant) ? meant : good[0];
}

/** What the good word of each question of a group is, by the answer's name. @returns {Map<string, string|boolean>} */
export function goodOf(group, sheet) {
  const found = new Map();
  for (const question of questionsOf(sheet)) {
    const word = question.group === group ? goodWord(question, sheet) : undefined;
    if (word !== undefined) found.set(question.at, word);
  }
  return found;
}

/** Every answer of a sheet: what was said of each thing, and what the groups that are good state of the rest. */
export function saidOf(sheet) {
  const said = new Map(Object.entries(sheet.answers));
  for (const question of questionsOf(sheet)) {
    if (!(question.group in sheet.good) || said.has(question.at)) continue;
    const word = goodWord(question, sheet);
    if (word !== undefined) said.set(question.at, word);
  }
  return said;
}

/** Whether an answer was said of the thing by itself, and not with one button for a whole group. */
export function saidByItself(at, sheet) {
  return sheet.answers[at] !== undefined && sheet.answers[at] !== sheet.repeated?.[at];
}

/** What the look before this one said, as `saidOf`. */
export function saidBefore({ before }) {
  return before?.holes ? saidOf({ ...before, good: before.good ?? {} }) : new Map(Object.entries(before?.answers ?? {}));
}

/**
 * Say of a group what the look before this one said; whole lists of places first, then how things are at each. That
 * the group is good is said where that look said it of all that is asked now: else of what it said it of.
 */
export function sayAsBefore(group, sheet) {
  const then = saidBefore(sheet);
  const here = questionsOf(sheet).filter((question) => question.group === group);
  const whole = group in (sheet.before.good ?? {}) && here.every((question) => then.has(question.at) || goodWord(question, sheet) === undefined);
  const said = whole ? new Map(Object.entries(sheet.before.answers)) : then;
  for (const detail of [false, true]) {
    for (const question of questionsOf(sheet)) {
      const value = question.group === group && Boolean(question.detail) === detail ? said.get(question.at) : undefined;
      if (value === undefined || sheet.answers[question.at] !== undefined) continue;
      sheet.answers[question.at] = value;
      (sheet.repeated ??= {})[question.at] = value;
    }
  }
  if (whole) sheet.good[group] = new Date().toISOString();
}
