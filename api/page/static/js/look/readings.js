/** From a fitting as it is sent to the readings that the rulebook judges; nothing is computed. */

import { CLIPS, NAILS } from "../lists.js";
import { COMPUTED, READ } from "../observables.js";
import { eyeFigure, eyeQuantity, ownObservables, quantity, rulebook, sideOf, spotOf } from "../rulebook.js";

/** @typedef {{value: number|string, u: number}} Reading */

const SCALES = { mm: 1, cm: 10, in: 25.4, deg: 1, s: 1, degC: 1, kg: 1 };
const LISTED = /^(.*)\.\{(?:nail|hole|clip)\}\.([\w.]+)$/;
const FRACTION = /^\s*(-)?\s*(?:(\d{1,3})\s+)?(\d{1,3})\/(\d{1,3})\s*$/;

/** What a document has at a dotted path; undefined where it has nothing there. */
export function at(whole, path) {
  return path.split(".").reduce((here, key) => (here === null || here === undefined ? undefined : here[key]), whole);
}

const STATED = new Set(READ.map(([name]) => name));
const ALONE = new Set(COMPUTED.map(([name]) => name).filter((name) => !STATED.has(name)));

/** Whether a quantity is never stated: the service alone works it out. */
export function isComputedAlone(name) {
  return ALONE.has(name);
}

/** Every reading that a fitting states, by `quantity@place`. @returns {Map<string, Reading>} */
export function readingsOf(fitting) {
  const found = new Map();
  const take = (name, place, sent) => {
    const reading = sent === undefined || sent === null ? null : readingOf(name, place, sent);
    if (reading && !found.has(`${reading.quantity}@${place}`)) found.set(`${reading.quantity}@${place}`, reading);
  };
  const put = (name, place, path) => {
    const list = LISTED.exec(path);
    if (!list) take(name, place, at(fitting, path));
    else {
      for (const item of at(fitting, list[1]) ?? []) {
        const own = item.at ?? `nail:${item.branch}:${item.hole}`;
        if (place === "nail" || place === own) take(name, own, at(item, list[2]));
      }
    }
  };
  for (const [name, place, path] of eachPlace(READ)) {
    put(name, place, path);
  }
  for (const [name, { fields }] of Object.entries(ownObservables())) {
    for (const { path, place } of fields) put(name, place, path);
  }
  if (at(fitting, CLIPS)?.length === 0) take("clip", "toe", "none");
  return found;
}

/** A table's rows, one for each place. */
function* eachPlace(rows) {
  for (const [name, places, path] of rows) {
    for (const place of places) yield [name, place, path.replace("{side}", sideOf(place)).replace("{place}", place)];
  }
}

function readingOf(name, place, sent) {
  const known = quantity(name);
  if (typeof sent === "string" && known?.kind !== "word") return wordOf(name, place, sent);
  if (!known?.places.includes(spotOf(place))) return null;
  if (typeof sent === "boolean") return { quantity: name, value: sent ? "yes" : "no", u: 0 };
  if (typeof sent === "string") return { quantity: name, value: sent, u: 0 };
  if (typeof sent === "number") return { quantity: name, value: sent, u: known.u };
  return measured(name, known, sent);
}

function wordOf(name, place, word) {
  const figure = quantity(name) && eyeFigure(name, word);
  if (figure) return { quantity: name, value: figure.value, u: figure.u };
  const eye = eyeQuantity(name, place);
  return eye ? { quantity: eye.id, value: word, u: 0 } : null;
}

function measured(name, known, { value, unit = known.unit, u, method }) {
  let number = value;
  if (typeof value === "string") {
    const parts = FRACTION.exec(value);
    if (!parts) number = Number(value);
    else number = (parts[1] ? -1 : 1) * (Number(parts[2] ?? 0) + Number(parts[3]) / Number(parts[4]));
  }
  const scale = SCALES[unit] ?? 1;
  const ways = rulebook()?.uncertainties ?? [];
  let own = known.u;
  if (u !== undefined && u !== null) own = u * scale;
  else if (known.unit === "mm" && method) own = ways.find((each) => each.id === method)?.u ?? own;
  return { quantity: name, value: scale * number, u: own };
}

/**
 * What the service computes from what a fitting states: it may stand in the place of what was read.
 *
 * @returns {Set<string>} `quantity@place`
 */
export function computedOf(fitting) {
  const found = new Set();
  for (const [name, place, path] of eachPlace(COMPUTED)) {
    // A word of the eye is read as it stands.
    if (quantity(name)?.eye_of) continue;
    const list = LISTED.exec(path);
    const sent = list ? (at(fitting, list[1]) ?? []).filter((item) => (item[list[2]] ?? null) !== null) : at(fitting, path);
    if (sent === undefined || sent === null || (list && !sent.length)) continue;
    const own = place === "nail" ? (at(fitting, NAILS) ?? []).map((nail) => `nail:${nail.branch}:${nail.hole}`) : [place];
    for (const each of own) {
      found.add(`${name}@${each}`);
      // What is computed goes before a word of the eye for the same.
      const eye = eyeQuantity(name, place);
      if (eye) found.add(`${eye.id}@${each}`);
    }
  }
  return found;
}
