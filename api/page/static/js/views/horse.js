/** The horse at hand: its four feet with their state, what waits to be sent, what the pairs show, what is left. */

import { problemText } from "../controls/problem.js";
import { button, el } from "../dom.js";
import { moment, t, tn } from "../messages.js";
import { gradeMark } from "../drawings/signs.js";
import { forget, lastAnswers } from "../answers.js";
import { askJson, clockIsWrong, NotReached, Refused } from "../api.js";
import { FEET, horseAtHand, horses, lookAt, draftOf, sayAgain, stageAfter, stateOf, takeHorse, toSayAgain, visitOf } from "../horses.js";
import { discardable, standsStill, takeBack, waiting } from "../queue.js";
import { rulebook } from "../rulebook.js";
import { all, discard, open } from "../sheets.js";
import { outlives } from "../store.js";
import { footWords } from "./bar.js";
import { knownWords } from "./groups.js";
import { verdict, VERDICT_MARKS } from "./verdict.js";

let pairsOf = { visit: null, found: null };

/** @param {object} page */
export function horseView(page) {
  const horse = horseAtHand();
  return [
    el("header", { class: "top" }, el("div", { class: "top-row" }, el("h1", { tabindex: "-1", id: "heading" }, horse ? el("bdi", {}, horse) : t("start.title")), button(t("nav.settings"), () => page.go("settings"), { class: "top-all", id: "to-settings" }))),
    el(
      "main",
      { class: "start" },
      page.trouble ? troubleOf(page) : null,
      outlives() ? null : el("p", { class: "refused", role: "alert", id: "not-kept" }, t("store.none")),
      clockIsWrong() ? el("p", { class: "refused", role: "alert", id: "clock" }, t("start.clock")) : null,
      rulebook() ? [lastVisit(page), feet(page)] : noBook(page),
      rulebook() && visitOf(horse) ? pairs(page, visitOf(horse)) : null,
      queue(page),
      horseChoice(page, horse),
      answers(page),
      el("footer", {}, el("p", {}, t("start.welfare")), el("p", {}, el("a", { href: "/practice", id: "to-practice" }, t("practice.link"))), el("p", {}, el("a", { href: "/docs" }, t("start.docs")))),
    ),
  ];
}

/** What was so at the last visit, offered for all feet in one tap. */
function lastVisit(page) {
  const known = toSayAgain();
  if (!known) return null;
  const say = () => {
    if (!sayAgain()) page.warnFull();
    page.redraw();
  };
  const rows = FEET.filter((foot) => known.feet[foot]).map((foot) => {
    const { answers, holes } = known.feet[foot];
    return el("li", {}, `${t(`foot.${foot}`)}: ${knownWords({ stage: "hot_fit", ...known.answers, ...answers }, holes).join(", ")}`);
  });
  return el("section", { class: "offer" }, el("p", { class: "label" }, `${t("foot.last_time")} ${moment(known.seen)}`), el("ul", {}, rows), button(t("foot.is_so"), say, { class: "wide", id: "all-so" }));
}

function feet(page) {
  const left = FEET.filter((foot) => !["release", "stop_and_refer"].includes(stateOf(foot)?.assessment.decision)).length;
  return [
    el("p", { class: "ahead", "aria-hidden": "true" }, t("foot.ahead")),
    el("div", { class: "feet" }, FEET.map((foot) => footButton(foot, page))),
    el("p", { class: "note", id: "left" }, left ? tn("horse.left", left) : t("horse.done")),
  ];
}

function footButton(foot, page) {
  const last = stateOf(foot);
  const begun = draftOf(foot);
  const queued = waiting().find(({ answers }) => answers.foot === foot && (answers["horse.id"] ?? "") === horseAtHand());
  const decision = last?.assessment.decision;
  const state = queued ? t("horse.waits") : begun ? t("horse.begun") : last ? t(`decision.${verdict(last.assessment)}.short`) : t("not_looked_at");
  const next = begun ? t(`stage.${begun.answers.stage}`) : decision === "go_on" ? `→ ${t(`stage.${stageAfter(last)}`)}` : null;
  const go = () => {
    if (queued) return page.go(`waiting/${queued.id}`);
    if (decision === "stop_and_refer" && !begun) return page.go(`answer/${last.assessment.id}`);
    open(lookAt(foot).id);
    return page.go("foot");
  };
  return el(
    "button",
    { type: "button", class: `foot-button ${decision ?? "blank"}`, id: `foot-${foot}`, "data-state": queued ? "queued" : begun ? "begun" : decision ?? "blank", on: { click: go } },
    el("span", { class: "foot-name" }, t(`foot.${foot}`)),
    el("span", { class: "foot-state" }, decision && !begun && !queued ? gradeMark(VERDICT_MARKS[decision]) : null, state),
    next ? el("span", { class: "hint" }, next) : null,
  );
}

/** What left held against right shows, asked of the service when it can be reached. */
function pairs(page, visit) {
  const holder = el("section", { class: "pairs", id: "pairs" });
  const show = () => {
    const found = pairsOf.visit === visit ? pairsOf.found : null;
    const findings = (found?.pairs ?? []).flatMap((pair) => pair.findings ?? []);
    holder.replaceChildren(...(findings.length ? [el("h2", {}, t("horse.pairs")), el("ul", {}, findings.map((each) => el("li", { "data-rule": each.rule }, each.finding, " ", each.action)))] : []));
  };
  show();
  if (FEET.some((foot) => stateOf(foot))) {
    askJson(`/v1/visits/${encodeURIComponent(visit)}`).then(
      (found) => {
        pairsOf = { visit, found };
        show();
      },
      (error) => {
        if (!(error instanceof NotReached || error instanceof Refused)) throw error;
      },
    );
  }
  return holder;
}

