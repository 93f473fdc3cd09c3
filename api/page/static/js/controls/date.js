/** A day. */

import { el } from "../dom.js";
import { t } from "../messages.js";
import { faults, faulty } from "./field.js";

/** @param {{sheet: object, at: string, label: string, onChange: (value: string|undefined) => void}} of */
export function day({ sheet, at, label, onChange }) {
  const input = el("input", {
    type: "date",
    id: `day-${at}`,
    value: sheet.answers[at] ?? "",
    "data-at": at,
    ...faulty(sheet, at),
    on: { change: () => onChange(input.value || undefined) },
  });
  const today = () => {
    const now = new Date();
    const local = new Date(now.getTime() - now.getTimezoneOffset() * 60_000);
    input.value = local.toISOString().slice(0, 10);
    onChange(input.value);
  };
  return el(
    "div",
    { class: "question" },
    el("label", { class: "label", for: `day-${at}` }, label),
    el(
      "div",
      { class: "day" },
      input,
      at.endsWith("fitted") ? el("button", { type: "button", on: { click: today } }, t("day.today")) : null,
    ),
    faults(sheet, at),
  );
}
