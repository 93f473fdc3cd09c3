/** The answer on one screen: verdict with the next step, what to do in order, the drawing, cautions; the rest folded. */

import { problemText } from "../controls/problem.js";
import { button, el } from "../dom.js";
import { moment, t, tn } from "../messages.js";
import { ask, askJson, NotReached, Refused } from "../api.js";
import { answerOf, keepDrawing } from "../answers.js";
import { placeName } from "../controls/field.js";
import { markedMap } from "../drawings/map.js";
import { gradeMark } from "../drawings/signs.js";
import { answerAt } from "../fitting.js";
import { clipsOf } from "../foot/listed.js";
import { again, lookAt, stageAfter, takeHorse } from "../horses.js";
import { criterion, quantity, rulebook } from "../rulebook.js";
import { OF_A_CLIP } from "../lists.js";
import { accessKey } from "../settings.js";
import { nailsOf, open } from "../sheets.js";
import { plainBar } from "./bar.js";
import { openAt } from "./foot.js";
import { verdict, VERDICT_MARKS } from "./verdict.js";

/** @param {string} id  of the assessment @param {object} page */
export function answerView(id, page) {
  const kept = answerOf(id);
  const body = el("main", { class: "answer", "aria-busy": "true" });
  const bar = plainBar(page, kept ? `${t(`foot.${kept.assessment.foot}`)}, ${t(`stage.${kept.assessment.stage}`)}` : t("answer.title"));
  const nav = el("nav", { class: "thumb", "aria-label": t("nav.main") });
  if (kept) fill(kept);
  else fetchOne();

  async function fetchOne() {
    body.replaceChildren(el("p", {}, t("answer.loading")));
    try {
      fill({ assessment: await askJson(`/v1/assessments/${encodeURIComponent(id)}`), answers: {}, good: {}, holes: null, drawing: null });
    } catch (error) {
      const said = error instanceof Refused ? problemText(error.problem) : t("answer.not_reached");
      body.replaceChildren(el("p", { class: "refused", role: "alert" }, said));
      body.setAttribute("aria-busy", "false");
    }
  }

  function fill(of) {
    const { assessment } = of;
    body.replaceChildren(...[verdictOf(assessment), actions(assessment), drawn(of), cautions(assessment), stillNeeded(of, page), findings(assessment), rest(of)].flat().filter(Boolean));
    body.setAttribute("aria-busy", "false");
    nav.replaceChildren(...buttons(of, page));
  }

  return [bar, body, nav];
}

function verdictOf(assessment) {
  const name = assessment.decision;
  return el("div", { class: `decision ${name}`, "data-decision": name }, gradeMark(VERDICT_MARKS[name]), el("p", { class: "decision-words" }, t(`decision.${verdict(assessment)}`)));
}

/** What comes next, at the thumb: never the next foot where this one is stopped. */
function buttons(of, page) {
  const { assessment, answers } = of;
  const feet = button(t("nav.feet"), () => page.go("start"), { class: "back", id: "feet" });
  const onward = (text, act, name) => button(text, act, { class: "onward", id: "onward", "data-next": name });
  if (!of.holes) return [feet];
  const go = (sheet) => {
    open(sheet.id);
    page.go("foot");
  };
  takeHorse(answers["horse.id"] ?? "");
  switch (assessment.decision) {
    case "put_right":
      return [feet, onward(t(assessment.stage === "hot_fit" ? "answer.again_hot_fit" : "answer.again"), () => go(again(of)), "again")];
    case "incomplete":
      return [feet, onward(t("answer.complete"), () => goOn(of, page, assessment.still_needed[0]?.field), "complete")];
    case "go_on":
      return [feet, onward(t(`next.${stageAfter(of)}`), () => go(lookAt(assessment.foot, stageAfter(of))), stageAfter(of))];
    case "release":
      return [onward(t("answer.next_foot"), () => page.go("start"), "next-foot")];
    default:
      return [feet];
  }
}

