/** What is known of the foot and its record: form, stance, work, nails, clip, days, persons, notes. */

import { button, el } from "../dom.js";
import { t, tn } from "../messages.js";
import { sideOf } from "../drawings/map.js";
import { faults, faulty, placeName } from "../controls/field.js";
import { DAYS, HAS_CLIP, RECORD_FIELDS } from "../fitting-fields.js";
import { clipsOf } from "../foot/listed.js";
import { CLIP_PLACES } from "../lists.js";
import { SITUATION } from "../observables.js";
import { rulebook } from "../rulebook.js";
import { answer, save } from "../sheets.js";
import { footWords, plainBar } from "./bar.js";
import { choices } from "./foot.js";

const HOLES = [1, 2, 3, 4, 5, 6];
const COUNTS = [6, 7, 8];

/** @param {import("../sheets.js").Sheet} sheet @param {object} page */
export function aboutView(sheet, page) {
  const { judges } = rulebook();
  const stances = SITUATION.stance.filter((word) => judges.stances.includes(word));
  return [
    plainBar(page, t("about.title", { foot: footWords(sheet.answers) }), ["foot", "nav.foot"]),
    el(
      "main",
      { class: "about" },
      choices("work", SITUATION.work, sheet, page),
      choices("hoof_form", SITUATION.hoof_form.filter((word) => judges.hoof_forms.includes(word)), sheet, page),
      stances.length > 1 ? choices("stance", stances, sheet, page) : null,
      choices("hot_fitted", SITUATION.hot_fitted, sheet, page),
      clips(sheet, page),
      nails(sheet, page),
      DAYS.map((path) => day(sheet, path, page)),
      el("h2", {}, t("review.record")),
      el("p", { class: "note" }, t("review.record_note")),
      RECORD_FIELDS.map((path) => (path === "person.role" ? choices(path, ["apprentice", "farrier"], sheet, page) : text(sheet, path, page))),
      button(t("nav.foot"), () => page.go("foot"), { class: "wide", id: "about-done" }),
    ),
  ];
}

/** Where there are clips, or that there are none. */
function clips(sheet, page) {
  const places = clipsOf(sheet);
  const say = (next) => {
    if (!answer(sheet, HAS_CLIP, next)) page.warnFull();
    page.redraw();
  };
  const turn = (place) => (places?.includes(place) ? places.filter((each) => each !== place) : [...(places ?? []), place]);
  const choice = (id, name, chosen, next) => button(name, () => say(next()), { class: "word", id: `clips-${id}`, "aria-pressed": String(chosen) });
  return el(
    "div",
    { class: "situation", role: "group", "aria-label": t("about.clips") },
    el("p", { class: "label" }, t("about.clips")),
    el("div", { class: "words" }, choice("none", t("about.no_clips"), places?.length === 0, () => []), CLIP_PLACES.map((place) => choice(place, placeName(place), places?.includes(place) ?? false, () => turn(place)))),
  );
}

/** Which holes have a nail: a usual number in one tap, each hole by itself. */
function nails(sheet, page) {
  const keep = () => {
    if (!save(sheet)) page.warnFull();
    page.redraw();
  };
  const set = (count) => {
    sheet.holes = { medial: HOLES.slice(0, Math.floor(count / 2)), lateral: HOLES.slice(0, Math.ceil(count / 2)) };
    keep();
  };
  const turn = (branch, hole) => {
    const used = sheet.holes[branch];
    sheet.holes[branch] = used.includes(hole) ? used.filter((each) => each !== hole) : [...used, hole].sort((one, other) => one - other);
    keep();
  };
  const count = sheet.holes.medial.length + sheet.holes.lateral.length;
  const branches = sideOf("medial", sheet.answers.foot) < 0 ? ["medial", "lateral"] : ["lateral", "medial"];
  return el(
    "section",
    { "aria-labelledby": "nails-title" },
    el("h2", { id: "nails-title" }, t("about.nails")),
    el("div", { class: "words" }, COUNTS.map((each) => button(tn("foot.nails", each), () => set(each), { class: "word", id: `nails-${each}`, "aria-pressed": String(count === each) }))),
    branches.map((branch) =>
      el(
        "div",
        { role: "group", "aria-label": t(`side.${branch}.short`) },
        el("p", { class: "label" }, t(`side.${branch}.short`), el("span", { class: "trade" }, t(`side.${branch}.trade`))),
        el("div", { class: "words" }, HOLES.map((hole) => button(String(hole), () => turn(branch, hole), { class: "word hole", id: `hole-${branch}-${hole}`, "aria-pressed": String(sheet.holes[branch].includes(hole)), "aria-label": t("nails.hole", { side: t(`side.${branch}.short`), hole }) }))),
      ),
    ),
  );
}

function keepText(sheet, path, value, page) {
  if (!answer(sheet, path, value || undefined)) page.warnFull();
}

function day(sheet, path, page) {
  const name = path.split(".").at(-1);
  const input = el("input", { type: "date", id: `day-${path}`, value: sheet.answers[path] ?? "", ...faulty(sheet, path), on: { change: () => keepText(sheet, path, input.value, page) } });
  const today = () => {
    const now = new Date();
    input.value = new Date(now.getTime() - now.getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
    keepText(sheet, path, input.value, page);
  };
  return el(
    "div",
    { class: "question" },
    el("label", { class: "label", for: `day-${path}` }, t(`question.${name}`)),
    el("div", { class: "day" }, input, name === "fitted" ? button(t("day.today"), today, { id: "today" }) : null),
    faults(sheet, path),
  );
}

function text(sheet, path, page) {
  const long = path === "notes";
  const input = el(long ? "textarea" : "input", {
    id: `text-${path}`,
    autocomplete: "off",
    ...(long ? { rows: 3, maxlength: 2000 } : { type: "text", autocapitalize: "characters", spellcheck: "false" }),
    ...faulty(sheet, path),
    on: { input: () => keepText(sheet, path, input.value, page) },
  });
  input.value = sheet.answers[path] ?? "";
  return el("div", { class: "question" }, el("label", { class: "label", for: `text-${path}` }, t(`record.${path}`)), input, faults(sheet, path));
}
