/** The sheet from below: the words of a place in rows, a number for each where there is one, and "looked at, good". */

import { button, el } from "../dom.js";
import { digits, has, t } from "../messages.js";
import { placeName, faults, faulty, wordFor } from "../controls/field.js";
import { keypad, unitName } from "../controls/keypad.js";
import { signFor, viewFor } from "../drawings/signs.js";
import { OBSERVABLES } from "../observables.js";
import { goodOf, saidOf } from "../foot/good.js";
import { clusterOf, questionsOf, takesNumber, titleOf } from "../foot/questions.js";
import { criterion, quantity } from "../rulebook.js";

/** What the open panel shows: `cluster:heel`, `group:seat`, and the number that is being typed. */

/** The title of a group: the page's own, or that of its criterion in the rulebook. */
export function groupTitle(group) {
  return has(`group.${group}`) ? t(`group.${group}`) : criterion(group)?.title ?? group;
}

/** The questions of what a panel shows. */
export function questionsIn(panel, sheet) {
  const [kind, ...rest] = panel.split(":");
  const name = rest.join(":");
  const all = questionsOf(sheet);
  return kind === "group" ? all.filter(({ group }) => group === name) : all.filter(({ place }) => place !== "foot" && clusterOf(place) === name);
}

/** What a panel is of. */
export function panelTitle(panel) {
  const [kind, ...rest] = panel.split(":");
  const name = rest.join(":");
  if (kind === "group") return groupTitle(name);
  return name.startsWith("nail:") ? placeName(name) : t(`cluster.${name}`);
}

/** The label of a question, with its place where others have the same; in the sheet of a nail without the nail. */
export function labelOf(question, panel = null) {
  const { place, quantity: name } = question;
  const alone = place === "foot" || (OBSERVABLES[name]?.fields.length === 1 && !place.startsWith("nail:") && !question.at.startsWith("clip:"));
  return alone || panel === `cluster:${place}` ? shortTitle(name) : `${shortTitle(name)}: ${placeName(place)}`;
}

/** What is said, in words. */
export function saidWords(question, value) {
  if (value === undefined) return null;
  if (Array.isArray(value)) return value.length ? value.map(placeName).join(", ") : t("foot.nowhere");
  if (typeof value === "object") return `${digits(value.n)} ${unitName(value.unit)}`;
  return wordFor(question.quantity, value);
}

/**
 * @param {object} of
 * @param {string} of.panel
 * @param {string|null} of.typing  the answer whose number is being typed
 * @param {import("../sheets.js").Sheet} of.sheet
 * @param {{say: Function, good: Function, type: Function, close: Function, asBefore: Function,
 *   isCarried: Function, then: Map<string, unknown>}} of.acts  `then`: what the look before this one said
 */
export function panelView({ panel, typing, sheet, acts }) {
  const questions = questionsIn(panel, sheet);
  const title = panelTitle(panel);
  const numbers = questions.filter(takesNumber);
  const typed = numbers.findIndex(({ at }) => at === typing);
  const head = el("div", { class: "panel-head" }, el("h2", { id: "panel-title", tabindex: "-1" }, title), button("×", acts.close, { id: "panel-close", "aria-label": t("panel.close") }));
  const inside = typed >= 0 ? keypadFor(numbers, typed, sheet, acts, panel) : rows(questions, sheet, acts, panel);
  return el("section", { class: typed >= 0 ? "panel typing" : "panel", id: "panel", "aria-labelledby": "panel-title", "data-panel": panel }, head, inside);
}

function keypadFor(numbers, index, sheet, acts, panel) {
  const question = numbers[index];
  const value = sheet.answers[question.at];
  const go = (to) => () => acts.type(numbers[to].at);
  return keypad({
    label: labelOf(question, panel),
    unit: question.unit,
    value: typeof value === "object" ? value : undefined,
    onChange: (next, swapped) => acts.say(question, next, { quiet: !swapped }),
    onNext: index + 1 < numbers.length ? go(index + 1) : null,
    onBack: index > 0 ? go(index - 1) : null,
    onDone: () => acts.type(null),
  });
}

function rows(questions, sheet, acts, panel) {
  const said = saidOf(sheet);
  const groups = [...new Set(questions.map(({ group }) => group))].filter((group) => goodOf(group, sheet).size && !(group in sheet.good));
  return el(
    "div",
    { class: "panel-body" },
    questions.length ? questions.map((question, index) => row(question, sheet, said.get(question.at), acts, { panel, before: acts.then.get(question.at), first: questions.findIndex((each) => each.quantity === question.quantity) === index })) : el("p", {}, t("panel.nothing")),
    groups.map((group) => button(t("panel.rest_good", { group: groupTitle(group) }), () => acts.good(group, true), { class: "wide good-rest", id: `rest-${group}` })),
  );
}

