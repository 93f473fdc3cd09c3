/** One foot, one screen: the drawing with its places, the groups that belong together, and the sheet from below. */

import { announce, button, el } from "../dom.js";
import { moment, t, tn } from "../messages.js";
import { faultText, placeName, wordFor } from "../controls/field.js";
import { faultDetail, problemText } from "../controls/problem.js";
import { signFor } from "../drawings/signs.js";
import { footMap, isOnMap } from "../drawings/map.js";
import { fittingOf } from "../fitting.js";
import { inOrder, PLAIN } from "../foot/groups.js";
import { saidBefore, saidOf, sayAsBefore } from "../foot/good.js";
import { clipsOf } from "../foot/listed.js";
import { clusterOf, questionsOf } from "../foot/questions.js";
import { carryTo, horseAtHand, knownOf, lookAt, takeOffered } from "../horses.js";
import { firstLook } from "../look/first.js";
import { stillNeeded } from "../look/needed.js";
import { carriedIn, withStanding } from "../look/standing.js";
import { enqueue } from "../queue.js";
import { SITUATION } from "../observables.js";
import { quantity, requiredAt, rulebook, situationOf } from "../rulebook.js";
import { answer, discard, nailsOf, open, save } from "../sheets.js";
import { footBar } from "./bar.js";
import { groupRow, isOff, knownWords, plainRow } from "./groups.js";
import { groupTitle, labelOf, panelView, saidWords } from "./panel.js";

const SHOE_THICKNESS = "shoe_thickness";
const USUAL_MM = [8, 9, 10, 11, 12, 13];
let panel = null;
let typing = null;
/** What the sheet from below was opened by. */
let opener = null;
/** Hears the way back of a telephone, where the browser has it: first the sheet closes, then the foot. */
let watcher = null;

/** Close the sheet from below; the name of what it was opened by, null where none was open. */
export function closePanel() {
  const from = panel === null ? null : opener ?? "heading";
  watcher?.destroy();
  [panel, typing, opener, watcher] = [null, null, null, null];
  return from;
}

/** Bring it into sight, where large text or a low screen leaves no room for it to stay below. */
function showPanel() {
  const shown = document.getElementById("panel");
  if (shown && getComputedStyle(shown).position === "static") shown.scrollIntoView({ block: "start", behavior: "instant" });
}

function watchClose(close) {
  watcher?.destroy();
  watcher = "CloseWatcher" in window ? new CloseWatcher() : null;
  watcher?.addEventListener("close", close);
}

/** Show the page again where the sheet from below was opened. */
export function showOpener(id) {
  document.getElementById(id)?.scrollIntoView({ block: "nearest", behavior: "instant" });
}

/** Open the sheet from below at what was asked. */
export function openAt(name, sheet) {
  const question = questionsOf(sheet).find(({ at }) => at === name);
  panel = !question ? null : question.place === "foot" ? `group:${question.group}` : `cluster:${clusterOf(question.place)}`;
}

/** @param {import("../sheets.js").Sheet} sheet @param {object} page */
export function footView(sheet, page) {
  const said = saidOf(sheet);
  const questions = questionsOf(sheet);
  const fitting = fittingOf(sheet);
  const whole = withStanding(fitting, sheet.before?.holes ? fittingOf({ ...sheet.before, before: null }) : null, sheet.before?.carried ?? []);
  const needed = stillNeeded(whole);
  const acts = actsOf(sheet, page, carriedIn(fitting, whole));
  const wrong = new Set(firstLook(fitting).findings.map(({ place }) => place));
  const groups = neededFirst(inOrder(new Set(questions.map(({ group }) => group))), questions, sheet);
  const asksWork = sheet.answers.work === undefined && !sheet.offered;
  return [
    footBar(sheet, page),
    el(
      "main",
      { class: panel ? "foot under-panel" : "foot", "data-foot": sheet.answers.foot, "data-stage": sheet.answers.stage },
      sheet.problem ? problemCard(sheet, acts) : null,
      isOfAnotherDay(sheet) ? begunEarlier(sheet, page) : null,
      sheet.before ? beforeLine(sheet, acts) : null,
      sheet.offered ? offer(sheet, page) : null,
      stages(sheet, page),
      asksWork ? choices("work", SITUATION.work, sheet, page) : null,
      footMap(sheet.answers, placesOf(sheet, questions, said, { needed, wrong, isCarried: acts.isCarried }), clipsOf(sheet) ?? [], (place) => acts.place(place)),
      el("ul", { class: "groups" }, groups.filter((group) => !PLAIN.includes(group)).map((group) => groupRow(group, questions, said, sheet, needed, acts))),
      el("ul", { class: "groups plain" }, groups.filter((group) => PLAIN.includes(group)).map((group) => plainRow(group, questions, said, needed, acts))),
      button([t("foot.about"), lacksNails(sheet, needed) ? el("span", { class: "need" }, t("step.needed")) : null], () => page.go("about"), { class: "wide", id: "to-about" }),
      button(t("step.trace"), () => page.go("trace"), { class: "wide", id: "to-trace" }),
    ),
    panel ? panelView({ panel, typing, sheet, acts }) : null,
    el(
      "nav",
      { class: "thumb", "aria-label": t("nav.main") },
      el("p", { class: "lacking", id: "lacking" }, needed.length ? tn("foot.lacking", needed.length) : t("foot.all_needed")),
      button(t(asksWork ? "foot.first_work" : "review.send"), () => send(sheet, page, asksWork), { class: "onward", id: "send" }),
    ),
  ];
}

