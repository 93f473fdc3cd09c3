/**
 * What is kept on this telephone, as JSON in localStorage, and who wants to know when another window changes it. A
 * browser that gives the page no store, as some do in private windows, keeps it while the page is open.
 */

const PREFIX = "fitcheck.";
const listeners = new Set();
const memories = new Map();

/** A store that is gone when the page is closed. */
function memoryOf(name) {
  if (!memories.has(name)) memories.set(name, new Map());
  const kept = memories.get(name);
  return {
    getItem: (key) => kept.get(key) ?? null,
    setItem: (key, text) => void kept.set(key, text),
    removeItem: (key) => void kept.delete(key),
    keys: () => [...kept.keys()],
  };
}

/** The store of that name, or one in memory where there is none that takes anything at all. */
function storeOf(name) {
  try {
    const store = window[name];
    const probe = `${PREFIX}probe`;
    // A store that is full is one all the same.
    if (store.length === 0) {
      store.setItem(probe, "1");
      store.removeItem(probe);
    }
    return store;
  } catch {
    return memoryOf(name);
  }
}

const kept = storeOf("localStorage");
const ownKept = storeOf("sessionStorage");

/** Whether what is kept outlives closing the page. */
export function outlives() {
  return !memories.has("localStorage");
}

function readFrom(store, name, otherwise) {
  try {
    const raw = store.getItem(PREFIX + name);
    return raw === null ? otherwise : JSON.parse(raw);
  } catch {
    return otherwise;
  }
}

function writeTo(store, name, value) {
  try {
    store.setItem(PREFIX + name, JSON.stringify(value));
  } catch {
    return false;
  }
  return true;
}

/** What is kept under `name`, or `otherwise`. */
export function read(name, otherwise = null) {
  return readFrom(kept, name, otherwise);
}

/** Keep `value` under `name`; false where the telephone has no room or does not allow it. */
export function write(name, value) {
  return writeTo(kept, name, value);
}

/** What this window has at hand under `name`, else what any window had last. */
export function readOwn(name, otherwise = null) {
  const own = readFrom(ownKept, name, undefined);
  return own === undefined ? read(name, otherwise) : own;
}

/** Have `value` at hand in this window, and in those that are opened after it. */
export function writeOwn(name, value) {
  writeTo(ownKept, name, value);
  return write(name, value);
}

/** Keep nothing under `name` any more. */
export function remove(name) {
  for (const store of [kept, ownKept]) {
    try {
      store.removeItem(PREFIX + name);
    } catch {
      continue;
    }
  }
}

/** The names that begin with `start`. */
export function names(start) {
  try {
    return (kept.keys?.() ?? Object.keys(kept)).filter((name) => name.startsWith(PREFIX + start)).map((name) => name.slice(PREFIX.length));
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
