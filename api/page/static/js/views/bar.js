/** The bar on top: which foot, how far the work has come, and the way to all questions. */

import { el } from "../dom.js";
import { t } from "../messages.js";

/** What a fitting is of, in a few words. */
export function footWords(answers) {
  return answers.foot ? t(`foot.${answers.foot}`) : t("foot.none");
}

/** @param {{sheet: object, page: object, place: number, count: number}} of */
export function topBar({ sheet, page, place, count }) {
  const { stage } = sheet.answers;
  return el(
    "header",
    { class: "top" },
    el(
      "div",
      { class: "top-row" },
      el("p", { class: "top-foot" }, footWords(sheet.answers), stage ? el("span", { class: "top-stage" }, t(`stage.${stage}`)) : null),
      el(
        "button",
        { type: "button", class: "top-all", id: "to-all", on: { click: () => page.go("review") } },
        t("bar.progress", { place: place + 1, count }),
        el("span", { class: "top-hint" }, t("bar.all")),
      ),
    ),
    el("progress", { max: count, value: place + 1, "aria-label": t("bar.progress_label") }),
  );
}

/** The bar of a page that is no question. */
export function plainBar(page, title) {
  return el(
    "header",
    { class: "top" },
    el(
      "div",
      { class: "top-row" },
      el("h1", { tabindex: "-1", id: "heading" }, title),
      el("button", { type: "button", class: "top-all", id: "to-start", on: { click: () => page.go("start") } }, t("nav.start")),
    ),
  );
}
