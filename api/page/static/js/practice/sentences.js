/** What practice tells of an eye, as fitcheck/practice/sentences.py says it, by the same messages. */

import { digits, t } from "../messages.js";

/** A number of the exercise with its unit; a share in per cent. */
export function figure(value, exercise) {
  const [unit, shown] = exercise.unit === "1" ? ["percent", value * 100] : [exercise.unit, value];
  const text = Math.abs(shown).toFixed(exercise.decimals);
  return t(`exercise.unit.${unit}`, { figure: digits((shown < 0 && Number(text) !== 0 ? "-" : "") + text) });
}

/** What a word is called. */
export function wordTitle(exercise, word) {
  return t(`word.${exercise.spoken}.${word}`);
}

function range(exercise, low, high) {
  const form = low !== null && high !== null ? "both" : low !== null ? "low" : high !== null ? "high" : "none";
  return t(`exercise.range.${form}`, { low: low === null ? "" : figure(low, exercise), high: high === null ? "" : figure(high, exercise) });
}

/** To which side the eye errs, and how far; null where the interval does not settle it. */
function biasOf(exercise, { bias }) {
  const { value, low, high } = bias;
  let [way, ends] = ["", []];
  if (low !== null && low > 0) [way, ends] = ["less", [low, high]];
  else if (high !== null && high < 0) [way, ends] = ["more", [-high, low === null ? null : -low]];
  else return null;
  return t("exercise.one_way", { amount: figure(Math.abs(value), exercise), way: t(`exercise.${way}.${exercise.id}`), range: range(exercise, ...ends) });
}

function noBias(exercise, { low, high }) {
  if (low === null || high === null) return t("exercise.no_way_yet");
  const [less, more] = ["less", "more"].map((way) => t(`exercise.${way}.${exercise.id}`));
  return t("exercise.no_way", { low: figure(high, exercise), less, high: figure(-low, exercise), more });
}

function spreadOf(exercise, { value, low, high }) {
  if (low !== null && high !== null) return t("exercise.spread", { amount: figure(value, exercise), range: range(exercise, low, high) });
  if (high !== null) return t("exercise.spread_least", { high: figure(high, exercise) });
  if (low !== null) return t("exercise.spread_most", { low: figure(low, exercise) });
  return t("exercise.spread_yet");
}

/** How many words were right, then bias, spread, where the middle words lie, slips. */
export function sentences(exercise, grid, eye, right) {
  const first = t("exercise.as_in_book", { right, answers: eye.answers });
  if (eye.answers < grid.needed) return [first, t("exercise.few", { answers: eye.answers, needed: grid.needed })];
  // Where the bias is open, so is where a word begins.
  const settled = eye.bias.low !== null && eye.bias.high !== null;
  const words = (settled ? exercise.words.slice(1, -1) : []).map((word, place) => {
    const [low, high] = exercise.bounds.slice(place, place + 2);
    const ends = { low, high, begins: low + eye.bias.value, ends: high + eye.bias.value };
    const shown = Object.fromEntries(Object.entries(ends).map(([name, end]) => [name, figure(end, exercise)]));
    return t("exercise.word", { word: wordTitle(exercise, word), ...shown });
  });
  const percent = t("exercise.unit.percent", { figure: (eye.lapse * 100).toFixed(0) });
  const slips = eye.lapse >= grid.slips ? [t("exercise.slips", { percent })] : [];
  return [first, biasOf(exercise, eye) ?? noBias(exercise, eye.bias), spreadOf(exercise, eye.spread), ...words, ...slips];
}
