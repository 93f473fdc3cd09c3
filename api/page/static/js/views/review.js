/** All questions of this foot with what was answered, for the record, and sending. */

import { el } from "../dom.js";
import { t, tn } from "../messages.js";
import { choice } from "../controls/choice.js";
import { wordFor } from "../controls/field.js";
import { text } from "../controls/text.js";
import { answersOf, progressOf } from "../fitting.js";
import { enqueue } from "../queue.js";
import { criterion } from "../rulebook.js";
import { answer, save } from "../sheets.js";
import { isNeeded, RECORD_FIELDS, stepsFor } from "../steps.js";
import { asShown } from "../reading.js";
import { footWords, plainBar } from "./bar.js";

/** @param {import("../sheets.js").Sheet} sheet @param {object} page */
export function reviewView(sheet, page) {
  sheet.step = "review";
  save(sheet);
  const steps = stepsFor(sheet.answers);
  const lacking = steps.filter((step) => isNeeded(step, sheet.answers) && progressOf(step, sheet) === "none");
  const basics = ["foot", "stage", "work"].filter((path) => sheet.answers[path] === undefined);
  const change = (path) => (value) => {
    answer(sheet, path, value);
  };

  function send() {
    if (!enqueue(sheet)) {
      page.warnFull();
      return;
    }
    page.sendNow(sheet.id);
  }

  return [
    plainBar(page, t("review.title", { foot: footWords(sheet.answers) })),
    el(
      "main",
      { class: "review" },
      sheet.problem ? problemCard(sheet) : null,
      sheet.corrects ? el("p", { class: "note" }, t("review.corrects")) : null,
      lacking.length
        ? el("p", { class: "lacking" }, tn("review.lacking", lacking.length))
        : el("p", { class: "note" }, t("review.all_needed")),
      el("ol", { class: "all-steps" }, steps.map((step) => row(step, sheet, page))),
      el(
        "ol",
        { class: "all-steps" },
        el("li", {}, rowButton("trace", t("step.trace"), sheet.answers.outline ? t("trace.summary", counts(sheet)) : t("not_looked_at"), sheet.answers.outline ? "all" : "none", page, faultsOf(sheet, "trace"))),
      ),
      el("h2", {}, t("review.record")),
      el("p", { class: "note" }, t("review.record_note")),
      RECORD_FIELDS.filter((path) => path !== "person.role").map((path) =>
        [
          text({ sheet, at: path, label: t(`record.${path}`), long: path === "notes", onChange: change(path) }),
          path === "person.id" ? roles(sheet, page) : null,
        ],
      ),
    ),
    el(
      "nav",
      { class: "thumb", "aria-label": t("nav.steps") },
      el("button", { type: "button", class: "back", id: "back", on: { click: () => page.go(`step/${steps.at(-1).id}`) } }, t("step.back")),
      basics.length
        ? el("button", { type: "button", class: "onward", id: "send", on: { click: () => page.go(`step/${basics[0]}`) } }, t(`review.first.${basics[0]}`))
        : el("button", { type: "button", class: "onward", id: "send", on: { click: send } }, t("review.send")),
    ),
  ];
}

function counts(sheet) {
  const { sent } = sheet.answers.outline;
  return { hoof: sent.hoof.length, shoe: sent.shoe.length, holes: sent.nail_holes?.length ?? 0 };
}

function roles(sheet, page) {
  return choice({
    sheet,
    at: "person.role",
    label: t("record.person.role"),
    layout: "abreast",
    options: ["apprentice", "farrier"].map((value) => ({ value, label: wordFor("role", value) })),
    onChange: (value) => {
      answer(sheet, "person.role", value);
      page.redraw();
    },
  });
}

function problemCard(sheet) {
  const { title, detail, errors } = sheet.problem;
  return el(
    "div",
    { class: "refused", role: "alert" },
    el("h2", {}, t("review.refused")),
    errors.length ? el("p", {}, t("review.refused_each")) : el("p", {}, `${title}. ${detail}`),
  );
}

function faultsOf(sheet, id) {
  return (sheet.problem?.errors ?? []).filter((error) => error.step === id);
}

function row(step, sheet, page) {
  return el("li", {}, rowButton(step.id, t(`step.${step.id}`), summary(step, sheet), progressOf(step, sheet), page, faultsOf(sheet, step.id), isNeeded(step, sheet.answers), criterion(step.criterion)?.title));
}

function rowButton(id, title, said, progress, page, faults, needed = false) {
  const missing = needed && progress === "none";
  return el(
    "button",
    { type: "button", class: `row ${progress}${missing ? " missing" : ""}`, id: `row-${id}`, on: { click: () => page.go(id === "trace" ? "trace" : `step/${id}`) } },
    el("span", { class: "row-mark", "aria-hidden": "true" }, progress === "all" ? "●" : progress === "some" ? "◐" : "○"),
    el("span", { class: "row-title" }, title, missing ? el("span", { class: "need" }, t("step.needed")) : null),
    el("span", { class: "row-said" }, said),
    faults.map((fault) => el("span", { class: "fault" }, fault.detail)),
  );
}

/** What was answered, in a line. */
function summary(step, sheet) {
  const said = answersOf(step, sheet).map((path) => {
    const value = sheet.answers[path];
    if (typeof value === "object" && value !== null) return asShown(value);
    const own = step.questions.find((question) => question.fields.some((field) => field.path === path));
    if (own?.control === "date") return value;
    const name = own ? own.quantity ?? step.id : path.split(".").pop();
    return wordFor(name, value);
  });
  if (!said.length) return t("not_looked_at");
  const counted = [...said.reduce((seen, text) => seen.set(text, (seen.get(text) ?? 0) + 1), new Map())];
  return counted.map(([text, count]) => (count > 1 ? `${text} ×${count}` : text)).join(", ");
}
