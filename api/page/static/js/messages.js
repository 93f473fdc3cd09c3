/** Every text of the page, by id, in the language that was chosen. */

import { MESSAGES } from "./texts.js";

let language = "en";

/**
 * Choose a language: what the address asks for, what was chosen before, what the browser prefers.
 *
 * @param {string[]} available  languages that there are
 * @param {string|null} chosen  chosen before
 */
export function chooseLanguage(available, chosen) {
  const asked = new URLSearchParams(location.search).get("lang");
  const wishes = [asked, chosen, ...navigator.languages].filter(Boolean).map((wish) => wish.toLowerCase());
  const first = wishes.flatMap((wish) => [wish, wish.split("-")[0]]).find((wish) => available.includes(wish));
  language = first ?? "en";
  document.documentElement.lang = language;
}

/** The language in use. */
export function languageInUse() {
  return language;
}

/** Whether there is a text of this id. */
export function has(id) {
  return id in MESSAGES[language] || id in MESSAGES.en;
}

/** The text `id` with its `{names}` filled in; the id itself where there is none. */
export function t(id, values = {}) {
  const text = MESSAGES[language][id] ?? MESSAGES.en[id] ?? id;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/** The text `id.one`, `id.other` and so on, as the language counts. */
export function tn(id, count, values = {}) {
  const form = new Intl.PluralRules(language).select(count);
  return t(has(`${id}.${form}`) ? `${id}.${form}` : `${id}.other`, { count, ...values });
}

/** The sign between whole and parts of a number. */
export function decimalSign() {
  return new Intl.NumberFormat(language).format(0.5).replace(/\d/g, "");
}

/** A number that was typed or sent, with the signs of the language. */
export function digits(number) {
  return String(number).replace(".", decimalSign()).replace("-", "−");
}

/** The language with the country that the browser has for it: days are written otherwise from one to the next. */
function place() {
  return navigator.languages.find((each) => each.split("-")[0] === language) ?? language;
}

/** A moment, as this place writes it. */
export function moment(iso) {
  const when = new Date(iso);
  return Number.isNaN(when.valueOf())
    ? iso
    : new Intl.DateTimeFormat(place(), { dateStyle: "medium", timeStyle: "short" }).format(when);
}
