/** Asking the service, in the language of the page. The access key goes in a header and nowhere else. */

import { languageInUse } from "./messages.js";
import { accessKey } from "./settings.js";

const PATIENCE_MS = 30_000;

const WRONG_CLOCK_MS = 12 * 3_600_000;
let behind = 0;

/** Whether this telephone's clock is so far from the service's that it takes another day for today. */
export function clockIsWrong() {
  return Math.abs(behind) > WRONG_CLOCK_MS;
}

/** The service could not be reached: nobody knows whether it got the request. */
export class NotReached extends Error {}

/** The service answered that something is wrong (RFC 9457). */
export class Refused extends Error {
  /** @param {{status: number, title: string, detail: string, type: string, errors: object[]}} problem */
  constructor(problem) {
    super(problem.detail);
    this.problem = problem;
  }

  /** Whether sending the very same again may go well. */
  get mayPass() {
    return this.problem.status >= 500 || [401, 403, 408, 425, 429].includes(this.problem.status);
  }

  /** Whether an access key is what is missing. */
  get wantsKey() {
    return this.problem.status === 401 || this.problem.status === 403;
  }
}

/**
 * Ask `path`; raises NotReached or Refused.
 *
 * @param {string} path
 * @param {RequestInit} options
 * @returns {Promise<Response>}
 */
export async function ask(path, options = {}) {
  const headers = new Headers(options.headers);
  const key = accessKey();
  if (key) headers.set("authorization", `Bearer ${key}`);
  headers.set("accept-language", languageInUse());
  let answer;
  try {
    answer = await fetch(path, {
      ...options,
      headers,
      cache: "no-store",
      credentials: "omit",
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch (error) {
    throw new NotReached(String(error));
  }
  const sent = Date.parse(answer.headers.get("date") ?? "");
  if (!Number.isNaN(sent)) behind = sent - Date.now();
  if (!answer.ok && answer.status !== 304) throw new Refused(await problemOf(answer));
  return answer;
}

/**
 * The JSON document at `path` and its entity tag, or null where it is still the one of `etag`; raises NotReached or
 * Refused.
 */
export async function askIfChanged(path, etag) {
  const answer = await ask(path, etag ? { headers: { "if-none-match": etag } } : {});
  if (answer.status === 304) return null;
  try {
    return { document: await answer.json(), etag: answer.headers.get("etag") };
  } catch (error) {
    throw new NotReached(String(error));
  }
}

/** The JSON document at `path`; raises NotReached or Refused. */
export async function askJson(path, options = {}) {
  const answer = await ask(path, options);
  try {
    return await answer.json();
  } catch (error) {
    throw new NotReached(String(error));
  }
}

async function problemOf(answer) {
  const plain = { status: answer.status, title: answer.statusText, detail: "", type: "about:blank", errors: [] };
  try {
    const problem = await answer.json();
    return { ...plain, ...problem, errors: Array.isArray(problem.errors) ? problem.errors : [], status: answer.status };
  } catch {
    return plain;
  }
}
