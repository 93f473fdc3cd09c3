/** Sessions on this telephone: the one that is going on, those that wait to be sent, what the last ones told. */

import { ask, NotReached, Refused } from "../api.js";
import { freshUuid } from "../dom.js";
import { names, read, remove, write } from "../store.js";

const RUNNING = "practice.running";
const WAITING = "practice.waiting.";
const RESULTS = "practice.results";
const PERSON = "practice.person";
const MOST_RESULTS = 40;
const AGAIN_MS = 30_000;
/** What ids of persons are in fittings. */
export const PERSON_FORM = "[A-Za-z0-9._:\\-]{1,64}";
const watchers = new Set();
let running = null;

/** Who practises on this telephone, by the id in the fittings; empty where nobody said. */
export function practisingPerson() {
  return read(PERSON, "");
}

/** @param {string} person */
export function setPractisingPerson(person) {
  return write(PERSON, person);
}

/** The session that is going on, or null. */
export function runningSession() {
  return read(RUNNING);
}

/** Begin a session; the bounds stay those by which the truth is told in it. */
export function begin(exercise) {
  const session = { id: freshUuid(), exercise: exercise.id, began: new Date().toISOString(), bounds: exercise.bounds, drawings: [] };
  write(RUNNING, session);
  return session;
}

/** Keep what was answered so far; false where the telephone has no room. */
export function keepRunning(session) {
  return write(RUNNING, session);
}

/** Leave the session that is going on. */
export function leave() {
  remove(RUNNING);
}

/** The session is whole: it waits to be sent where somebody practised, and its outcome stays on this telephone. */
export function finish(session, outcome) {
  session.ended ??= new Date().toISOString();
  const results = [{ id: session.id, exercise: session.exercise, ended: session.ended, ...outcome }, ...lastResults()];
  write(RESULTS, results.slice(0, MOST_RESULTS));
  const person = practisingPerson();
  const kept = person ? write(WAITING + session.id, { person, session, problem: null }) : true;
  if (kept) leave();
  return kept;
}

/** What the last sessions told, the latest first. */
export function lastResults() {
  return read(RESULTS, []);
}

/** Sessions that wait to be sent, or that the service refused. */
export function waitingSessions() {
  return names(WAITING).map((name) => read(name)).filter(Boolean);
}

/** Throw a session away that the service refused. */
export function throwAway(id) {
  remove(WAITING + id);
}

/** Have `watcher` called whenever something was sent or refused. */
export function watchSessions(watcher) {
  watchers.add(watcher);
}

/** Send what waits, each session once: the service knows it by its id. */
export function sendSessions() {
  running ??= sendEach().finally(() => (running = null));
  return running;
}

async function sendEach() {
  for (const { person, session, problem } of waitingSessions()) {
    if (problem) continue;
    try {
      const path = `/v1/people/${encodeURIComponent(person)}/practice`;
      await ask(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(session) });
      remove(WAITING + session.id);
    } catch (error) {
      if (!(error instanceof Refused) || error.mayPass) {
        if (!(error instanceof Refused || error instanceof NotReached)) throw error;
        return;
      }
      // What was erased is not kept anew; all else stays to be seen.
      if (error.problem.status === 410) remove(WAITING + session.id);
      else write(WAITING + session.id, { person, session, problem: error.problem });
    }
    for (const watcher of watchers) watcher();
  }
}

/** Send whenever there may be a signal again. */
export function keepSendingSessions() {
  addEventListener("online", sendSessions);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") sendSessions();
  });
  setInterval(() => {
    if (waitingSessions().length) sendSessions();
  }, AGAIN_MS);
  return sendSessions();
}
