/** The answer: the decision, cautions, what to do in order, the drawing, and what was and was not looked at. */

import { el } from "../dom.js";
import { moment, t, tn } from "../messages.js";
import { ask, askJson, NotReached, Refused } from "../api.js";
import { answerOf, keepDrawing } from "../answers.js";
import { placeName } from "../controls/field.js";
import { gradeMark } from "../drawings/signs.js";
import { questionOf } from "../fitting.js";
import { criterion, quantity, rulebook } from "../rulebook.js";
import { accessKey, change, settings } from "../settings.js";
import { begin, beginNext } from "../sheets.js";
import { plainBar } from "./bar.js";
import { DECISION_MARKS, verdict } from "./start.js";

/** @param {string} id  of the assessment @param {object} page */
export function answerView(id, page) {
  const kept = answerOf(id);
  const body = el("main", { class: "answer", "aria-busy": "true" });
  const bar = plainBar(page, t("answer.title"));
  const nav = el("nav", { class: "thumb", "aria-label": t("nav.main") });
  if (kept) fill(kept);
  else fetchOne();

  async function fetchOne() {
    body.replaceChildren(el("p", {}, t("answer.loading")));
    try {
      fill({ assessment: await askJson(`/v1/assessments/${encodeURIComponent(id)}`), answers: {}, holes: null, drawing: null });
    } catch (error) {
      const said = error instanceof Refused ? error.problem.detail : t("answer.not_reached");
      body.replaceChildren(el("p", { class: "refused", role: "alert" }, said));
      body.setAttribute("aria-busy", "false");
    }
  }

  function fill({ assessment, answers, holes, drawing }) {
    const holder = el("div", { class: "card sheet-drawing" });
    const standing = new Set(rulebook()?.standing_cautions ?? []);
    body.replaceChildren(
      ...[
        decision(assessment),
        el("p", { class: "of" }, whatOf(assessment, answers)),
        cautions(assessment.cautions.filter((caution) => !standing.has(caution)), assessment.cautions.filter((caution) => standing.has(caution))),
        actions(assessment),
        holder,
        findings(assessment),
        stillNeeded(assessment, answers, holes, page),
        listOf("answer.conforms", assessment.conforms.map(conforming), "conforms"),
        listOf("answer.not_assessed", assessment.not_assessed.map(unseen), "not-assessed"),
        assessment.next_due ? el("section", {}, el("h2", {}, t("answer.next")), el("p", { class: "next-due" }, assessment.next_due.say)) : null,
        assessment.remarks.length ? listOf("answer.remarks", assessment.remarks, "remarks") : null,
        links(assessment),
      ].filter(Boolean),
    );
    body.setAttribute("aria-busy", "false");
    nav.replaceChildren(
      el("button", { type: "button", class: "back", id: "print", on: { click: () => print() } }, t("answer.print")),
      el("button", { type: "button", class: "onward", id: "next-foot", on: { click: () => { beginNext(answers); page.go("step/foot"); } } }, t("answer.next_foot")),
    );
    showDrawing(holder, assessment, drawing);
  }

  return [bar, body, nav];
}

function decision(assessment) {
  const name = assessment.decision;
  return el(
    "div",
    { class: `decision ${name}`, "data-decision": name },
    gradeMark(DECISION_MARKS[name]),
    el("p", { class: "decision-words" }, t(`decision.${verdict(assessment)}`)),
  );
}

function whatOf(assessment, answers) {
  return [
    `${t(`foot.${assessment.foot}`)}, ${t(`stage.${assessment.stage}`)}`,
    answers["horse.id"],
    answers.visit,
    moment(assessment.created),
  ].filter(Boolean).join(" · ");
}

function cautions(own, standing) {
  const list = (all) => el("ul", { class: "cautions" }, all.map((caution) => el("li", {}, caution)));
  const always = el(
    "details",
    { class: "always", open: !settings().foldCautions, on: { toggle: () => change({ foldCautions: !always.open }) } },
    el("summary", {}, tn("answer.always", standing.length)),
    list(standing),
  );
  return el("section", { "aria-labelledby": "cautions-title" }, el("h2", { id: "cautions-title" }, t("answer.cautions")), own.length ? list(own) : null, standing.length ? always : null);
}

