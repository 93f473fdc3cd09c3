/** The nails: which holes have one, where each comes out, how it drove, how its clinch lies. */

import { el } from "../dom.js";
import { t } from "../messages.js";
import { quantity, wordsOf } from "../rulebook.js";
import { signFor } from "../drawings/signs.js";
import { sideOf } from "../drawings/below.js";
import { nailsOf } from "../sheets.js";
import { keyOf, NAIL_SIGNS, pathOf } from "../steps.js";
import { choice } from "./choice.js";
import { placeName, wordFor } from "./field.js";
import { number } from "./number.js";

const HOLES = [1, 2, 3, 4, 5, 6];

/** The two branches in the order in which they lie on the drawing. */
export function branchesOf(foot) {
  return sideOf("medial", foot) < 0 ? ["medial", "lateral"] : ["lateral", "medial"];
}

/** Which holes have a nail: a count by steppers, each hole by a tap. */
function holePicker(sheet, onHoles) {
  return branchesOf(sheet.answers.foot).map((branch) => {
    const used = sheet.holes[branch];
    const set = (holes) => onHoles(branch, [...holes].sort((one, other) => one - other));
    const free = HOLES.find((hole) => !used.includes(hole));
    return el(
      "fieldset",
      { class: "holes" },
      el("legend", { class: "label" }, t("nails.in_branch", { side: t(`side.${branch}.short`), trade: t(`side.${branch}.trade`) })),
      el(
        "div",
        { class: "count" },
        el("button", { type: "button", class: "nudge", id: `fewer-${branch}`, "aria-label": t("nails.fewer", { side: t(`side.${branch}.short`) }), on: { click: () => set(used.slice(0, -1)) } }, "−"),
        el("output", { class: "figure", "aria-live": "off" }, String(used.length)),
        el("button", { type: "button", class: "nudge", id: `more-${branch}`, "aria-label": t("nails.more", { side: t(`side.${branch}.short`) }), on: { click: () => set(free ? [...used, free] : used) } }, "+"),
      ),
      el(
        "div",
        { class: "hole-row" },
        HOLES.map((hole) =>
          el(
            "button",
            {
              type: "button",
              class: "hole-button",
              id: `hole-${branch}-${hole}`,
              "aria-pressed": String(used.includes(hole)),
              "aria-label": t("nails.hole", { side: t(`side.${branch}.short`), hole }),
              on: { click: () => set(used.includes(hole) ? used.filter((each) => each !== hole) : [...used, hole]) },
            },
            String(hole),
          ),
        ),
      ),
    );
  });
}

function byBranch(sheet, row) {
  const nails = nailsOf(sheet);
  if (!nails.length) return el("p", { class: "note" }, t("nails.none_yet"));
  return branchesOf(sheet.answers.foot).map((branch) => {
    const here = nails.filter((nail) => nail.branch === branch);
    return here.length
      ? el("section", { class: "branch" }, el("h2", {}, t(`side.${branch}.short`), el("span", { class: "trade" }, t(`side.${branch}.trade`))), here.map(row))
      : null;
  });
}

/** Number of nails, then the height of each exit. */
export function exits({ sheet, question, change, onHoles }) {
  const [key] = question.keys;
  return [
    holePicker(sheet, onHoles),
    byBranch(sheet, ({ branch, hole, at }) =>
      number({
        sheet,
        at: `${at}.${key}`,
        label: placeName(`nail:${branch}:${hole}`),
        question: { ...question, start: startFor(sheet, key, branch, hole, question.start) },
        onChange: (value) => change(`${at}.${key}`, value, false),
      }),
    ),
  ];
}

/** The first tap begins where the nail in front of it came out. */
function startFor(sheet, key, branch, hole, otherwise) {
  const before = [...sheet.holes[branch]].sort((one, other) => other - one).find((each) => each < hole);
  const typed = before && sheet.answers[`nail:${branch}:${before}.${key}`];
  const value = typed?.unit === "mm" ? Number(typed.n) : NaN;
  return Number.isFinite(value) ? value : otherwise;
}

