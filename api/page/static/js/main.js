/** The page as a whole: which view is shown, and what goes on behind it. */

import { problemText } from "./controls/problem.js";
import { announce, button, el } from "./dom.js";
import { Refused } from "./api.js";
import { chooseLanguage, t } from "./messages.js";
import { keepSending, sendAll, watchQueue } from "./queue.js";
import { refreshRulebook, rulebook } from "./rulebook.js";
import { change, settings } from "./settings.js";
import { ChangedElsewhere, current, isSheet, load, open } from "./sheets.js";
import { watchOthers } from "./store.js";
import { aboutView } from "./views/about.js";
import { answerView } from "./views/answer.js";
import { closePanel, footView, showOpener } from "./views/foot.js";
import { horseView } from "./views/horse.js";
import { settingsView } from "./views/settings.js";
import { verdict } from "./views/verdict.js";
import { waitingView } from "./views/waiting.js";
import { cardView } from "./trace/card.js";
import { tidyPhotos } from "./trace/photos.js";
import { traceView } from "./trace/view.js";

const SLOW_MS = 10_000;
/** A second tap so soon, so near, is one finger that bounced. */
const BOUNCE_MS = 350;
const BOUNCE_PX = 24;
const view = document.getElementById("view");
const languages = document.body.dataset.languages.split(" ");
let leaving = null;
let lastTap = null;

const page = {
  /** Why the rulebook could not be had. */
  trouble: null,
  /** Whether the rulebook is being asked for. */
  loading: true,
  /** The sheet that is on its way while one waits for its answer. */
  sending: null,
  /** Whether it has taken long. */
  slow: false,

  go(where) {
    if (location.hash === `#${where}`) show();
    else location.hash = where;
  },

  /** Go on without leaving this place to come back to. */
  replace(where) {
    history.replaceState(null, "", `#${where}`);
    show();
  },

  show,

  redraw(focus = null) {
    const focused = document.activeElement?.id;
    const unfolded = [...view.querySelectorAll("details[open][id]")].map((each) => each.id);
    const { scrollY } = window;
    const depth = document.querySelector(".panel")?.scrollTop ?? 0;
    draw();
    for (const id of unfolded) document.getElementById(id)?.setAttribute("open", "");
    const target = document.getElementById(focus ?? "") ?? document.getElementById(focused ?? "");
    target?.focus({ preventScroll: true });
    scrollTo({ top: scrollY, behavior: "instant" });
    if (!focus) document.querySelector(".panel")?.scrollTo({ top: depth, behavior: "instant" });
  },

  /** What hangs on an answer but the sheet from below. */
  refresh() {},

  /** Ask for the rulebook again, and send what waits. */
  async retry() {
    await askForBook();
    page.redraw();
    announce(page.keyState());
    sendAll();
  },

  keyState() {
    if (page.trouble instanceof Refused) return t("settings.key_refused", { detail: problemText(page.trouble.problem) });
    return rulebook() ? t("settings.key_good") : t("start.no_book");
  },

  /** Send what waits; where one sheet is waited for, show a first look at it meanwhile. */
  async sendNow(id = null) {
    Object.assign(page, { sending: id, slow: false });
    const slow = setTimeout(() => {
      page.slow = true;
      if (page.sending && location.hash === `#waiting/${id}`) page.redraw();
    }, SLOW_MS);
    if (id) page.replace(`waiting/${id}`);
    await sendAll();
    clearTimeout(slow);
    page.sending = null;
    page.redraw();
  },

  warnFull() {
    announce(t("store.full"));
    notice(t("store.full"));
  },

  async speak(language) {
    change({ language });
    chooseLanguage(languages, language);
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
  const draft = sheet?.state === "draft" && rulebook() ? sheet : null;
  const views = {
    foot: () => draft && footView(draft, page),
    about: () => draft && aboutView(draft, page),
    trace: () => draft && traceView(draft, page, (leave) => (leaving = leave)),
    card: () => cardView(page),
    answer: () => answerView(decodeURIComponent(id ?? ""), page),
    settings: () => settingsView(page, languages),
    waiting: () => waitingView(id, page),
  };
  // An address that shows nothing any more, as of a foot that was sent, is the four feet.
  const shown = views[name]?.() ?? horseView(page);
  view.replaceChildren(...shown.flat(Infinity).filter(Boolean));
  const heading = document.getElementById("heading");
  document.title = heading ? `${heading.textContent} · fitcheck` : "fitcheck";
}

/** A view that one has come to: from its top, with the heading spoken. */
function show() {
  draw();
  scrollTo({ top: 0, behavior: "instant" });
  document.getElementById("heading")?.focus({ preventScroll: true });
  noteDepth();
}

/** A line over everything, until it is tapped away. */
function notice(text, action = null) {
  document.getElementById("notice")?.remove();
  const line = el("div", { id: "notice", class: "notice", role: "alert" }, el("p", {}, text), action, button(t("notice.close"), () => line.remove(), { id: "notice-close" }));
  document.body.append(line);
}

async function askForBook() {
  page.loading = true;
  try {
    await refreshRulebook();
    page.trouble = null;
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    page.trouble = error;
  } finally {
    page.loading = false;
  }
}

function onQueue({ sent, sheet, refused, standing: stopped }) {
  if (sent) {
    if (sent.rulebook?.digest && rulebook() && sent.rulebook.digest !== rulebook().digest) askForBook().then(() => onStart() && page.redraw());
    announce(t(`decision.${verdict(sent)}`));
    if (location.hash === `#waiting/${sheet.id}`) page.replace(`answer/${sent.id}`);
    else if (onStart()) page.redraw();
  } else if (refused) {
    announce(t("review.refused"));
    if (location.hash === `#waiting/${refused.id}`) {
      open(refused.id);
      page.replace("foot");
    } else if (onStart()) page.redraw();
  } else if (stopped) {
    announce(t("queue.signal"));
    page.sending = null;
    if (onStart() || location.hash.startsWith("#waiting/")) page.redraw();
  }
}

function onStart() {
  return ["", "#start"].includes(location.hash);
}

/** The same foot is at hand in another window: what is said there counts. */
function onOther(name) {
  const sheet = current();
  if (sheet && isSheet(name, sheet.id) && ["#foot", "#about", "#trace"].includes(location.hash)) warnElsewhere();
  else if (onStart()) page.redraw();
}

function warnElsewhere() {
  const reload = () => {
    document.getElementById("notice")?.remove();
    page.redraw();
  };
  notice(t("store.elsewhere"), button(t("store.show"), reload, { id: "show-other" }));
}

async function keepPage() {
  if (!("serviceWorker" in navigator)) return;
  const had = navigator.serviceWorker.controller !== null;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (had) notice(t("notice.new_version"), button(t("notice.reload"), () => location.reload(), { id: "notice-reload" }));
  });
  try {
    await navigator.serviceWorker.register("/service-worker.js", { updateViaCache: "none" });
  } catch {
    // Without one, as over plain HTTP from another machine, the page needs a signal to open.
    document.documentElement.dataset.worker = "none";
  }
}

