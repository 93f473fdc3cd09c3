/** One question, or a few that belong together: where to look, how to measure, what was seen. */

import { el } from "../dom.js";
import { has, t } from "../messages.js";
import { change as changeSettings } from "../settings.js";
import { choice } from "../controls/choice.js";
import { day } from "../controls/date.js";
import { faults, placeName, wordFor } from "../controls/field.js";
import { branchesOf, clinches, exits, nailPlaces, signs } from "../controls/nails.js";
import { isNumber, number, unitSwitch } from "../controls/number.js";
import { signFor } from "../drawings/signs.js";
import { drawingFor } from "../drawings/steps.js";
import { answersOf, progressOf } from "../fitting.js";
import { asked, quantity, wordsOf } from "../rulebook.js";
import { answer, save } from "../sheets.js";
import { isNeeded, situationOf, stepsFor } from "../steps.js";
import { topBar } from "./bar.js";

/**
 * @param {import("../sheets.js").Sheet} sheet
 * @param {string} id  of the step
 * @param {{go: (where: string) => void, redraw: () => void}} page
 */
export function stepView(sheet, id, page) {
  const steps = stepsFor(sheet.answers);
  const place = Math.max(0, steps.findIndex((step) => step.id === id));
  const step = steps[place];
  const next = steps[place + 1]?.id ?? "review";
  const before = steps[place - 1]?.id;
  sheet.step = step.id;
  save(sheet);

  const onward = el("button", { type: "button", class: "onward", id: "onward", on: { click: () => page.go(addressOf(next)) } });
  const clear = el("button", { type: "button", class: "clear", id: "clear", on: { click: takeBack } }, t("step.clear"));
  showState();

  function showState() {
    const answered = progressOf(step, sheet) !== "none";
    const name = !answered ? "step.skip" : next === "review" ? "step.to_review" : "step.next";
    onward.textContent = t(name);
    onward.classList.toggle("skip", !answered);
    clear.hidden = !answered;
  }

  /** Keep an answer; `redraw` where more than this control shows it. */
  function change(path, value, redraw = true) {
    const kept = answer(sheet, path, value);
    if (!kept) page.warnFull();
    if (redraw) page.redraw();
    else showState();
  }

  function changeMany(pairs) {
    for (const [path, value] of pairs) answer(sheet, path, value);
    page.redraw();
  }

  function takeBack() {
    changeMany(answersOf(step, sheet).map((path) => [path, undefined]));
  }

  function pick(path, alone) {
    return (value) => {
      change(path, value, !alone || value === undefined);
      if (alone && value !== undefined) page.go(addressOf(nextAfterChange()));
    };
  }

  /** Which steps there are may hang on what was just answered. */
  function nextAfterChange() {
    const fresh = stepsFor(sheet.answers);
    return fresh[fresh.findIndex((each) => each.id === step.id) + 1]?.id ?? "review";
  }

  const tools = { sheet, change, changeMany, redo: (path) => (value) => change(path, value), onHoles: setHoles };
  function setHoles(branch, holes) {
    sheet.holes[branch] = holes;
    save(sheet);
    page.redraw();
  }

  const needed = isNeeded(step, sheet.answers);
  const alone = step.questions.length === 1 && step.questions[0].fields.length === 1;
  const inLengths = step.questions.some((each) => ["exits", "nail_places"].includes(each.control) || each.numbers
    || (each.control === "number" && (each.unit ?? "mm") === "mm"));
  return [
    topBar({ sheet, page, place, count: steps.length }),
    el(
      "main",
      { class: "step", "data-step": step.id },
      el(
        "div",
        { class: "title-row" },
        el("h1", { tabindex: "-1", id: "heading" }, t(`step.${step.id}`)),
        el("span", { class: needed ? "need" : "need free" }, t(needed ? "step.needed" : "step.optional")),
        inLengths ? unitSwitch((unit) => { changeSettings({ unit }); page.redraw(); }) : null,
      ),
      el("div", { class: "with-drawing" },
        drawingCard(step, sheet),
        el("div", { class: "questions" },
          step.id === "foot" ? el("p", { class: "ahead", "aria-hidden": "true" }, t("foot.ahead")) : null,
          step.questions.map((question) => questionView(question, { step, alone, pick, tools, sheet })),
          ["heel_width", "heel_length", "toe"].includes(step.id) ? tracingLink(page) : null,
          clear,
        ),
      ),
    ),
    el(
      "nav",
      { class: "thumb", "aria-label": t("nav.steps") },
      el("button", { type: "button", class: "back", id: "back", on: { click: () => page.go(before ? `step/${before}` : "start") } }, t("step.back")),
      onward,
    ),
  ];
}