function row(question, sheet, value, acts, { panel, before, first }) {
  const { at } = question;
  const label = labelOf(question, panel);
  const own = sheet.answers[at];
  const how = quantity(question.quantity)?.how;
  return el(
    "div",
    { class: "row", role: "group", "aria-label": label, "data-at": at, ...faulty(sheet, at) },
    el(
      "div",
      { class: "row-head" },
      el("p", { class: "label" }, label),
      how ? el("details", { class: "how-fold" }, el("summary", { "aria-label": t("panel.how", { label }) }, "?"), el("p", { class: "how" }, how)) : null,
    ),
    first ? viewFor(question.quantity, sheet.answers.foot) : null,
    value === undefined && before !== undefined ? el("p", { class: "was" }, t(acts.isCarried(question) ? "panel.carried" : "panel.was", { said: saidWords(question, before) })) : null,
    el("div", { class: "words" }, question.control === "places" ? placeButtons(question, value, own, acts) : question.words.map((word) => wordButton(question, word, value, own, acts)), takesNumber(question) ? numberButton(question, own, acts) : null, own === undefined ? null : button(t("panel.take_back"), () => acts.say(question, undefined), { class: "take-back", id: `clear-${at}`, "aria-label": t("panel.take_back_of", { label }) })),
    chips(question, own, acts),
    faults(sheet, at, question.quantity),
  );
}

function wordButton(question, word, value, own, acts) {
  const chosen = value === word;
  const hint = `hint.${question.quantity}.${word}`;
  return el(
    "button",
    {
      type: "button",
      class: `word${chosen && own === undefined ? " by-group" : ""}`,
      id: `pick-${question.at}-${word}`,
      "aria-pressed": String(chosen),
      on: { click: () => acts.say(question, word) },
    },
    signFor(question.quantity, word),
    el("span", {}, wordFor(question.quantity, word), has(hint) ? el("span", { class: "hint" }, t(hint)) : null),
  );
}

/** A button for each place, of which any number may be chosen, and one for none of them. */
function placeButtons(question, value, own, acts) {
  const named = Array.isArray(own) ? own : [];
  const turn = (place) => (named.includes(place) ? named.filter((each) => each !== place) : [...named, place]);
  const choice = (id, chosen, name, next) =>
    el("button", { type: "button", class: `word${chosen && own === undefined ? " by-group" : ""}`, id: `pick-${question.at}-${id}`, "aria-pressed": String(chosen), on: { click: () => acts.say(question, next()) } }, el("span", {}, name));
  const places = question.words.map((place) => choice(place, named.includes(place), placeName(place), () => (turn(place).length ? turn(place) : undefined)));
  return [choice("none", value?.length === 0, t("foot.nowhere"), () => []), ...places];
}

function numberButton(question, own, acts) {
  const given = typeof own === "object";
  return el(
    "button",
    { type: "button", class: "word number", id: `number-${question.at}`, "aria-pressed": String(given), "aria-label": t("panel.number", { label: labelOf(question) }), on: { click: () => acts.type(question.at) } },
    given ? el("span", { class: "digits" }, saidWords(question, own)) : `${t("panel.digits")} ${unitName(question.unit)}`,
  );
}

/** What was said of it before, or is usual, in one tap. */
function chips(question, own, acts) {
  const values = acts.chips(question);
  if (!values.length) return null;
  return el(
    "div",
    { class: "words" },
    values.map((value) =>
      button(`${digits(value.n)} ${unitName(value.unit)}`, () => acts.say(question, value), {
        class: "word chip",
        id: `chip-${question.at}-${value.n}`,
        "aria-pressed": String(typeof own === "object" && own.n === value.n && own.unit === value.unit),
      }),
    ),
  );
}

/** What the good of a group states, in one line. */
export function statementOf(group, sheet) {
  if (has(`states.${group}`)) return t(`states.${group}`);
  const words = new Map();
  for (const question of questionsOf(sheet)) {
    const good = question.group === group ? goodOf(group, sheet).get(question.at) : undefined;
    if (good !== undefined) words.set(question.quantity, `${shortTitle(question.quantity)}: ${Array.isArray(good) ? t("foot.nowhere") : wordFor(question.quantity, good)}`);
  }
  return [...words.values()].join(", ");
}

/** The short name of a quantity: the page's own, or the title of the rulebook. */
export function shortTitle(name) {
  return has(`question.${name}`) ? t(`question.${name}`) : titleOf(name);
}
