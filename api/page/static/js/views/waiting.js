/** A foot that is on its way or waits for a signal: a first look at it, and the ways out. */

import { button, el } from "../dom.js";
import { digits, t } from "../messages.js";
import { placeName, wordFor } from "../controls/field.js";
import { gradeMark } from "../drawings/signs.js";
import { takeBack } from "../queue.js";
import { quantity, rulebook } from "../rulebook.js";
import { firstLook } from "../look/first.js";
import { load, open } from "../sheets.js";
import { footWords, plainBar } from "./bar.js";
import { shortTitle } from "./panel.js";
import { VERDICT_MARKS } from "./verdict.js";

/** @param {string} id  of the sheet @param {object} page */
export function waitingView(id, page) {
  const sheet = load(id);
  if (sheet?.state !== "queued" || !rulebook()) return null;
  const { decision, findings } = firstLook(JSON.parse(sheet.body));
  const correct = () => {
    if (!takeBack(sheet)) page.warnFull();
    open(sheet.id);
    page.replace("foot");
  };
  return [
    plainBar(page, `${footWords(sheet.answers)}, ${t(`stage.${sheet.answers.stage}`)}`),
    el(
      "main",
      { class: "answer first-look", "data-first": decision },
      el("p", { class: "sending", id: "sending" }, t(page.sending ? (page.slow ? "sending.slow" : "sending.title") : "sending.waits")),
      el("p", { class: "label" }, t("first.title")),
      el("div", { class: `decision ${decision}` }, gradeMark(VERDICT_MARKS[decision]), el("p", { class: "decision-words" }, t(`first.${decision}`))),
      findings.length ? el("ol", { class: "findings" }, findings.map((finding, index) => findingRow(finding, index))) : el("p", {}, t("first.nothing")),
      el("p", { class: "note" }, t("first.note")),
    ),
    el("nav", { class: "thumb", "aria-label": t("nav.main") }, button(t("queue.correct"), correct, { class: "back", id: "correct" }), button(t("sending.leave"), () => page.go("start"), { class: "onward", id: "leave" })),
  ];
}

function findingRow({ rule, quantity: name, place, grade, value, action }, index) {
  const known = quantity(name);
  const of = known?.eye_of ?? name;
  const said = typeof value === "number" ? `${digits(Math.round(value * 10) / 10)} ${known?.unit === "1" ? "" : known?.unit ?? ""}`.trim() : wordFor(of, value === "yes" ? true : value === "no" ? false : value);
  return el(
    "li",
    { class: `finding ${grade}`, "data-rule": rule, "data-place": place, "data-grade": grade },
    gradeMark(grade, index + 1),
    el("div", {}, el("p", { class: "finding-text" }, `${placeName(place)}: ${shortTitle(of)}, ${said}`), el("p", { class: "finding-action" }, doNow(action, place))),
  );
}

/** What to do at once, where it needs nothing that only the service works out. */
function doNow(action, place) {
  const text = action.replaceAll("{place}", placeName(place)).replaceAll("{places}", placeName(place));
  return text && !/[{}]/.test(text) ? text : t("first.amount_follows");
}