/** Go on with what was said, to add what is missing; it takes the place of the answer before. */
function goOn(of, page, field) {
  const sheet = again(of, { whole: true });
  if (field) openAt(answerAt(field, sheet), sheet);
  open(sheet.id);
  page.go("foot");
}

function actions({ actions: all, decision: name }) {
  if (!all.length) return ["release", "go_on"].includes(name) ? el("p", { class: "nothing" }, t("answer.nothing_to_do")) : null;
  return el("section", {}, el("h2", { class: "unseen" }, t("answer.actions")), el("ol", { class: "actions" }, all.map((action) => el("li", {}, action))));
}

/** The foot with the places of the findings, by their numbers. */
function drawn(of) {
  const { assessment } = of;
  const marks = assessment.findings.map(({ place, grade }, index) => ({ place, grade, number: index + 1 }));
  const words = { name: shownBy(assessment), wholeFoot: placeName("foot") };
  return marks.length ? markedMap(assessment, marks, shoeOf(of), words) : null;
}

/** Where the shoe of an answer has nails and clips: as it was said here, or as the service judged them. */
function shoeOf({ assessment, answers, holes }) {
  const judged = [...assessment.conforms, ...assessment.findings.map(({ place, measured }) => ({ place, ...measured }))];
  const ofClips = judged.filter(({ quantity: name, value }) => Object.values(OF_A_CLIP).includes(name) && value !== "none");
  const nails = judged.map(({ place }) => place).filter((place) => place.startsWith("nail:"));
  return {
    clips: [...new Set([...(clipsOf({ answers }) ?? []), ...ofClips.map(({ place }) => place)])],
    nails: [...new Set([...(holes ? nailsOf({ holes }).map(({ at }) => at) : []), ...nails])],
  };
}

/** One line that unfolds; open where one of them goes with something critical. */
function cautions(assessment) {
  const standing = new Set(rulebook()?.standing_cautions ?? []);
  const own = assessment.cautions.filter((caution) => !standing.has(caution));
  const ordered = [...own, ...assessment.cautions.filter((caution) => standing.has(caution))];
  if (!ordered.length) return null;
  const critical = assessment.findings.some(({ grade }) => grade === "critical");
  return el(
    "details",
    { class: "cautions-fold", id: "cautions", open: critical },
    el("summary", {}, el("span", { class: "one-line" }, t("answer.cautions"), el("span", { class: "first-caution" }, `: ${ordered[0]}`)), el("span", { class: "unseen" }, tn("answer.always", ordered.length))),
    el("ul", { class: "cautions" }, ordered.map((caution) => el("li", {}, caution))),
  );
}

function findings({ findings: all }) {
  if (!all.length) return null;
  return folded(
    "findings",
    tn("answer.found", all.length),
    el("ol", { class: "findings" }, all.map((finding, index) =>
      el("li", { class: `finding ${finding.grade}`, "data-rule": finding.rule, "data-place": finding.place, "data-grade": finding.grade },
        gradeMark(finding.grade, index + 1),
        el("div", {},
          el("p", { class: "finding-grade" }, t(`grade.${finding.grade}`), " · ", placeName(finding.place)),
          el("p", { class: "finding-text" }, finding.finding),
          el("p", { class: "finding-action" }, finding.action),
          el("details", {}, el("summary", {}, t("answer.why")), el("p", {}, finding.why),
            typeof finding.confidence === "number" ? el("p", {}, t("answer.sure", { percent: percent(finding.confidence) })) : null,
            el("p", {}, t("answer.sources", { sources: finding.sources.join(", "), status: statusName(finding.status) })),
            el("p", {}, link(`/v1/rulebook/rules/${encodeURIComponent(finding.rule)}`, finding.rule))))))),
  );
}

function statusName(status) {
  const name = status.replaceAll(" ", "_");
  return t(`status.${name}`);
}

function percent(confidence) {
  return confidence > 0.99 ? "> 99" : String(Math.round(confidence * 100));
}

