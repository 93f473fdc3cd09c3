/** What every question has: its label, what the service found wrong with it, how the thing is measured. */

import { el } from "../dom.js";
import { digits, has, t } from "../messages.js";
import { quantity } from "../rulebook.js";
import { faultDetail } from "./problem.js";

/** What the service said of the answer `at`, to stand beside it. */
export function faults(sheet, at, name = null) {
  return (sheet.problem?.errors ?? [])
    .filter((error) => error.at === at)
    .map((error) => el("p", { class: "fault", id: `fault-${at}` }, faultText(error, name)));
}

/** What is wrong, in the language of the page. */
export function faultText(error, name) {
  const [range, unit] = [name && quantity(name)?.range, quantity(name)?.unit];
  if (range) return t("fault.range", { low: digits(range[0]), high: digits(range[1]), unit: unit === "1" ? "" : unit ?? "" });
  return faultDetail(error);
}

/** The attributes by which a control points to its fault. */
export function faulty(sheet, at) {
  const found = (sheet.problem?.errors ?? []).some((error) => error.at === at);
  return found ? { "aria-invalid": "true", "aria-describedby": `fault-${at}` } : {};
}

/** A word of a quantity in the language of the page; one that a yard's own rulebook adds stands as it is. */
export function wordFor(quantity, word) {
  const own = `word.${quantity}.${word}`;
  const id = typeof word === "boolean" && !has(own) ? `word.flag.${word}` : own;
  return has(id) ? t(id) : String(word).replaceAll("_", " ");
}

/** The name of a place of the foot. */
export function placeName(place) {
  const nail = /^nail:(medial|lateral):(\d+)$/.exec(place);
  if (nail) return t("place.nail", { side: t(`side.${nail[1]}.short`), hole: nail[2] });
  return has(`place.${place}.short`) ? t(`place.${place}.short`) : place.replaceAll("_", " ");
}
