/** Unit, language, access key, and what is kept on this telephone. */

import { el } from "../dom.js";
import { languageInUse, t } from "../messages.js";
import { accessKey, change, keyIsKept, settings, useKey } from "../settings.js";
import { plainBar } from "./bar.js";

/** @param {object} page @param {string[]} languages */
export function settingsView(page, languages) {
  const keyField = el("input", { id: "key", type: "password", autocomplete: "off", spellcheck: "false", autocapitalize: "none", value: accessKey() ?? "" });
  const keep = el("input", { id: "keep-key", type: "checkbox", checked: keyIsKept() });
  const save = () => {
    useKey(keyField.value.trim(), keep.checked);
    page.retry();
  };
  return [
    plainBar(page, t("settings.title")),
    el(
      "main",
      { class: "settings" },
      el("h2", {}, t("settings.unit")),
      el("div", { class: "words", role: "group", "aria-label": t("settings.unit") },
        ["mm", "in"].map((unit) =>
          el("button", { type: "button", class: "word", id: `setting-${unit}`, "aria-pressed": String(settings().unit === unit), on: { click: () => { change({ unit }); page.redraw(); } } }, t(`unit.${unit}.long`)),
        ),
      ),
      languages.length > 1
        ? [el("h2", {}, t("settings.language")), el("div", { class: "words", role: "group", "aria-label": t("settings.language") },
            languages.map((language) => el("button", { type: "button", class: "word", lang: language, "aria-pressed": String(languageInUse() === language), on: { click: () => page.speak(language) } }, new Intl.DisplayNames([language], { type: "language" }).of(language))))]
        : null,
      el("h2", {}, t("settings.key")),
      el("p", { class: "note" }, t("settings.key_note")),
      el("div", { class: "question" }, el("label", { class: "label", for: "key" }, t("settings.key_label")), keyField),
      el("label", { class: "check", for: "keep-key" }, keep, el("span", {}, t("settings.keep_key"))),
      el("button", { type: "button", class: "wide", id: "use-key", on: { click: save } }, t("settings.use_key")),
      el("p", { id: "key-said", class: "note" }, page.keyState()),
      el("h2", {}, t("settings.kept")),
      el("p", { class: "note" }, t("settings.kept_note")),
    ),
  ];
}
