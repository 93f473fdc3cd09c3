/** A number with steppers on both sides; typed as a decimal or as a workshop fraction. */

import { el } from "../dom.js";
import { digits, t } from "../messages.js";
import { numberOf, stepped } from "../reading.js";
import { settings } from "../settings.js";
import { faults, faulty } from "./field.js";

const NAMES = { mm: "unit.mm", in: "unit.in", s: "unit.s", deg: "unit.deg", "%": "unit.percent" };

/**
 * @param {object} of
 * @param {import("../sheets.js").Sheet} of.sheet
 * @param {string} of.at
 * @param {string} of.label
 * @param {{unit?: string, step?: number, start?: number}} of.question
 * @param {(value: {n: string, unit: string}|undefined) => void} of.onChange
 */
export function number({ sheet, at, label, question, onChange }) {
  const { step = 0.5, start = 0 } = question;
  const unit = (question.unit ?? "mm") === "mm" ? settings().unit : question.unit;
  const given = () => (isNumber(sheet.answers[at]) ? sheet.answers[at] : undefined);
  const shown = given()?.unit ?? unit;
  const id = `number-${at}`;
  const input = el("input", {
    id,
    type: "text",
    inputmode: shown === "in" ? "text" : "decimal",
    autocomplete: "off",
    enterkeyhint: "done",
    placeholder: "–",
    value: digits(given()?.n ?? ""),
    "data-at": at,
    ...faulty(sheet, at),
    on: {
      input: () => {
        set(input.value.trim() === "" ? undefined : { n: input.value.trim(), unit });
      },
    },
  });
  const suffix = el("span", { class: "unit", "aria-hidden": "true" }, t(NAMES[shown]));
  const odd = el("p", { class: "odd", hidden: true }, t("number.odd"));

  function set(value) {
    onChange(value);
    const now = given()?.unit ?? unit;
    suffix.textContent = t(NAMES[now]);
    odd.hidden = value === undefined || numberOf(value.n) !== null;
  }

  function nudge(way) {
    const next = stepped(given(), { unit, step, start }, way);
    input.value = digits(next.n);
    set(next);
  }

  const stepper = (way, sign, name) =>
    el(
      "button",
      { type: "button", class: "nudge", "aria-label": t(name, { label }), "data-step": way, "data-at": at, on: { click: () => nudge(way) } },
      sign,
    );
  return el(
    "div",
    { class: "question number" },
    el("label", { for: id, class: "label" }, label, el("span", { class: "unseen" }, ` (${t(NAMES[shown])})`)),
    el("div", { class: "stepper" }, stepper(-1, "−", "number.less"), el("span", { class: "figure" }, input, suffix), stepper(1, "+", "number.more")),
    odd,
    faults(sheet, at),
  );
}

/** Whether an answer is a typed number. */
export function isNumber(value) {
  return typeof value === "object" && value !== null && "n" in value;
}
