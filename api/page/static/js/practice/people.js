/**
 * The grid of people of fitcheck/practice/people.py, worked out on the telephone: how likely each word is for whoever has
 * a bias, a spread and lapses. A test holds both together. Arrays run over bias, then spread, then lapse.
 *
 * @typedef {{value: number, word: number}} Answer
 * @typedef {{bias: number[], spread: number[], lapse: number[], prior: Float64Array}} People
 */

import { below } from "./normal.js";

/** `count` numbers from `low` to `high`, evenly. */
export function evenly(low, high, count) {
  const step = (high - low) / (count - 1);
  return Array.from({ length: count }, (_, place) => (place === count - 1 ? high : low + place * step));
}

/** The grid of an exercise with so many biases and spreads. @returns {People} */
export function peopleOf(exercise, grid, [biases, spreads]) {
  const bias = evenly(...grid.bias, biases).map((each) => each * exercise.scale);
  const spread = evenly(...grid.spread.map(Math.log), spreads).map((each) => Math.exp(each) * exercise.scale);
  const total = grid.lapse_weight.reduce((sum, each) => sum + each, 0) * biases * spreads;
  const prior = new Float64Array(biases * spreads * grid.lapse.length);
  for (let place = 0; place < prior.length; place++) prior[place] = grid.lapse_weight[place % grid.lapse.length] / total;
  return { bias, spread, lapse: grid.lapse, prior };
}

/** How likely each person sees what belongs to that word or to one below it, by bias and spread. */
function upTo(people, value, bounds, word) {
  const found = new Float64Array(people.bias.length * people.spread.length);
  if (word < 0) return found;
  if (word >= bounds.length) return found.fill(1);
  let place = 0;
  for (const bias of people.bias) for (const spread of people.spread) found[place++] = below((bounds[word] + bias - value) / spread);
  return found;
}

/** How likely that word is for each person. */
export function likelihood(people, value, bounds, word) {
  const [high, low] = [upTo(people, value, bounds, word), upTo(people, value, bounds, word - 1)];
  const found = new Float64Array(people.prior.length);
  const words = bounds.length + 1;
  let place = 0;
  for (let seen = 0; seen < high.length; seen++) {
    for (const lapse of people.lapse) found[place++] = lapse / words + (1 - lapse) * (high[seen] - low[seen]);
  }
  return found;
}

/** The posterior after one more answer. */
export function afterOne(people, weights, { value, word }, bounds) {
  const found = likelihood(people, value, bounds, word);
  let sum = 0;
  for (let place = 0; place < found.length; place++) sum += found[place] *= weights[place];
  for (let place = 0; place < found.length; place++) found[place] /= sum;
  return found;
}

/** The posterior after all answers. */
export function after(people, answers, bounds) {
  return answers.reduce((weights, answer) => afterOne(people, weights, answer, bounds), people.prior);
}