/** Whether something is needed of nails or holes, and it was not yet said which there are. */
function lacksNails(sheet, needed) {
  return !nailsOf(sheet).length && needed.some(({ place }) => place === "nail");
}

/** Groups of what this stage requires before the others. */
function neededFirst(groups, questions, sheet) {
  const required = new Set(requiredAt(situationOf(sheet.answers)).map(({ id }) => id));
  const isNeeded = (group) => questions.some((question) => question.group === group && required.has(quantity(question.quantity)?.criterion));
  return [...groups.filter(isNeeded), ...groups.filter((group) => !isNeeded(group))];
}

function send(sheet, page, asksWork) {
  if (asksWork) {
    document.getElementById("pick-work-riding")?.focus();
    announce(t("foot.first_work"));
    return;
  }
  closePanel();
  if (enqueue(sheet)) page.sendNow(sheet.id);
  else page.warnFull();
}

function actsOf(sheet, page, isCarried) {
  const keep = (done) => {
    if (!done) page.warnFull();
    page.redraw();
  };
  return {
    say(question, value, { quiet = false } = {}) {
      const done = answer(sheet, question.at, value);
      if (quiet && done) page.refresh();
      else keep(done);
    },
    good(group, fromPanel = false) {
      sheet.good[group] = new Date().toISOString();
      const from = fromPanel ? closePanel() : null;
      keep(save(sheet));
      if (from) showOpener(from);
      announce(t("foot.good_said", { group: groupTitle(group) }));
    },
    notGood(group) {
      delete sheet.good[group];
      keep(save(sheet));
    },
    asBefore(group) {
      sayAsBefore(group, sheet);
      keep(save(sheet));
    },
    place(place) {
      [panel, typing, opener] = [`cluster:${clusterOf(place)}`, null, `place-${place}`];
      watchClose(this.close);
      page.redraw("panel-title");
      showOpener(opener);
      showPanel();
    },
    group(group) {
      [panel, typing, opener] = [`group:${group}`, null, `group-${group}`];
      watchClose(this.close);
      page.redraw("panel-title");
      showPanel();
    },
    type(at) {
      const from = typing;
      typing = at;
      page.redraw(at ? "keypad-next" : from ? `number-${from}` : null);
      if (at) showPanel();
      else if (from) showOpener(`number-${from}`);
    },
    close() {
      const from = closePanel();
      page.redraw(from);
      if (from) showOpener(from);
    },
    chips: (question) => chipsOf(question),
    then: saidBefore(sheet),
    isCarried,
  };
}

/** What the shoe's thickness was on this horse's feet, then what is usual. */
function chipsOf(question) {
  if (question.quantity !== SHOE_THICKNESS) return [];
  const feet = Object.values(knownOf(horseAtHand())?.feet ?? {});
  const known = feet.map(({ answers }) => answers[question.at]).filter((value) => typeof value === "object");
  const all = [...known, ...USUAL_MM.map((mm) => ({ n: String(mm), unit: "mm" }))];
  return all.filter((value, index) => all.findIndex(({ n, unit }) => n === value.n && unit === value.unit) === index).slice(0, USUAL_MM.length);
}

