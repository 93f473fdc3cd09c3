/** Where practice begins: who, what, what waits, what the last sessions told. */

import { button, el } from "../dom.js";
import { moment, t, tn } from "../messages.js";
import { problemText } from "../controls/problem.js";
import { outlives } from "../store.js";
import { exerciseOf, offered } from "./offer.js";
import { lastResults, leave, PERSON_FORM, practisingPerson, runningSession, setPractisingPerson, throwAway, waitingSessions } from "./sessions.js";

/** What to practise next: what was never practised, else what errs most for its kind. */
export function nextExercise() {
  const results = lastResults();
  const fault = ({ id, scale }) => {
    const last = results.find((each) => each.exercise === id);
    return last ? Math.hypot(last.bias, last.spread) / scale : Infinity;
  };
  const every = offered()?.exercises ?? [];
  return every.reduce((best, each) => (best === null || fault(each) > fault(best) ? each : best), null);
}

/** @param {object} page */
export function startView(page) {
  return [
    el(
      "header",
      { class: "top" },
      el("div", { class: "top-row" }, el("h1", { tabindex: "-1", id: "heading" }, t("practice.title")), el("a", { class: "top-all", href: "/", id: "to-yard" }, t("practice.to_yard"))),
    ),
    el(
      "main",
      { class: "practice" },
      page.trouble ? el("section", { class: "refused", id: "trouble" }, el("p", {}, page.trouble.wantsKey ? t("practice.key") : problemText(page.trouble.problem)), el("p", {}, el("a", { href: "/#settings" }, t("start.give_key")))) : null,
      outlives() ? null : el("p", { class: "refused", role: "alert" }, t("practice.not_kept")),
      el("p", {}, t("practice.what")),
      el("p", { class: "note", id: "by-ear" }, t("practice.by_ear")),
      person(),
      goOn(page),
      offered() ? exercises(page) : el("p", { class: "refused", id: "no-offer" }, t("practice.no_offer")),
      waiting(page),
      results(),
    ),
  ];
}

function person() {
  const input = el("input", { id: "person", type: "text", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", maxlength: 64, pattern: PERSON_FORM, "aria-describedby": "person-note", value: practisingPerson() });
  const fault = el("p", { class: "fault", id: "person-fault", role: "alert" });
  input.addEventListener("change", () => {
    const said = input.value.trim();
    const right = said === "" || new RegExp(`^${PERSON_FORM}$`).test(said);
    fault.textContent = right ? "" : t("practice.person_form");
    if (right) input.removeAttribute("aria-invalid");
    else input.setAttribute("aria-invalid", "true");
    if (right) setPractisingPerson(said);
  });
  return el("div", { class: "question" }, el("label", { class: "label", for: "person" }, t("practice.person")), input, el("p", { class: "note", id: "person-note" }, t("practice.person_note")), fault);
}

function goOn(page) {
  const running = runningSession();
  const exercise = running && exerciseOf(running.exercise);
  if (!exercise) return null;
  const away = () => {
    leave();
    page.show();
  };
  return el(
    "section",
    { class: "offer" },
    el("p", {}, t("practice.begun", { title: t(`exercise.title.${exercise.id}`), done: running.drawings.length, of: offered().people.drawings })),
    button(t("practice.go_on"), () => page.begin(exercise, running), { class: "wide", id: "go-on" }),
    button(t("practice.leave"), away, { id: "leave-begun" }),
  );
}

function exercises(page) {
  const every = offered().exercises;
  if (!every.length) return el("p", { class: "refused" }, t("practice.nothing"));
  const next = nextExercise();
  return el(
    "section",
    { "aria-labelledby": "exercises-title" },
    el("h2", { id: "exercises-title" }, t("practice.choose")),
    el("p", { id: "next" }, t("exercise.next", { title: t(`exercise.title.${next.id}`) })),
    el(
      "div",
      { class: "exercises" },
      every.map((each) => button(t(`exercise.title.${each.id}`), () => page.begin(each), { class: each === next ? "wide next-exercise" : "wide", id: `exercise-${each.id}` })),
    ),
    el("p", { class: "note" }, t("practice.keys", { drawings: offered().people.drawings })),
  );
}

function waiting(page) {
  const sessions = waitingSessions();
  if (!sessions.length) return null;
  const refused = sessions.filter(({ problem }) => problem);
  const away = (id) => () => {
    throwAway(id);
    page.show();
  };
  return el(
    "section",
    { class: "queue", "aria-labelledby": "waiting-title" },
    el("h2", { id: "waiting-title" }, tn("practice.waiting", sessions.length)),
    el("p", { class: "note" }, t("practice.waiting_note")),
    refused.map(({ session, problem }) => el("p", { class: "fault" }, problemText(problem), " ", button(t("practice.throw_away"), away(session.id), { id: `away-${session.id}` }))),
  );
}

function results() {
  const last = lastResults().filter(({ exercise }) => exerciseOf(exercise)).slice(0, 8);
  if (!last.length) return null;
  return el(
    "details",
    { class: "folded", id: "results" },
    el("summary", {}, t("practice.last")),
    el("ul", {}, last.map((each) => el("li", {}, `${moment(each.ended)}: ${t(`exercise.title.${each.exercise}`)}. ${each.say[1] ?? each.say[0]}`))),
  );
}