/** Where one has scrolled to, in the page and in the sheet from below. */
function depth() {
  return `${Math.round(scrollY)} ${Math.round(document.querySelector(".panel")?.scrollTop ?? 0)}`;
}

/** How deep the page stands once a tap has done what it does: whoever scrolls from there means another thing. */
function noteDepth() {
  if (lastTap) lastTap.depth = depth();
}

/** The second tap of two at once counts for what the first one met, and for nothing that came in its place. */
function stopBounces() {
  addEventListener(
    "click",
    (event) => {
      const control = event.target.closest?.("button, summary, a");
      const name = control && (control.id || control.dataset.key || control.textContent);
      const soon = lastTap && event.timeStamp - lastTap.when < BOUNCE_MS;
      const near = soon && Math.hypot(event.clientX - lastTap.x, event.clientY - lastTap.y) < BOUNCE_PX && depth() === lastTap.depth;
      if (event.isTrusted && event.clientX && near && name !== lastTap.name) {
        event.preventDefault();
        event.stopImmediatePropagation();
        return;
      }
      lastTap = { when: event.timeStamp, x: event.clientX, y: event.clientY, name, depth: depth() };
    },
    { capture: true },
  );
  addEventListener("click", noteDepth);
}

function unfoldForPrint() {
  const folded = [...view.querySelectorAll("details:not([open])")];
  for (const each of folded) each.setAttribute("open", "");
  addEventListener("afterprint", () => folded.forEach((each) => each.removeAttribute("open")), { once: true });
}

async function start() {
  chooseLanguage(languages, settings().language);
  addEventListener("hashchange", () => {
    closePanel();
    show();
  });
  addEventListener("beforeprint", unfoldForPrint);
  stopBounces();
  const onError = (event) => {
    if (!((event.error ?? event.reason) instanceof ChangedElsewhere)) return;
    event.preventDefault();
    warnElsewhere();
  };
  addEventListener("error", onError);
  addEventListener("unhandledrejection", onError);
  addEventListener("keydown", (event) => {
    const from = event.key === "Escape" ? closePanel() : null;
    if (!from) return;
    page.redraw(from);
    showOpener(from);
  });
  watchQueue(onQueue);
  watchOthers(onOther);
  const book = askForBook();
  // The shell first: what was seen last is shown until the service has said whether it still holds.
  show();
  await book;
  if (!document.activeElement?.closest("input, textarea")) page.redraw();
  keepSending();
  document.documentElement.dataset.ready = "yes";
  keepPage();
  tidyPhotos((id) => Boolean(load(id)?.tracing));
}

start();
