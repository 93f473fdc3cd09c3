/** What a fitting has as lists: written by `python -m api.page.write_observables`, not by hand. */

/** The lists of nails, of holes and of clips. */
export const NAILS = "observations.nails";
export const HOLES = "shoe.holes";
export const CLIPS = "observations.toe_fit.clips";

/**
 * What is stated as a list of places: the list, the places, of what was seen also what it is and how it is said.
 *
 * @type {Record<string, {path: string, places: string[], what?: string, words?: string[]}>}
 */
export const LISTED = {
  seen_crack: {"path": "observations.seen", "places": ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel", "sole", "foot"], "what": "crack", "words": ["seen", "deep", "examined"]},
  seen_bruise: {"path": "observations.seen", "places": ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel", "sole", "foot"], "what": "bruise", "words": ["seen", "deep", "examined"]},
  seen_smell: {"path": "observations.seen", "places": ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel", "sole", "foot"], "what": "smell", "words": ["seen", "deep", "examined"]},
  seen_heat: {"path": "observations.seen", "places": ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel", "sole", "foot"], "what": "heat", "words": ["seen", "deep", "examined"]},
  seen_discharge: {"path": "observations.seen", "places": ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel", "sole", "foot"], "what": "discharge", "words": ["seen", "deep", "examined"]},
  seen_blood: {"path": "observations.seen", "places": ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel", "sole", "foot"], "what": "blood", "words": ["seen", "deep", "examined"]},
  dark_patch: {"path": "observations.scorch.dark", "places": ["toe", "medial_quarter", "lateral_quarter", "medial_heel", "lateral_heel"]},
};

/** What is said of each clip of the list: the quantity of each of its keys, and the places of clips. */
export const OF_A_CLIP = {"state": "clip", "height": "clip_height"};
export const CLIP_PLACES = ["toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter"];

/**
 * What stands of the assessment before at a visit: the dressing, what was seen on the foot, the imprint but for what is
 * felt for anew, and of each nail.
 */
export const STANDS = {"dressing": "observations.dressing", "seen": "observations.seen", "imprint": "observations.scorch", "anew": ["sole_pressure"], "nail": ["exit_height", "sound", "reaction", "blood", "position"]};
