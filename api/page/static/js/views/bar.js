/** The bar on top: which foot, and the way back to the four feet. */

import { button, el } from "../dom.js";
import { t } from "../messages.js";

/** What a fitting is of, in a few words. */
export function footWords(answers) {
  return answers.foot ? t(`foot.${answers.foot}`) : t("foot.none");
}

/** The bar of a foot that is looked at. */
export function footBar(sheet, page) {
  return el(
    "header",
    { class: "top" },
    el(
      "div",
      { class: "top-row" },
      el("h1", { tabindex: "-1", id: "heading" }, footWords(sheet.answers), sheet.answers["horse.id"] ? el("bdi", { class: "top-stage" }, sheet.answers["horse.id"]) : null),
      button(t("nav.feet"), () => page.go("start"), { class: "top-all", id: "to-start" }),
    ),
  );
}

/** The bar of a page that is no foot. */
export function plainBar(page, title, back = ["start", "nav.feet"]) {
  return el(
    "header",
    { class: "top" },
    el("div", { class: "top-row" }, el("h1", { tabindex: "-1", id: "heading" }, title), button(t(back[1]), () => page.go(back[0]), { class: "top-all", id: `to-${back[0]}` })),
  );
}
