/** The rows of the form: each group with its state, what its good states, and what was said in it. */

import { button, el } from "../dom.js";
import { has, t, tn } from "../messages.js";
import { wordFor } from "../controls/field.js";
import { goodOf, goodWord } from "../foot/good.js";
import { questionsOf } from "../foot/questions.js";
import { groupTitle, labelOf, saidWords, statementOf } from "./panel.js";

/** Whether another word was said than the good one. */
export function isOff(question, sheet) {
  const value = sheet.answers[question.at];
  const good = question.detail ? "" : goodWord(question, sheet);
  return typeof value !== "object" && good !== undefined && value !== good;
}

/** The row of a group that can be good. */
export function groupRow(group, questions, said, sheet, needed, acts) {
  const here = questions.filter((question) => question.group === group);
  const own = here.filter(({ at }) => sheet.answers[at] !== undefined);
  const good = group in sheet.good;
  const lacking = needed.filter(({ quantity, place }) => here.some((question) => question.quantity === quantity && (question.place === place || (place === "nail" && question.place.startsWith("nail:")))));
  const can = goodOf(group, sheet).size > 0;
  const wrong = (sheet.problem?.errors ?? []).some((error) => here.some(({ at }) => at === error.at));
  const stands = !good && here.some(acts.isCarried);
  const state = wrong ? "wrong" : own.length ? "said" : good ? "good" : stands ? "carried" : "blank";
  const counts = [good ? t("foot.good") : null, own.length ? tn("foot.said", own.length) : null, stands ? t("foot.carried") : null, !good && !own.length && !stands ? t("not_looked_at") : null].filter(Boolean);
  const before = !good && !own.length && here.some(({ at }) => acts.then.has(at));
  const hasFinding = (sheet.before?.found ?? []).some((found) => here.some(({ place, quantity }) => found.place === place && found.quantity === quantity));
  return el(
    "li",
    { class: `group ${state}`, "data-group": group, "data-state": state },
    button(
      [
        el("span", { class: "group-title" }, groupTitle(group), lacking.length && !good ? el("span", { class: "need" }, t("step.needed")) : null),
        el("span", { class: "group-state" }, counts.join(", "), own.length ? `: ${firstOf(own, sheet)}` : null),
      ],
      () => acts.group(group),
      { class: "group-open", id: `group-${group}` },
    ),
    before && !hasFinding ? button(t("foot.as_before"), () => acts.asBefore(group), { class: "group-before", id: `before-${group}` }) : null,
    can
      ? el("button", { type: "button", class: "group-good", id: `good-${group}`, "aria-pressed": String(good), "aria-describedby": `states-${group}`, "aria-label": t("foot.good_of", { group: groupTitle(group) }), on: { click: () => (good ? null : acts.good(group)) } }, good ? "✓" : t("foot.good"))
      : null,
    can ? el("p", { class: "states", id: `states-${group}` }, el("span", {}, statementOf(group, sheet)), good ? button(t("panel.take_back"), () => acts.notGood(group), { class: "take-back", id: `not-good-${group}` }) : null) : null,
  );
}

/** A few of what was said, what is not good before the rest. */
function firstOf(own, sheet) {
  const off = own.filter((question) => isOff(question, sheet));
  const some = [...off, ...own.filter((question) => !off.includes(question))].slice(0, 3);
  return some.map((question) => saidWords(question, sheet.answers[question.at])).join(", ");
}

/** What was said, each with its short name, so that one size is not taken for another. */
function namedWords(question, value) {
  const name = has(`size.${question.quantity}`) ? t(`size.${question.quantity}`) : labelOf(question);
  return `${name} ${saidWords(question, value)}`;
}

/** The row of a group that says how big things are, or when. */
export function plainRow(group, questions, said, needed, acts) {
  const here = questions.filter((question) => question.group === group);
  const known = here.filter(({ at }) => said.has(at));
  const lacking = needed.some(({ quantity }) => here.some((question) => question.quantity === quantity));
  return el(
    "li",
    { class: "group", "data-group": group },
    button(
      [el("span", { class: "group-title" }, groupTitle(group), lacking ? el("span", { class: "need" }, t("step.needed")) : null), el("span", { class: "group-state" }, known.map((question) => namedWords(question, said.get(question.at))).join(", ") || t("step.optional"))],
      () => acts.group(group),
      { class: "group-open", id: `group-${group}` },
    ),
  );
}

/** What is known of a foot and its shoe, in a few words. */
export function knownWords(answers, holes) {
  const nails = holes.medial.length + holes.lateral.length;
  const sizes = questionsOf({ answers, holes }).filter(({ at, group }) => group === "sizes" && answers[at] !== undefined);
  return [
    ...["work", "hoof_form", "stance"].filter((path) => answers[path] !== undefined).map((path) => wordFor(path, answers[path])),
    ...sizes.map((question) => namedWords(question, answers[question.at])),
    ...(nails ? [tn("foot.nails", nails)] : []),
  ];
}
