/** What is kept on this telephone, as JSON in localStorage, and who wants to know when another window changes it. */

const PREFIX = "fitcheck.";
const listeners = new Set();

/** What is kept under `name`, or `otherwise`. */
export function read(name, otherwise = null) {
  try {
    const raw = localStorage.getItem(PREFIX + name);
    return raw === null ? otherwise : JSON.parse(raw);
  } catch {
    return otherwise;
  }
}

/** Keep `value` under `name`; false where the telephone has no room or does not allow it. */
export function write(name, value) {
  try {
    localStorage.setItem(PREFIX + name, JSON.stringify(value));
  } catch {
    return false;
  }
  return true;
}

/** Keep nothing under `name` any more. */
export function remove(name) {
  try {
    localStorage.removeItem(PREFIX + name);
  } catch {
    return;
  }
}

/** The names that begin with `start`. */
export function names(start) {
  try {
    return Object.keys(localStorage)
      .filter((name) => name.startsWith(PREFIX + start))
      .map((name) => name.slice(PREFIX.length));
  } catch {
    return [];
  }
}

/** Have `listener` called with each name that changes in another window. */
export function watchOthers(listener) {
  listeners.add(listener);
}

addEventListener("storage", (event) => {
  if (!event.key?.startsWith(PREFIX)) return;
  for (const listener of listeners) listener(event.key.slice(PREFIX.length));
});