/** The view of a step; the last one is followed by the review. */
function addressOf(id) {
  return id === "review" ? "review" : `step/${id}`;
}

function drawingCard(step, sheet) {
  const drawing = drawingFor(step, sheet);
  return drawing ? el("div", { class: "card" }, drawing) : null;
}

function tracingLink(page) {
  return el("button", { type: "button", class: "wide quiet", id: "to-trace", on: { click: () => page.go("trace") } }, t("trace.instead"));
}

function questionView(question, { step, alone, pick, tools, sheet }) {
  const { control } = question;
  if (control === "exits") return [how("exit_height"), exits({ ...tools, question }), faults(sheet, "nails")];
  if (control === "signs") return signs({ ...tools, question, clinchesToo: asked("clinches", situationOf(sheet.answers)) });
  if (control === "clinches") return [how("clinch"), clinches({ ...tools, question })];
  if (control === "nail_places") return [how("position"), how("hole_inset"), nailPlaces({ ...tools, question })];
  const fields = inDrawingOrder(question.fields, sheet.answers.foot);
  const many = fields.length > 1;
  return el(
    "section",
    { class: "asked" },
    how(question.quantity, step),
    question.quick ? quick(question, tools) : null,
    el(
      "div",
      { class: many && fields.length === 2 ? "pair" : "single" },
      fields.map((field) => fieldView(question, field, { step, alone, many, pick, tools, sheet })),
    ),
  );
}

function fieldView(question, field, { step, alone, many, pick, tools, sheet }) {
  const at = field.path;
  const label = many ? placeName(field.place) : t(labelOf(question, step));
  const numbered = () =>
    number({
      sheet,
      at,
      label: question.numbers ? t("number.of", { place: label }) : label,
      question,
      onChange: (value) => {
        tools.change(at, value, false);
        // A number stands in the place of a word.
        for (const word of document.querySelectorAll(`[data-at="${at}"][aria-pressed="true"]`)) word.setAttribute("aria-pressed", "false");
      },
    });
  if (question.control === "number") return numbered();
  if (question.control === "date") return day({ sheet, at, label: t(`question.${at.split(".").pop()}`), onChange: (value) => tools.change(at, value, false) });
  const name = question.quantity ?? step.id;
  const flag = question.control === "flag";
  const words = flag ? [false, true].map((word) => ({ word })) : question.words?.map((word) => ({ word })) ?? wordsOf(question.quantity);
  const options = words.map(({ word, meaning }) => ({
    value: word,
    label: wordFor(name, word),
    hint: has(`hint.${name}.${word}`) ? t(`hint.${name}.${word}`) : null,
    meaning,
    sign: signFor(name, word),
  }));
  const layout = step.id === "foot" ? "quad" : flag ? "abreast" : name === "clip" || name === "shoe_heat" ? "grid" : "column";
  const list = choice({ sheet, at, label, quiet: alone, options, layout, onChange: pick(at, alone) });
  if (!question.numbers) return list;
  const open = isNumber(sheet.answers[at]);
  return el(
    "div",
    { class: "words-or-number" },
    list,
    el("details", { class: "number-fold", open, id: `as-number-${at}` }, el("summary", {}, t("number.instead")), numbered()),
  );
}

function labelOf(question, step) {
  const id = `question.${question.quantity ?? step.id}`;
  return has(id) ? id : `step.${step.id}`;
}

function how(name) {
  const text = name && quantity(name)?.how;
  return text ? el("p", { class: "how" }, text) : null;
}

function quick(question, { changeMany }) {
  const all = () => changeMany(question.fields.map((field) => [field.path, question.quickValue]));
  return el("button", { type: "button", class: "wide", id: "quick", on: { click: all } }, t(question.quick));
}

/** The two sides as they lie on the drawing: the left one first. */
function inDrawingOrder(fields, foot) {
  const [first] = branchesOf(foot);
  const rank = (field) => (!/^(medial|lateral)_/.test(field.place ?? "") ? 0 : field.place.startsWith(first) ? 1 : 2);
  const part = (field) => (field.place ?? "").split("_")[1] ?? "";
  const parts = [...new Set(fields.map(part))];
  return [...fields].sort((one, other) => parts.indexOf(part(one)) - parts.indexOf(part(other)) || rank(one) - rank(other));
}
