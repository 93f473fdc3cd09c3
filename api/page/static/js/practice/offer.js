/** What can be practised, as the service offered it last; kept for when there is no signal. */

import { askIfChanged, NotReached } from "../api.js";
import { read, write } from "../store.js";

const NAME = "practice.offer";
let offer = read(NAME);

/** What was offered last, or null. */
export function offered() {
  return offer;
}

/** An exercise by its id. */
export function exerciseOf(id) {
  return offer?.exercises.find((each) => each.id === id);
}

/** Ask anew; what was offered last stays where the service cannot be reached. Raises Refused. */
export async function refreshOffer() {
  try {
    const found = await askIfChanged("/v1/practice", offer?.etag ?? null);
    if (found && !Array.isArray(found.document?.exercises)) throw new NotReached("what answered is not the service");
    if (found) {
      offer = { ...found.document, etag: found.etag };
      write(NAME, offer);
    }
  } catch (error) {
    if (!(error instanceof NotReached)) throw error;
  }
}