function placesOf(sheet, questions, said, { needed, wrong, isCarried }) {
  const places = [...new Set(questions.map(({ place }) => place))].filter((place) => place !== "foot" && isOnMap(place));
  for (const { at } of nailsOf(sheet)) if (questions.some(({ place }) => place === at) && !places.includes(at)) places.push(at);
  const found = new Set((sheet.before?.found ?? []).map(({ place }) => place));
  const lacking = new Set(needed.map(({ place }) => place));
  return places.map((place) => {
    const here = questions.filter((question) => question.place === place);
    const own = here.filter(({ at }) => sheet.answers[at] !== undefined);
    const known = here.filter(({ at }) => said.has(at));
    const off = own.filter((question) => isOff(question, sheet));
    const stands = here.some(isCarried);
    const state = off.length || wrong.has(place) ? "off" : known.length && !lacking.has(place) ? "said" : known.length ? "part" : found.has(place) ? "found" : stands ? "part" : "blank";
    const words = own.map((question) => saidWords(question, sheet.answers[question.at]));
    const spoken = words.length ? words.join(", ") : known.length ? t("foot.good") : t(stands ? "foot.carried" : "not_looked_at");
    const nail = place.startsWith("nail:") ? place.split(":")[2] : "";
    const mark = state === "off" ? `${nail}!` : state === "said" ? `${nail}✓` : nail || "·";
    return { place, state, mark, name: `${placeName(place)}: ${spoken}` };
  });
}

function isOfAnotherDay({ begun }) {
  return new Date(begun).toDateString() !== new Date().toDateString();
}

/** A foot that was begun on another day and never sent: what was said then is no look of today. */
function begunEarlier(sheet, page) {
  const anew = () => {
    if (!confirm(t("queue.away_sure"))) return;
    discard(sheet.id);
    open(lookAt(sheet.answers.foot).id);
    page.show();
  };
  return el("div", { class: "again", id: "begun-earlier" }, el("p", {}, t("foot.begun_on", { day: moment(sheet.begun) })), button(t("foot.anew"), anew, { class: "wide", id: "anew" }));
}

/** What was so at the last visit, offered in one line. */
function offer(sheet, page) {
  const { answers, holes, own } = sheet.offered;
  const words = knownWords({ ...answers, ...sheet.answers }, holes);
  const take = () => {
    takeOffered(sheet);
    if (!save(sheet)) page.warnFull();
    page.redraw();
  };
  return el("div", { class: "offer" }, el("p", {}, t(own ? "foot.last_time" : "foot.other_side"), " ", words.join(", ")), button(t(own ? "foot.is_so" : "foot.same_here"), take, { class: "wide", id: "is-so" }));
}

/** The look before this one: where to look first. */
function beforeLine(sheet, acts) {
  const places = [...new Set(sheet.before.found.map(({ place }) => place))];
  if (!places.length) return null;
  return el("div", { class: "again" }, el("p", { class: "label" }, t("foot.look_first")), el("div", { class: "words" }, places.map((place) => button(placeName(place), () => (isOnMap(place) ? acts.place(place) : acts.group(firstGroup(place, sheet))), { class: "word", id: `again-${place}` }))));
}

function firstGroup(place, sheet) {
  const measured = sheet.before.found.filter((each) => each.place === place).map(({ quantity }) => quantity);
  const questions = questionsOf(sheet);
  return (questions.find(({ quantity, place: at }) => at === place && measured.includes(quantity)) ?? questions[0])?.group;
}

function stages(sheet, page) {
  const judged = SITUATION.stage.filter((stage) => rulebook().judges.stages.includes(stage));
  return choices("stage", judged, sheet, page);
}

/** A row of words of the situation. */
export function choices(path, words, sheet, page) {
  const say = (word) => {
    const value = word === "yes" ? true : word === "no" ? false : word;
    closePanel();
    sheet.answers[path] = value;
    if (path === "stage") carryTo(sheet);
    if (!answer(sheet, path, value)) page.warnFull();
    page.redraw();
  };
  return el(
    "div",
    { class: "situation", role: "group", "aria-label": t(`question.${path}`) },
    el("p", { class: "label" }, t(`question.${path}`)),
    el("div", { class: "words" }, words.map((word) => button([signFor(path, word), wordFor(path, word)], () => say(word), { class: "word", id: `pick-${path}-${word}`, "aria-pressed": String(sheet.answers[path] === (word === "yes" ? true : word === "no" ? false : word)) }))),
  );
}

function faultWords(error, sheet) {
  const question = questionsOf(sheet).find(({ at }) => at === error.at);
  return question ? `${labelOf(question)}: ${faultText(error, question.quantity)}` : faultDetail(error);
}

function problemCard(sheet, acts) {
  const { errors } = sheet.problem;
  return el(
    "div",
    { class: "refused", role: "alert" },
    el("h2", {}, t("review.refused")),
    errors.length
      ? el("ul", {}, errors.map((error) => el("li", {}, el("p", { class: "fault" }, faultWords(error, sheet)), button(t("foot.go_there"), () => { openAt(error.at, sheet); acts.type(null); }, { class: "word" }))))
      : el("p", {}, problemText(sheet.problem)),
  );
}
