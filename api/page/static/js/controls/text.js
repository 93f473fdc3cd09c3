/** A short text, such as the yard's own name for a horse. */

import { el } from "../dom.js";
import { faults, faulty } from "./field.js";

/** @param {{sheet: object, at: string, label: string, long?: boolean, onChange: (value: string|undefined) => void}} of */
export function text({ sheet, at, label, long, onChange }) {
  const input = el(long ? "textarea" : "input", {
    id: `text-${at}`,
    "data-at": at,
    autocomplete: "off",
    ...(long ? { rows: 3, maxlength: 2000 } : { type: "text", autocapitalize: "characters", spellcheck: "false" }),
    ...faulty(sheet, at),
    on: { input: () => onChange(input.value === "" ? undefined : input.value) },
  });
  input.value = sheet.answers[at] ?? "";
  return el("div", { class: "question" }, el("label", { class: "label", for: `text-${at}` }, label), input, faults(sheet, at));
}
