/** One of several words, by one tap; tapped again it is taken back. */

import { el } from "../dom.js";
import { faults, faulty } from "./field.js";

/**
 * @param {object} of
 * @param {import("../sheets.js").Sheet} of.sheet
 * @param {string} of.at  the answer's name
 * @param {string} of.label
 * @param {boolean} [of.quiet]  the label is for those who listen only
 * @param {{value: unknown, label: string, hint?: string|null, sign?: Element|null}[]} of.options
 * @param {(value: unknown) => void} of.onChange  undefined where it was taken back
 * @param {string} [of.layout]  class that lays the buttons out
 */
export function choice({ sheet, at, label, quiet, options, onChange, layout = "column" }) {
  const now = sheet.answers[at];
  const name = `label-${at}`;
  return el(
    "div",
    { class: "question", role: "group", "aria-labelledby": name, ...faulty(sheet, at) , "aria-invalid": null },
    el("p", { id: name, class: quiet ? "unseen" : "label" }, label),
    el(
      "div",
      { class: `choices ${layout}` },
      options.map((option) => {
        const chosen = option.value === now;
        return el(
          "button",
          {
            type: "button",
            class: "choice",
            id: `pick-${at}-${option.value}`,
            "aria-pressed": String(chosen),
            "data-at": at,
            "data-value": String(option.value),
            on: { click: () => onChange(chosen ? undefined : option.value) },
          },
          option.sign,
          el("span", { class: "choice-word" }, option.label),
          option.hint ? el("span", { class: "hint" }, option.hint) : null,
        );
      }),
    ),
    faults(sheet, at),
  );
}
