/** Sending: each finished fitting once, now or when there is a signal again. */

import { ask, NotReached, Refused } from "./api.js";
import { keepAnswer } from "./answers.js";
import { freshUuid } from "./dom.js";
import { answerAt, fittingOf } from "./fitting.js";
import { remember } from "./horses.js";
import { all, discard, load, save } from "./sheets.js";

const AGAIN_MS = 30_000;
const watchers = new Set();
let running = null;
let again = false;

let standing = null;

/** What came of the last try: null, or why the queue stands still. */
export function standsStill() {
  return standing;
}

/** Have `watcher` called with each event: {sent: answer} or {refused: sheet} or {standing: error}. */
export function watchQueue(watcher) {
  watchers.add(watcher);
  return () => watchers.delete(watcher);
}

/** The sheets that wait, the oldest first. */
export function waiting() {
  return all().filter((sheet) => sheet.state === "queued").reverse();
}

/** Put a finished sheet into the queue; its bytes and its key are made once and stay. */
export function enqueue(sheet) {
  Object.assign(sheet, { body: JSON.stringify(fittingOf(sheet)), key: freshUuid(), state: "queued", tried: false, problem: null });
  const kept = save(sheet);
  if (kept) remember(sheet);
  return kept;
}

/** Take a sheet out of the queue, to be corrected; false where the telephone has no room. */
export function takeBack(sheet) {
  Object.assign(sheet, { body: null, key: null, state: "draft" });
  return save(sheet);
}

/**
 * Send what waits, one after another; what is asked meanwhile is done in the same run. Windows of the page take turns.
 *
 * @returns {Promise<void>}
 */
export function sendAll() {
  again = true;
  running ??= run().finally(() => (running = null));
  return running;
}

async function run() {
  while (again) {
    again = false;
    if (navigator.locks) await navigator.locks.request("fitcheck-queue", sendEach);
    else await sendEach();
  }
}

async function sendEach() {
  standing = null;
  for (const { id } of waiting()) {
    const sheet = load(id);
    if (sheet?.state === "queued" && !(await sendOne(sheet))) return;
  }
}

/** Whether the queue may go on: a fitting that the service fails at stands in no other one's way. */
async function sendOne(sheet) {
  if (!sheet.tried) {
    sheet.tried = true;
    save(sheet);
  }
  const query = sheet.corrects ? `?corrects=${encodeURIComponent(sheet.corrects)}` : "";
  try {
    const answer = await ask(`/v1/assessments${query}`, {
      method: "POST",
      headers: { "content-type": "application/json", "idempotency-key": sheet.key },
      body: sheet.body,
    });
    const assessment = await answer.json();
    if (!isAnswer(assessment)) throw new NotReached("what answered is not the service");
    if (load(sheet.id)?.key !== sheet.key) return true; // taken back meanwhile: its answer is the service's to list
    keepAnswer(assessment, sheet);
    discard(sheet.id);
    tell({ sent: assessment, sheet });
    return true;
  } catch (error) {
    if (error instanceof Refused && !error.mayPass) {
      sendBack(sheet, error.problem);
      tell({ refused: sheet });
      return true;
    }
    standing = error instanceof Refused || error instanceof NotReached ? error : new NotReached(String(error));
    tell({ standing });
    return error instanceof Refused && error.problem.status >= 500;
  }
}

/** Whether it is an assessment: what stands between, as where one signs in to a network, may answer too. */
function isAnswer(it) {
  return typeof it?.id === "string" && typeof it.decision === "string" && Array.isArray(it.findings);
}

/** The service will never take this: back to the questions, with what it said beside each. */
function sendBack(sheet, problem) {
  const errors = problem.errors.map((error) => ({ ...error, at: answerAt(error.field, sheet) }));
  Object.assign(sheet, { state: "draft", key: null, body: null, problem: { ...problem, errors } });
  save(sheet);
}

function tell(event) {
  for (const watcher of watchers) watcher(event);
}

/** Send whenever there may be a signal again. */
export function keepSending() {
  addEventListener("online", sendAll);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") sendAll();
  });
  setInterval(() => {
    if (waiting().length) sendAll();
  }, AGAIN_MS);
  sendAll();
}

/** Whether a sheet can be thrown away without the service having heard of it. */
export function discardable(sheet) {
  return !sheet.tried;
}
