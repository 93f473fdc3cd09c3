/** Choices that outlast a fitting: unit, language, access key. */

import { read, remove, write } from "./store.js";

const NAME = "settings";
const KEY = "key";
let keyInMemory = null;

/** @returns {{unit: "mm"|"in", language: string|null}} */
export function settings() {
  return { unit: "mm", language: null, ...read(NAME, {}) };
}

/** Change some choices. */
export function change(some) {
  write(NAME, { ...settings(), ...some });
}

/** The access key, or null. */
export function accessKey() {
  return keyInMemory ?? read(KEY);
}

/** Whether the key outlasts closing the page. */
export function keyIsKept() {
  return read(KEY) !== null;
}

/** Use `key`, or none where it is empty; keep it on this telephone only where `keep`. */
export function useKey(key, keep) {
  keyInMemory = key || null;
  if (key && keep) write(KEY, key);
  else remove(KEY);
}