function horseChoice(page, horse) {
  const input = el("input", { id: "horse-name", type: "text", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", maxlength: 64 });
  const take = (name) => {
    if (!takeHorse(name)) page.warnFull();
    page.redraw();
    page.show();
  };
  const known = horses().filter(([name]) => name !== horse).slice(0, 6);
  return el(
    "details",
    { class: "folded", id: "other-horse" },
    el("summary", {}, t("horse.other")),
    known.length ? el("div", { class: "words" }, known.map(([name]) => button(name || t("horse.nameless"), () => take(name), { class: "word", id: `horse-${name}` }))) : null,
    el("label", { class: "label", for: "horse-name" }, t("record.horse.id")),
    input,
    el("p", { class: "note" }, t("review.record_note")),
    button(t("horse.take"), () => take(input.value.trim()), { class: "wide", id: "take-horse" }),
  );
}

function queue(page) {
  const sheets = waiting();
  const refused = all().filter(({ state, problem }) => state === "draft" && problem);
  if (!sheets.length && !refused.length) return null;
  const stopped = standsStill();
  const why = stopped instanceof Refused ? (stopped.wantsKey ? t("queue.key") : `${t("queue.service")} ${problemText(stopped.problem)}`) : t("queue.signal");
  return el(
    "section",
    { class: "queue", "aria-labelledby": "queue-title" },
    el("h2", { id: "queue-title" }, sheets.length ? tn("queue.title", sheets.length) : t("review.refused")),
    sheets.length && stopped ? el("p", {}, why) : null,
    el("ul", {}, [...sheets, ...refused].map((sheet) => waitingRow(sheet, page))),
    stopped instanceof Refused && stopped.wantsKey ? button(t("start.give_key"), () => page.go("settings"), { class: "wide", id: "queue-key" }) : null,
    sheets.length ? button(t("queue.send_now"), () => page.sendNow(), { class: "wide", id: "send-now" }) : null,
  );
}

function waitingRow(sheet, page) {
  const name = [footWords(sheet.answers), t(`stage.${sheet.answers.stage}`), sheet.answers["horse.id"]].filter(Boolean).join(", ");
  const correct = () => {
    if (sheet.state === "queued" && !takeBack(sheet)) page.warnFull();
    open(sheet.id);
    page.go("foot");
  };
  const away = () => {
    if (!confirm(t(discardable(sheet) ? "queue.away_sure" : "queue.away_tried"))) return;
    discard(sheet.id);
    page.redraw();
  };
  return el(
    "li",
    { "data-sheet": sheet.id },
    el("p", { class: "label" }, name),
    sheet.problem ? el("p", { class: "fault" }, t("start.sent_back")) : null,
    el(
      "div",
      { class: "words" },
      sheet.state === "queued" ? button(t("queue.open"), () => page.go(`waiting/${sheet.id}`), { class: "word", id: `open-${sheet.id}` }) : null,
      button(t("queue.correct"), correct, { class: "word", id: `correct-${sheet.id}` }),
      button(t("queue.away"), away, { class: "word", id: `away-${sheet.id}` }),
    ),
  );
}

function answers(page) {
  const kept = lastAnswers();
  if (!kept.length) return null;
  return el(
    "details",
    { class: "folded", id: "answers" },
    el("summary", {}, t("start.answers")),
    el("ul", { class: "answers" }, kept.map(({ assessment, answers: said }) =>
      el("li", {}, el("button", { type: "button", class: "answer-row", id: `answer-${assessment.id}`, on: { click: () => page.go(`answer/${assessment.id}`) } },
        gradeMark(VERDICT_MARKS[assessment.decision]),
        el("span", {}, t(`foot.${assessment.foot}`), ", ", t(`stage.${assessment.stage}`), said["horse.id"] ? `, ${said["horse.id"]}` : null, el("span", { class: "hint" }, t(`decision.${verdict(assessment)}.short`), " · ", moment(assessment.created)))),
        button("×", () => { forget(assessment.id); page.redraw(); }, { class: "drop", id: `forget-${assessment.id}`, "aria-label": t("start.forget", { foot: t(`foot.${assessment.foot}`) }) }))),
    ),
  );
}

function noBook(page) {
  return el("section", { class: "refused" }, el("h2", {}, t(page.loading ? "start.loading" : "start.no_book_title")), page.loading ? null : el("p", {}, t("start.no_book")), page.loading ? null : button(t("start.retry"), () => page.retry(), { class: "wide", id: "retry" }));
}

/** Why the rulebook could not be had: a key is wanted, or the service fails. */
function troubleOf(page) {
  if (page.trouble.wantsKey) return keyWanted(page);
  return el("section", { class: "refused", id: "trouble" }, el("p", {}, `${t(rulebook() ? "start.book_fails" : "queue.service")} ${problemText(page.trouble.problem)}`), button(t("start.retry"), () => page.retry(), { class: "wide", id: "retry-book" }));
}

function keyWanted(page) {
  return el("section", { class: "refused" }, el("h2", {}, t("start.key_title")), el("p", {}, t("start.key")), button(t("start.give_key"), () => page.go("settings"), { class: "wide", id: "give-key" }));
}
