/** The service's rulebook: what each stage asks, how each thing is measured, which words there are. */

import { askJson, NotReached } from "./api.js";
import { languageInUse } from "./messages.js";
import { read, write } from "./store.js";

const NAME = "rulebook";
let book = read(NAME);

/** The rulebook as it was last seen, or null. */
export function rulebook() {
  return book;
}

/** Ask the service for its rulebook; the one seen last stays where it cannot be reached. Raises Refused. */
export async function refreshRulebook() {
  try {
    const fresh = await askJson("/v1/rulebook");
    const language = languageInUse();
    if (fresh.digest !== book?.digest || language !== book.language) {
      book = { ...fresh, language };
      write(NAME, book);
    }
  } catch (error) {
    if (!(error instanceof NotReached)) throw error;
  }
  return book;
}

/** A criterion by its id. */
export function criterion(id) {
  return book?.criteria.find((each) => each.id === id);
}

/** A quantity, or a dimension of hoof or shoe, by its id. */
export function quantity(id) {
  const all = book ? [...book.criteria.flatMap((each) => each.quantities), ...book.dimensions] : [];
  return all.find((each) => each.id === id);
}

/** The words for a quantity: those of the eye with what they mean, or those that it takes. */
export function wordsOf(id) {
  const eye = (book?.eye_words ?? []).filter((each) => each.quantity === id);
  if (eye.length) return eye.map((each) => ({ word: each.word, meaning: each.basis }));
  return (quantity(id)?.words ?? []).map((word) => ({ word, meaning: null }));
}

/** Whether anything of this criterion can be looked at in this situation. */
export function asked(id, { stage, hotFitted }) {
  const found = criterion(id);
  if (!found || (id === "scorch" && hotFitted === false)) return false;
  return found.stages.includes(stage);
}

/** Whether this stage cannot be released without the criterion. */
export function needed(id, { stage, hotFitted }) {
  const found = criterion(id);
  if (!found || !asked(id, { stage, hotFitted })) return false;
  const ifHot = found.required_when_hot_fitted && stage === "finished" && hotFitted !== false;
  return found.required_at.includes(stage) || ifHot;
}

/** Whether a dimension is needed, since limits of a needed criterion follow it. */
export function dimensionNeeded(id, situation) {
  const follows = (limit) => limit !== null && typeof limit === "object" && limit.of === id;
  return (book?.rules ?? []).some(
    (rule) => rule.criterion && needed(rule.criterion, situation) && rule.limit
      && (follows(rule.limit.low) || follows(rule.limit.high)),
  );
}
