/**
 * The photograph that is traced, kept in this browser (IndexedDB) so that a reload loses nothing; it never leaves it.
 *
 * One at a time: the next one takes its place, and it goes when the tracing is used or taken away.
 */

const NAME = "fitcheck.photos";
const STORE = "photos";
const KEY = "traced";

function opened() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
    asked.onblocked = asked.onerror;
  });
}

async function done(mode, act) {
  try {
    const base = await opened();
    return await new Promise((resolve, reject) => {
      const asked = act(base.transaction(STORE, mode).objectStore(STORE));
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    }).finally(() => base.close());
  } catch {
    // A browser without a store, or a full one: the photograph is then chosen again.
    return undefined;
  }
}

/** Keep the file that a sheet is traced from. */
export function keepPhoto(sheetId, file) {
  return done("readwrite", (store) => store.put({ sheetId, file }, KEY));
}

/** The file that a sheet is traced from; undefined where it is not kept. @returns {Promise<Blob|undefined>} */
export async function keptPhoto(sheetId) {
  const kept = await done("readonly", (store) => store.get(KEY));
  return kept?.sheetId === sheetId ? kept.file : undefined;
}

/** Let the photograph go where its sheet is traced no more: it was used, sent or thrown away. @param {(sheetId: string) => boolean} traced */
export async function tidyPhotos(traced) {
  const kept = await done("readonly", (store) => store.get(KEY));
  if (kept && !traced(kept.sheetId)) await forgetPhoto();
}

/** Let the photograph go. */
export function forgetPhoto() {
  return done("readwrite", (store) => store.delete(KEY));
}
