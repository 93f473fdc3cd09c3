/** Bias, spread and lapses, as fitcheck/practice/estimates.py tells them; a test holds both together. */

import { after, peopleOf } from "./people.js";

/** @returns {{value: number, low: number|null, high: number|null}} */
function estimate(points, weights, { level, edge }) {
  const step = points[1] - points[0];
  const first = points[0] - step / 2;
  const sums = [0];
  for (const each of weights) sums.push(sums.at(-1) + each);
  const at = (share) => {
    const wanted = share * sums.at(-1);
    const place = Math.max(1, sums.findIndex((sum) => sum >= wanted));
    const part = sums[place] - sums[place - 1];
    return first + step * (place - 1 + (part > 0 ? (wanted - sums[place - 1]) / part : 0));
  };
  const tail = (1 - level) / 2;
  const [low, value, high] = [at(tail), at(0.5), at(1 - tail)];
  const margin = edge * step * points.length;
  return {
    value,
    low: low < first + margin ? null : low,
    high: high > first + step * points.length - margin ? null : high,
  };
}

/** What these answers tell of whoever gave them. */
export function eyeOf(exercise, grid, answers) {
  const people = peopleOf(exercise, grid, grid.estimate);
  const weights = after(people, answers, exercise.bounds);
  const biases = people.bias.map(() => 0);
  const spreads = people.spread.map(() => 0);
  let [lapse, place] = [0, 0];
  for (let bias = 0; bias < biases.length; bias++) {
    for (let spread = 0; spread < spreads.length; spread++) {
      for (const share of people.lapse) {
        const weight = weights[place++];
        biases[bias] += weight;
        spreads[spread] += weight;
        lapse += weight * share;
      }
    }
  }
  const spread = estimate(people.spread.map(Math.log), spreads, grid);
  const back = (end) => (end === null ? null : Math.exp(end));
  return {
    answers: answers.length,
    bias: estimate(people.bias, biases, grid),
    spread: { value: Math.exp(spread.value), low: back(spread.low), high: back(spread.high) },
    lapse,
  };
}
