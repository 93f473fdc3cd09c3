/** The page for practice: begin, thirty drawings, what they tell. */

import { Refused } from "../api.js";
import { button, el } from "../dom.js";
import { chooseLanguage, digits, t } from "../messages.js";
import { settings } from "../settings.js";
import { Chooser } from "./choice.js";
import { announceTruth, Drill, trueWord } from "./drill.js";
import { eyeOf } from "./estimates.js";
import { exerciseOf, offered, refreshOffer } from "./offer.js";
import { sentences } from "./sentences.js";
import { begin, finish, keepRunning, keepSendingSessions, practisingPerson, sendSessions, waitingSessions, watchSessions } from "./sessions.js";
import { nextExercise, startView } from "./start.js";

const view = document.getElementById("view");
let drill = null;
let outcome = null;

const page = {
  /** Why the service refuses what can be practised. */
  trouble: null,
  drawings: 0,

  show() {
    page.draw();
    scrollTo({ top: 0, behavior: "instant" });
    document.getElementById("heading")?.focus({ preventScroll: true });
  },

  draw() {
    const shown = drill ? drill.view() : outcome ? outcomeView() : startView(page);
    view.replaceChildren(...shown.flat(Infinity).filter(Boolean));
    document.title = `${document.getElementById("heading").textContent} · fitcheck`;
  },

  /** The same once more, because of something that nobody here did: neither focus nor what is unfolded or typed is lost. */
  redraw() {
    if (drill || document.activeElement?.closest("input")) return;
    const focused = document.activeElement?.id;
    const unfolded = [...view.querySelectorAll("details[open][id]")].map((each) => each.id);
    page.draw();
    for (const id of unfolded) document.getElementById(id)?.setAttribute("open", "");
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  },

  begin(exercise, session = null) {
    page.drawings = offered().people.drawings;
    const going = session ?? begin(exercise);
    drill = new Drill(page, { ...exercise, bounds: going.bounds }, going, new Chooser({ ...exercise, bounds: going.bounds }, offered().people));
    outcome = null;
    if (going.drawings.length >= page.drawings) page.end();
    else page.show();
  },

  answered(going) {
    if (!keepRunning(going.session)) page.full = true;
    page.draw();
    announceTruth();
    document.getElementById("next-drawing").focus({ preventScroll: true });
  },

  goOn(going) {
    if (going.session.drawings.length >= page.drawings) return page.end();
    going.next();
    page.draw();
    document.getElementById("word-1").focus({ preventScroll: true });
  },

  stop() {
    drill = null;
    page.show();
  },

  end() {
    const { exercise, session } = drill;
    const answers = session.drawings.map(({ value, word }) => ({ value, word: exercise.words.indexOf(word) }));
    const eye = eyeOf(exercise, offered().people, answers);
    const right = answers.filter(({ value, word }) => word === trueWord(value, session.bounds)).length;
    const times = session.drawings.map(({ ms }) => ms).sort((one, other) => one - other);
    const seconds = digits((times[Math.floor(times.length / 2)] / 1000).toFixed(1));
    const say = [...sentences(exercise, offered().people, eye, right), t("exercise.pace", { seconds })];
    drill = null;
    const kept = finish(session, { bias: eye.bias.value, spread: eye.spread.value, say });
    outcome = { exercise, say, id: session.id, kept };
    page.show();
    sendSessions();
  },
};

function outcomeView() {
  const next = nextExercise();
  const waits = waitingSessions().some(({ session }) => session.id === outcome.id);
  const state = !outcome.kept ? "practice.no_room" : waits ? "practice.state.waits" : practisingPerson() ? "practice.state.sent" : "practice.state.nobody";
  return [
    el("header", { class: "top" }, el("div", { class: "top-row" }, el("h1", { tabindex: "-1", id: "heading" }, t("practice.outcome_of", { title: t(`exercise.title.${outcome.exercise.id}`) })))),
    el(
      "main",
      { class: "practice" },
      el("ul", { id: "outcome" }, outcome.say.map((each) => el("li", {}, each))),
      el("p", { class: "note", id: "state" }, t(state)),
      button(t("exercise.next", { title: t(`exercise.title.${next.id}`) }), () => page.begin(next), { class: "wide", id: "begin-next" }),
      button(t("practice.back"), () => ((outcome = null), page.show()), { class: "wide", id: "back" }),
    ),
  ];
}

/** Keys 1 to n say a word, from wherever one is on the page. */
function onKey(event) {
  if (!drill || event.altKey || event.ctrlKey || event.metaKey || event.repeat) return;
  const word = Number.parseInt(event.key, 10) - 1;
  if (word >= 0 && word < drill.exercise.words.length) drill.say(word);
}

async function askForOffer() {
  try {
    await refreshOffer();
    page.trouble = null;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    page.trouble = error;
  }
}

async function start() {
  chooseLanguage(document.body.dataset.languages.split(" "), settings().language);
  addEventListener("keydown", onKey);
  watchSessions(() => page.redraw());
  page.show();
  await askForOffer();
  page.redraw();
  document.documentElement.dataset.ready = "yes";
  keepSendingSessions();
  const [, asked] = location.hash.split("#");
  if (asked && exerciseOf(asked)) page.begin(exerciseOf(asked));
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/service-worker.js", { updateViaCache: "none" }).catch(() => (document.documentElement.dataset.worker = "none"));
}

start();