/** How each nail drove and how the horse took it; all good in one tap. */
export function signs({ sheet, question, changeMany, clinchesToo, redo }) {
  const all = (withClinch) =>
    changeMany(
      nailsOf(sheet).flatMap(({ at }) => [
        ...NAIL_SIGNS.map(({ quantity: name, good }) => [`${at}.${keyOf(name)}`, good]),
        ...(withClinch ? [[`${at}.${keyOf("clinch")}`, "flush"]] : []),
      ]),
    );
  if (!nailsOf(sheet).length) return el("p", { class: "note" }, t("nails.none_yet"));
  return [
    el("div", { class: "quick" },
      el("button", { type: "button", id: "all-firm", class: "wide", on: { click: () => all(false) } }, t("nails.all_firm")),
      clinchesToo ? el("button", { type: "button", id: "all-firm-flush", class: "wide", on: { click: () => all(true) } }, t("nails.all_firm_flush")) : null,
    ),
    byBranch(sheet, ({ branch, hole, at }) =>
      folded(sheet, at, placeName(`nail:${branch}:${hole}`), question.keys, () =>
        NAIL_SIGNS.map(({ quantity: name, good }) =>
          choice({
            sheet,
            at: `${at}.${keyOf(name)}`,
            label: t(`nail.${name}`),
            layout: "abreast",
            options: (typeof good === "boolean" ? [false, true] : wordsOf(name).map(({ word }) => word)).map((value) => ({
              value,
              label: wordFor(name, value),
            })),
            onChange: redo(`${at}.${keyOf(name)}`),
          }),
        ),
      ),
    ),
    el("p", { class: "how" }, NAIL_SIGNS.map(({ quantity: name }) => `${quantity(name)?.how ?? ""} `)),
  ];
}

/** The clinch of each nail; all flush in one tap. */
export function clinches({ sheet, question, changeMany, redo }) {
  const [key] = question.keys;
  if (!nailsOf(sheet).length) return el("p", { class: "note" }, t("nails.none_yet"));
  return [
    el("div", { class: "quick" },
      el("button", { type: "button", id: "all-flush", class: "wide", on: { click: () => changeMany(nailsOf(sheet).map(({ at }) => [`${at}.${key}`, "flush"])) } }, t("nails.all_flush")),
    ),
    byBranch(sheet, ({ branch, hole, at }) =>
      folded(sheet, at, placeName(`nail:${branch}:${hole}`), question.keys, () =>
        choice({
          sheet,
          at: `${at}.${key}`,
          label: t("nail.clinch"),
          quiet: true,
          layout: "grid",
          options: wordsOf("clinch").map(({ word }) => ({ value: word, label: wordFor("clinch", word), sign: signFor("clinch", word) })),
          onChange: redo(`${at}.${key}`),
        }),
      ),
    ),
  ];
}

/** Where each nail stands: how far back, how far in, how high the wall is there. */
export function nailPlaces({ sheet, question, change }) {
  const [back, inset, height] = question.keys;
  const length = pathOf("shoe_length");
  const ask = (at, key, start, step) =>
    number({ sheet, at: `${at}.${key}`, label: t(`nail.${key}`), question: { start, step }, onChange: (value) => change(`${at}.${key}`, value, false) });
  if (!nailsOf(sheet).length) return el("p", { class: "note" }, t("nails.none_yet"));
  return [
    number({ sheet, at: length, label: t("question.shoe_length"), question: { start: 160, step: 1 }, onChange: (value) => change(length, value, false) }),
    el("p", { class: "note" }, t("nails.back_needs_length")),
    byBranch(sheet, ({ branch, hole, at }) =>
      folded(sheet, at, placeName(`nail:${branch}:${hole}`), question.keys, () => [
        ask(at, back, Math.round(20 * hole), 1),
        ask(at, inset, 9, 0.5),
        ask(at, height, 80, 1),
      ]),
    ),
  ];
}

/** One nail, folded away behind what is known of it. */
function folded(sheet, at, name, keys, inside) {
  const said = keys
    .map((key) => [key, sheet.answers[`${at}.${key}`]])
    .filter(([, value]) => value !== undefined)
    .map(([key, value]) => (typeof value === "object" ? `${value.n} ${value.unit}` : wordFor(key, value)));
  const wrong = (sheet.problem?.errors ?? []).some((error) => error.at?.startsWith(`${at}.`));
  return el(
    "details",
    { class: `nail-fold${wrong ? " wrong" : ""}`, id: `fold-${at}`, open: wrong },
    el("summary", {}, el("span", {}, name), el("span", { class: said.length ? "said" : "said none" }, said.join(", ") || t("not_looked_at"))),
    inside(),
  );
}
