/** The service's rulebook: what is asked at each stage, which words there are, which rules judge what. */

import { askIfChanged, NotReached } from "./api.js";
import { takeFigures } from "./figures.js";
import { NAILS } from "./lists.js";
import { languageInUse } from "./messages.js";
import { OWN } from "./observables.js";
import { read, write } from "./store.js";

const NAME = "rulebook";
let book = read(NAME);
let byQuantity = null;
let rulesBy = null;
takeFigures(book?.parameters ?? []);

/** The rulebook as it was last seen, or null. */
export function rulebook() {
  return book;
}

/** Ask the service for its rulebook; the one seen last stays where it cannot be reached. Raises Refused. */
export async function refreshRulebook() {
  const language = languageInUse();
  try {
    const known = book?.language === language ? book.etag : null;
    const found = await askIfChanged("/v1/rulebook", known);
    if (found && !Array.isArray(found.document?.criteria)) throw new NotReached("what answered is not the service");
    if (found) {
      book = { ...found.document, etag: found.etag, language };
      [byQuantity, rulesBy] = [null, null];
      takeFigures(book.parameters ?? []);
      write(NAME, book);
    }
  } catch (error) {
    if (!(error instanceof NotReached)) throw error;
  }
  return book;
}

function index() {
  if (byQuantity) return byQuantity;
  byQuantity = new Map();
  for (const owner of book?.criteria ?? []) {
    for (const each of owner.quantities) byQuantity.set(each.id, { ...each, criterion: owner.id });
  }
  for (const each of book?.dimensions ?? []) byQuantity.set(each.id, { ...each, criterion: null });
  return byQuantity;
}

/** A criterion by its id. */
export function criterion(id) {
  return book?.criteria.find((each) => each.id === id);
}

/** A quantity, or a dimension of hoof or shoe, by its id, with the criterion that it belongs to. */
export function quantity(id) {
  return index().get(id);
}

/**
 * What the book has of its own, as the table of the contract has what every book may have: by quantity its unit, its
 * control and its fields with their places.
 */
export function ownObservables() {
  const found = {};
  for (const each of index().values()) {
    if (!each.own) continue;
    const words = each.kind === "word" ? { words: each.words } : {};
    const pathAt = (place) => (place === "nail" ? `${NAILS}.{nail}.own.${each.id}` : `${OWN}.${each.id}.${place}`);
    const fields = each.places.map((place) => ({ path: pathAt(place), place, ...words }));
    found[each.id] = { unit: each.unit, control: { word: "choice" }[each.kind] ?? each.kind, fields };
  }
  return found;
}

/** The quantity that judges words of the eye for the number `id` at a place, where the book has one. */
export function eyeQuantity(id, place) {
  for (const each of index().values()) if (each.eye_of === id && each.places.includes(spotOf(place))) return each;
  return undefined;
}

/** The figure that a word of the eye stands for, where the book has one. */
export function eyeFigure(id, word) {
  return (book?.eye_words ?? []).find((each) => each.quantity === id && each.word === word);
}

/** The words that a quantity takes at a place: those of the field, or those that the book alone has; none that it only keeps. */
export function wordsOf(id, place, ofField) {
  if (eyeQuantity(id, place)?.judged === false) return [];
  if (ofField?.length) return ofField;
  const figures = (book?.eye_words ?? []).filter((each) => each.quantity === id).map((each) => each.word);
  return figures.length ? figures : eyeQuantity(id, place)?.words ?? [];
}

/** The kind of a place: every single nail is a `nail`, every other place is itself. */
export function spotOf(place) {
  return place.startsWith("nail:") ? "nail" : place;
}

/** The branch that a place belongs to, or null. */
export function sideOf(place) {
  const head = place.replace("nail:", "");
  if (head.startsWith("medial")) return "medial";
  return head.startsWith("lateral") ? "lateral" : null;
}

/**
 * What holds for the whole foot, in the words of the book.
 *
 * @param {object} of  as a fitting has it: foot, stage, work, hoof_form, stance, hot_fitted
 */
export function situationOf({ foot, stage, work, hoof_form: form = "regular", stance, hot_fitted: hot }) {
  const isStance = ["base_wide", "base_narrow"].includes(form);
  const found = {
    foot: foot?.endsWith("hind") ? "hind" : "fore",
    stage,
    work,
    hoof_form: isStance ? "regular" : form,
    stance: isStance ? form : stance ?? "regular",
    hot_fitted: hot === false ? "no" : "yes",
  };
  if (book && !book.judges.stances.includes(found.stance)) {
    // A book without stances takes one for a form of the hoof.
    if (found.hoof_form === "regular") found.hoof_form = found.stance;
    found.stance = "regular";
  }
  return found;
}

/** Whether any of a rule's contexts holds in a situation on a side. */
export function admits(contexts, situation, side) {
  const holds = (context) => Object.entries(context).every(([key, words]) => words.includes(key === "side" ? side : situation[key]));
  return contexts.length === 0 || contexts.some(holds);
}

/** The single rules of a quantity. */
function singleRules(id) {
  if (!rulesBy) {
    rulesBy = new Map();
    for (const rule of book.rules.filter(({ layer }) => layer === "single")) rulesBy.set(rule.quantity, [...(rulesBy.get(rule.quantity) ?? []), rule]);
  }
  return rulesBy.get(id) ?? [];
}

/** The single rules that judge a quantity at a place. */
export function judging(id, place, situation) {
  if (!book?.judges.stages.includes(situation.stage)) return [];
  const [spot, side] = [spotOf(place), sideOf(place)];
  return singleRules(id).filter((rule) => rule.places.includes(spot) && admits(rule.applies, situation, side));
}

/** Whether anything of this criterion can be looked at in this situation. */
export function asked(id, { stage, hot_fitted: hot }) {
  const found = criterion(id);
  if (!found || (id === "scorch" && hot === "no")) return false;
  return found.stages.includes(stage);
}

/** The criteria without which this stage does not go on. */
export function requiredAt(situation) {
  const hot = ({ id, required_when_hot_fitted: whenHot }) => whenHot && situation.stage === "finished" && situation.hot_fitted !== "no" && id;
  return (book?.criteria ?? []).filter(
    (each) => asked(each.id, situation) && (each.required_at.includes(situation.stage) || hot(each)),
  );
}
