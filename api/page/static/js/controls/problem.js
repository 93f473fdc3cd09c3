/** What the service says is wrong, in the language of the page: its own words are English, and are quoted as such. */

import { has, languageInUse, t } from "../messages.js";

/** A problem as a whole: by its status, then in the service's own words. */
export function problemText({ status, detail }) {
  if (languageInUse() === "en" && detail) return detail;
  return `${t(has(`problem.${status}`) ? `problem.${status}` : status >= 500 ? "problem.500" : "problem.400")} ${quoted(detail)}`.trim();
}

/** What is wrong with one field that has no range. */
export function faultDetail({ detail, allowed }) {
  if (languageInUse() === "en") return `${detail} ${t("fault.allowed", { allowed })}`;
  return `${t("fault.not_taken")} ${quoted(`${detail} Allowed: ${allowed}.`)}`;
}

function quoted(detail) {
  return detail ? t("fault.in_english", { detail }) : "";
}