function stillNeeded(of, page) {
  const needed = of.assessment.still_needed;
  if (!needed.length) return null;
  const item = ({ criterion: id, say, field }) => el("li", {}, el("strong", {}, criterion(id)?.title ?? id), " ", say, of.holes ? [" ", button(t("foot.go_there"), () => goOn(of, page, field), { class: "word" })] : null);
  return folded("needed", tn("answer.still_needed", needed.length), el("ul", { class: "needed" }, needed.map(item)));
}

function rest(of) {
  const { assessment, answers } = of;
  const what = [answers["horse.id"], answers.visit, moment(assessment.created)].filter(Boolean).join(" · ");
  return [
    listOf("answer.conforms", assessment.conforms.map(conforming), "conforms"),
    listOf("answer.not_assessed", assessment.not_assessed.map(unseen), "not-assessed"),
    assessment.next_due ? folded("next", t("answer.next"), el("p", { class: "next-due" }, assessment.next_due.say)) : null,
    listOf("answer.remarks", assessment.remarks, "remarks"),
    serviceDrawing(of),
    folded("record", t("answer.record"), el("p", {}, what), links(assessment), button(t("answer.print"), () => print(), { class: "wide", id: "print" })),
  ];
}

function folded(name, title, ...inside) {
  return el("details", { class: "folded", id: `fold-${name}`, "data-list": name }, el("summary", {}, title), inside);
}

function conforming({ criterion: id, quantity: name, place }) {
  return `${criterion(id)?.title ?? id}: ${shortTitle(name)}, ${placeName(place)}`;
}

function unseen(line) {
  const [name, place] = line.split("@");
  const [id, own] = name.split(".");
  const title = criterion(id)?.title ?? id;
  return [title, own ? shortTitle(own) : null, place ? placeName(place) : null].filter(Boolean).join(": ");
}

function shortTitle(name) {
  return (quantity(name)?.title ?? name.replaceAll("_", " ")).split(";")[0];
}

function listOf(id, lines, name) {
  if (!lines.length) return null;
  return folded(name, tn(id, lines.length), el("ul", {}, lines.map((line) => el("li", {}, line))));
}

function links({ id, rulebook: book }) {
  const at = `/v1/assessments/${encodeURIComponent(id)}`;
  return el("div", { class: "links" }, el("p", {}, link(`${at}/report.html`, t("answer.report"))), el("p", {}, link(at, t("answer.record"))), el("p", {}, t("answer.book", { title: book.title, version: book.version })));
}

/** A way there; where a key is needed a browser cannot show it on its way, so that the address stands as text. */
function link(address, text) {
  return accessKey() ? [`${text}: `, el("code", {}, address)] : el("a", { href: address }, text);
}

/** The service's own drawing, asked for when it is looked at. */
function serviceDrawing({ assessment, drawing }) {
  const holder = el("div", { class: "sheet-drawing" });
  const fold = folded("drawing", t("answer.whole_drawing"), holder);
  fold.addEventListener("toggle", () => fold.open && !holder.hasChildNodes() && showDrawing(holder, assessment, drawing));
  return fold;
}

async function showDrawing(holder, assessment, drawing) {
  let text = drawing;
  if (text === null) {
    try {
      const answer = await ask(`/v1/assessments/${encodeURIComponent(assessment.id)}/drawing.svg`);
      text = await answer.text();
      keepDrawing(assessment.id, text);
    } catch (error) {
      if (!(error instanceof NotReached || error instanceof Refused)) throw error;
      holder.replaceChildren(el("p", {}, t("answer.not_reached")));
      return;
    }
  }
  const picture = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  holder.replaceChildren(el("img", { src: picture, alt: shownBy(assessment), on: { load: () => URL.revokeObjectURL(picture) } }));
}

function shownBy(assessment) {
  const places = assessment.findings.map((finding, index) => `${index + 1}: ${placeName(finding.place)}`).join("; ");
  return t("answer.drawing", { foot: t(`foot.${assessment.foot}`), places: places || t("answer.no_findings") });
}
