/** Answers that stand beside the questions: of the record, the days, and what is known of the shoe. */

import { OBSERVABLES } from "./observables.js";

/** Fields of the record. */
export const RECORD_FIELDS = ["horse.id", "visit", "person.id", "person.role", "assessor.id", "notes"];
/** Days, which are stated and never judged by themselves. */
export const DAYS = ["last_shod", "fitted"].map((name) => OBSERVABLES[name].fields[0].path);
/** What is known of the shoe by itself: whether there is a clip at the toe. */
export const HAS_CLIP = "own.clip";
