/** What belongs together under one look: the groups of the form, in the order in which a foot is gone over. */

import { LISTED } from "../lists.js";

/** Which group a criterion's questions stand in; one that is not named here stands in a group of its own. */
const OF_CRITERION = {
  dressing: "dressing",
  heel_fit: "heels",
  toe_fit: "toe",
  clips: "toe",
  levelness: "seat",
  scorch: "imprint",
  nails: "nails",
  clinches: "hand",
  finish: "hand",
  soundness: "going",
  going: "going",
  shoe: "shoe",
  history: "history",
};

/** Quantities that are looked at with others than those of their criterion. */
const OF_QUANTITY = { sole_pressure: "seat", head: "nails" };

/** Which of them are of what was seen on the foot, whatever the stage. */
const SEEN_GROUP = "seen";

/** Groups that say how big things are, or when: nothing in them can be good. */
export const PLAIN = ["shoe", "history", "sizes"];

const ORDER = ["dressing", "heels", "toe", "seat", "imprint", "nails", "hand", "going", SEEN_GROUP];

/** The group of a quantity. */
export function groupOf(quantity, criterion, stage) {
  // Before nails are driven, holes are looked at along the nail line.
  if (criterion === "nails" && ["dressed", "hot_fit"].includes(stage)) return "toe";
  if (LISTED[quantity]?.what) return SEEN_GROUP;
  return OF_QUANTITY[quantity] ?? OF_CRITERION[criterion] ?? criterion ?? "sizes";
}

/** Groups in the order of the form. */
export function inOrder(groups) {
  const rank = (group) => {
    const plain = PLAIN.indexOf(group);
    const found = ORDER.indexOf(group);
    return plain >= 0 ? 200 + plain : found >= 0 ? found : 100;
  };
  return [...groups].sort((one, other) => rank(one) - rank(other));
}
