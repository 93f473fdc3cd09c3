/** The page as a whole: which view is shown, and what goes on behind it. */

import { announce, el } from "./dom.js";
import { Refused } from "./api.js";
import { loadMessages, t } from "./messages.js";
import { keepSending, sendAll, watchQueue } from "./queue.js";
import { refreshRulebook, rulebook } from "./rulebook.js";
import { change, settings } from "./settings.js";
import { begin, current, open } from "./sheets.js";
import { answerView } from "./views/answer.js";
import { reviewView } from "./views/review.js";
import { settingsView } from "./views/settings.js";
import { startView, verdict } from "./views/start.js";
import { stepView } from "./views/step.js";
import { traceView } from "./trace/view.js";

const view = document.getElementById("view");
const languages = document.body.dataset.languages.split(" ");
let leaving = null;

const page = {
  /** Why the rulebook could not be had. */
  trouble: null,

  go(where) {
    if (location.hash === `#${where}`) show();
    else location.hash = where;
  },

  redraw() {
    const focused = document.activeElement?.id;
    const unfolded = [...view.querySelectorAll("details[open][id]")].map((each) => each.id);
    const { scrollY } = window;
    draw();
    for (const id of unfolded) document.getElementById(id)?.setAttribute("open", "");
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
    scrollTo({ top: scrollY, behavior: "instant" });
  },

  /** Ask for the rulebook again, and send what waits. */
  async retry() {
    await askForBook();
    page.redraw();
    announce(page.keyState());
    sendAll();
  },

  keyState() {
    if (page.trouble instanceof Refused) return t("settings.key_refused", { detail: page.trouble.problem.detail });
    return rulebook() ? t("settings.key_good") : t("start.no_book");
  },

  /** Send what waits, and go where it can be seen. */
  async sendNow(id) {
    if (id) page.go("sending");
    await sendAll();
    if (location.hash === "#sending") page.go("start");
    else page.redraw();
  },

  warnFull() {
    announce(t("store.full"));
    notice(t("store.full"));
  },

  async speak(language) {
    change({ language });
    await loadMessages(languages, language);
    show();
    await askForBook();
    page.redraw();
  },
};

function draw() {
  leaving?.();
  leaving = null;
  const [name, id] = location.hash.slice(1).split("/");
  const sheet = current();
  const draft = sheet?.state === "draft" ? sheet : null;
  const views = {
    step: () => (rulebook() ? stepView(draft ?? begin(), id, page) : startView(page)),
    review: () => (draft && rulebook() ? reviewView(draft, page) : startView(page)),
    trace: () => (draft && rulebook() ? traceView(draft, page, (leave) => (leaving = leave)) : startView(page)),
    answer: () => answerView(decodeURIComponent(id ?? ""), page),
    settings: () => settingsView(page, languages),
    sending: () => [el("main", { class: "sending" }, el("h1", { id: "heading", tabindex: "-1" }, t("sending.title")), el("p", {}, t("sending.note")))],
  };
  view.replaceChildren(...(views[name] ?? (() => startView(page)))().flat(Infinity).filter(Boolean));
  const heading = document.getElementById("heading");
  document.title = heading ? `${heading.textContent} · fitcheck` : "fitcheck";
}

/** A view that one has come to: from its top, with the heading spoken. */
function show() {
  draw();
  scrollTo({ top: 0, behavior: "instant" });
  document.getElementById("heading")?.focus({ preventScroll: true });
}

/** A line over everything, until it is tapped away. */
function notice(text, action = null) {
  document.getElementById("notice")?.remove();
  const close = () => line.remove();
  const line = el("div", { id: "notice", class: "notice", role: "alert" }, el("p", {}, text), action, el("button", { type: "button", on: { click: close } }, t("notice.close")));
  document.body.append(line);
}

async function askForBook() {
  try {
    await refreshRulebook();
    page.trouble = null;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    page.trouble = error;
  }
}

function onQueue({ sent, refused, standing: stopped }) {
  if (sent) {
    announce(t(`decision.${verdict(sent)}`));
    if (location.hash === "#sending") page.go(`answer/${sent.id}`);
    else if (onStart()) page.redraw();
  } else if (refused) {
    announce(t("review.refused"));
    if (location.hash === "#sending") {
      open(refused.id);
      page.go("review");
    } else if (onStart()) page.redraw();
  } else if (stopped) {
    announce(t("queue.signal"));
    if (onStart()) page.redraw();
  }
}

function onStart() {
  return ["", "#start"].includes(location.hash);
}

async function keepPage() {
  if (!("serviceWorker" in navigator)) return;
  const had = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (had) notice(t("notice.new_version"), el("button", { type: "button", on: { click: () => location.reload() } }, t("notice.reload")));
  });
  try {
    await navigator.serviceWorker.register("/service-worker.js", { updateViaCache: "none" });
  } catch {
    // Without one, as over plain HTTP from another machine, the page needs a signal to open.
    document.documentElement.dataset.worker = "none";
  }
}

function unfoldForPrint() {
  const folded = [...view.querySelectorAll("details:not([open])")];
  for (const each of folded) each.setAttribute("open", "");
  addEventListener("afterprint", () => folded.forEach((each) => each.removeAttribute("open")), { once: true });
}

async function start() {
  await loadMessages(languages, settings().language);
  addEventListener("hashchange", show);
  addEventListener("beforeprint", unfoldForPrint);
  watchQueue(onQueue);
  if (!rulebook()) await askForBook();
  else askForBook().then(() => page.trouble && onStart() && page.redraw());
  show();
  keepSending();
  document.documentElement.dataset.ready = "yes";
  keepPage();
}

start();
