/** What is kept on this telephone, as JSON in localStorage, and who wants to know when it changes. */

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
  changed(name);
  return true;
}

/** Keep nothing under `name` any more. */
export function remove(name) {
  try {
    localStorage.removeItem(PREFIX + name);
  } catch {
    return;
  }
  changed(name);
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

/** Have `listener` called with each name that changes, here or in another window. */
export function watch(listener) {
  listeners.add(listener);
}

function changed(name) {
  for (const listener of listeners) listener(name);
}

addEventListener("storage", (event) => {
  if (event.key?.startsWith(PREFIX)) changed(event.key.slice(PREFIX.length));
});