function actions({ actions: all, decision: name }) {
  if (!all.length) return ["release", "go_on"].includes(name) ? el("p", { class: "nothing" }, t("answer.nothing_to_do")) : null;
  return el("section", {}, el("h2", {}, t("answer.actions")), el("ol", { class: "actions" }, all.map((action) => el("li", {}, action))));
}

function findings({ findings: all }) {
  if (!all.length) return el("section", {}, el("h2", {}, t("answer.findings")), el("p", {}, t("answer.no_findings")));
  return el(
    "section",
    {},
    el("h2", {}, t("answer.findings")),
    el(
      "ol",
      { class: "findings" },
      all.map((finding, index) =>
        el(
          "li",
          { class: `finding ${finding.grade}`, "data-rule": finding.rule, "data-place": finding.place, "data-grade": finding.grade },
          gradeMark(finding.grade, index + 1),
          el(
            "div",
            {},
            el("p", { class: "finding-grade" }, t(`grade.${finding.grade}`), " · ", placeName(finding.place)),
            el("p", { class: "finding-text" }, finding.finding),
            el("p", { class: "finding-action" }, finding.action),
            el("details", {}, el("summary", {}, t("answer.why")), el("p", {}, finding.why), finding.confidence === null ? null : el("p", {}, t("answer.sure", { percent: percent(finding.confidence) })), el("p", {}, t("answer.sources", { sources: finding.sources.join(", "), status: finding.status })), el("p", {}, link(`/v1/rulebook/rules/${encodeURIComponent(finding.rule)}`, finding.rule))),
          ),
        ),
      ),
    ),
  );
}

function percent(confidence) {
  return confidence > 0.99 ? "> 99" : String(Math.round(confidence * 100));
}

function stillNeeded(assessment, answers, holes, page) {
  if (!assessment.still_needed.length) return null;
  const goOn = (field) => {
    const sheet = begin(answers, { holes: holes ?? { medial: [], lateral: [] }, corrects: assessment.id });
    const { step } = field ? questionOf(field, sheet) : { step: "review" };
    page.go(["trace", "review"].includes(step) ? step : `step/${step}`);
  };
  return el(
    "section",
    {},
    el("h2", {}, t("answer.still_needed")),
    el("p", {}, t("answer.still_needed_note")),
    el("ul", { class: "needed" }, assessment.still_needed.map(({ criterion: id, say }) => el("li", {}, el("strong", {}, criterion(id)?.title ?? id), " ", say))),
    holes ? el("button", { type: "button", class: "wide", id: "complete", on: { click: () => goOn(assessment.still_needed[0].field) } }, t("answer.complete")) : null,
  );
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
  return el("details", { class: "folded", "data-list": name }, el("summary", {}, tn(id, lines.length)), el("ul", {}, lines.map((line) => el("li", {}, line))));
}

function links({ id, rulebook: book }) {
  const at = `/v1/assessments/${encodeURIComponent(id)}`;
  return el(
    "footer",
    {},
    el("p", {}, link(`${at}/report.html`, t("answer.report"))),
    el("p", {}, link(at, t("answer.record"))),
    el("p", {}, t("answer.book", { title: book.title, version: book.version })),
  );
}

/** A way there; where a key is needed a browser cannot show it on its way, so that the address stands as text. */
function link(address, text) {
  return accessKey() ? [`${text}: `, el("code", {}, address)] : el("a", { href: address }, text);
}

/** The service's drawing as a picture; what it shows stands in the lists too. */
async function showDrawing(holder, assessment, drawing) {
  let text = drawing;
  if (text === null) {
    try {
      const answer = await ask(`/v1/assessments/${encodeURIComponent(assessment.id)}/drawing.svg`);
      text = await answer.text();
      keepDrawing(assessment.id, text);
    } catch (error) {
      if (!(error instanceof NotReached || error instanceof Refused)) throw error;
      holder.remove();
      return;
    }
  }
  const picture = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  const places = assessment.findings.map((finding, index) => `${index + 1}: ${placeName(finding.place)}`).join("; ");
  holder.replaceChildren(
    el("img", { src: picture, alt: t("answer.drawing", { foot: t(`foot.${assessment.foot}`), places: places || t("answer.no_findings") }), on: { load: () => URL.revokeObjectURL(picture) } }),
  );
}
