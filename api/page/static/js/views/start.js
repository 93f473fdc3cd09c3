/** Where one begins: a new foot, feet begun, feet waiting to be sent, the last answers. */

import { el } from "../dom.js";
import { moment, t, tn } from "../messages.js";
import { Refused } from "../api.js";
import { forget, lastAnswers } from "../answers.js";
import { gradeMark } from "../drawings/signs.js";
import { standing, waiting } from "../queue.js";
import { rulebook } from "../rulebook.js";
import { all, begin, discard, open } from "../sheets.js";
import { footWords } from "./bar.js";

export const DECISION_MARKS = { release: "release", put_right: "major", stop_and_refer: "critical", incomplete: "incomplete", go_on: "go_on" };

/** The name of what is said of a decision: where the foot goes on, with the step that follows. */
export const verdict = ({ decision, next }) => (next ? `${decision}_${next}` : decision);

/** @param {object} page */
export function startView(page) {
  const drafts = all().filter((sheet) => sheet.state === "draft" && Object.keys(sheet.answers).length);
  const queue = waiting();
  const answers = lastAnswers();
  const ready = rulebook() !== null;
  return [
    el(
      "header",
      { class: "top plain" },
      el("div", { class: "top-row" },
        el("h1", { tabindex: "-1", id: "heading" }, t("start.title")),
        el("button", { type: "button", class: "top-all", id: "to-settings", on: { click: () => page.go("settings") } }, t("nav.settings")),
      ),
    ),
    el(
      "main",
      { class: "start" },
      el("p", { class: "lead" }, t("start.lead")),
      ready ? null : noRulebook(page),
      queue.length ? queueCard(queue, page) : null,
      drafts.length ? el("h2", {}, t("start.begun")) : null,
      el("ul", { class: "cards" }, drafts.map((sheet) => draftRow(sheet, page))),
      answers.length ? el("h2", {}, t("start.answers")) : null,
      el("ul", { class: "cards" }, answers.map((kept) => answerRow(kept, page))),
      el("footer", {}, el("p", {}, t("start.welfare")), el("p", {}, el("a", { href: "/docs" }, t("start.docs")))),
    ),
    el(
      "nav",
      { class: "thumb", "aria-label": t("nav.main") },
      el(
        "button",
        { type: "button", class: "onward", id: "new-foot", disabled: !ready, on: { click: () => { begin(); page.go("step/foot"); } } },
        t("start.new"),
      ),
    ),
  ];
}

function noRulebook(page) {
  const wantsKey = page.trouble instanceof Refused && page.trouble.wantsKey;
  return el(
    "div",
    { class: "refused", role: "alert" },
    el("h2", {}, t(wantsKey ? "start.key_title" : "start.no_book_title")),
    el("p", {}, t(wantsKey ? "start.key" : "start.no_book")),
    el("button", { type: "button", class: "wide", id: "fix", on: { click: () => (wantsKey ? page.go("settings") : page.retry()) } }, t(wantsKey ? "start.give_key" : "start.retry")),
  );
}

function queueCard(queue, page) {
  const wantsKey = standing instanceof Refused && standing.wantsKey;
  return el(
    "section",
    { class: "queue" },
    el("h2", {}, tn("queue.title", queue.length)),
    el("p", {}, t(wantsKey ? "queue.key" : standing instanceof Refused ? "queue.service" : "queue.signal")),
    standing instanceof Refused ? el("p", { class: "note" }, standing.problem.detail) : null,
    el("ul", { class: "cards" }, queue.map((sheet) => el("li", { class: "queued" }, footWords(sheet.answers), el("span", { class: "when" }, moment(sheet.changed))))),
    el("button", { type: "button", class: "wide", id: "send-now", on: { click: () => page.sendNow() } }, t("queue.send_now")),
    wantsKey ? el("button", { type: "button", class: "wide", id: "queue-key", on: { click: () => page.go("settings") } }, t("start.give_key")) : null,
  );
}

function draftRow(sheet, page) {
  const { answers, step, problem } = sheet;
  const where = step === "review" || !step ? "review" : `step/${step}`;
  return el(
    "li",
    {},
    el(
      "button",
      { type: "button", class: "row", id: `draft-${sheet.id}`, on: { click: () => { open(sheet.id); page.go(problem ? "review" : where); } } },
      el("span", { class: "row-mark", "aria-hidden": "true" }, "◐"),
      el("span", { class: "row-title" }, footWords(answers), answers.stage ? `, ${t(`stage.${answers.stage}`)}` : ""),
      el("span", { class: "row-said" }, problem ? t("start.sent_back") : t("start.go_on"), " · ", moment(sheet.changed)),
    ),
    el("button", { type: "button", class: "drop", "aria-label": t("start.discard", { foot: footWords(answers) }), on: { click: () => confirm(t("start.discard_sure")) && (discard(sheet.id), page.redraw()) } }, "×"),
  );
}

function answerRow({ assessment, answers }, page) {
  return el(
    "li",
    {},
    el(
      "button",
      { type: "button", class: "row", id: `answer-${assessment.id}`, on: { click: () => page.go(`answer/${assessment.id}`) } },
      el("span", { class: "row-mark" }, gradeMark(DECISION_MARKS[assessment.decision])),
      el("span", { class: "row-title" }, t(`decision.${verdict(assessment)}.short`)),
      el("span", { class: "row-said" }, `${t(`foot.${assessment.foot}`)}, ${t(`stage.${assessment.stage}`)}`, answers["horse.id"] ? ` · ${answers["horse.id"]}` : "", " · ", moment(assessment.created)),
    ),
    el("button", { type: "button", class: "drop", "aria-label": t("start.forget", { foot: t(`foot.${assessment.foot}`) }), on: { click: () => (forget(assessment.id), page.redraw()) } }, "×"),
  );
}
