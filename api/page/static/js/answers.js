/** The last answers on this telephone, with their drawings. */

import { names, read, remove, write } from "./store.js";

const PREFIX = "answer.";
const MOST = 20;

/**
 * @typedef {object} KeptAnswer
 * @property {object} assessment  as the service answered
 * @property {Record<string, unknown>} answers  what was tapped, to go on from
 * @property {Record<string, string>} good  the groups that were good
 * @property {object} holes
 * @property {string|null} drawing  SVG
 */

/** Keep the answer to a sheet; the oldest go where there are too many, or no room. */
export function keepAnswer(assessment, sheet) {
  const { answers, good, holes } = sheet;
  keep(assessment.id, { assessment, answers, good, holes, drawing: null });
}

/** Keep the drawing of an answer that is kept. */
export function keepDrawing(id, drawing) {
  const kept = answerOf(id);
  if (kept) keep(id, { ...kept, drawing });
}

function keep(id, kept) {
  for (const old of lastAnswers().slice(MOST - 1)) if (old.assessment.id !== id) forget(old.assessment.id);
  while (!write(PREFIX + id, kept)) {
    const oldest = lastAnswers().filter((each) => each.assessment.id !== id).pop();
    if (!oldest) return;
    forget(oldest.assessment.id);
  }
}

/** @returns {KeptAnswer|null} */
export function answerOf(id) {
  return read(PREFIX + id);
}

/** Keep an answer no longer on this telephone; the service's record stays. */
export function forget(id) {
  remove(PREFIX + id);
}

/** The answers kept here, the latest first. @returns {KeptAnswer[]} */
export function lastAnswers() {
  return names(PREFIX)
    .map((name) => read(name))
    .filter(Boolean)
    .sort((one, other) => other.assessment.created.localeCompare(one.assessment.created));
}
