/** Which value is drawn next (QUEST+, Watson 2017), as fitcheck/practice/choice.py has it; a test holds both together. */

import { afterOne, evenly, likelihood, peopleOf } from "./people.js";

const ALIKE = 1e-9;
const FINE = 1000;

/** x log x, 0 of 0. */
function information(x) {
  return x > 0 ? x * Math.log(x) : 0;
}

/** Chooses drawings for one exercise; `add` what was said of each. */
export class Chooser {
  /** @param {object} exercise  as /v1/practice offers it @param {object} grid  its people */
  constructor(exercise, grid) {
    Object.assign(this, { exercise, grid, count: 0 });
    this.people = peopleOf(exercise, grid, grid.choice);
    this.weights = this.people.prior;
    this.candidates = evenly(exercise.low, exercise.high, grid.candidates);
    this.likely = this.candidates.map((value) => exercise.words.map((_, word) => likelihood(this.people, value, exercise.bounds, word)));
    this.own = this.likely.map((words) => words.map((each) => each.map(information)));
  }

  add(answer) {
    this.weights = afterOne(this.people, this.weights, answer, this.exercise.bounds);
    this.count += 1;
  }

  /** The entropy that is expected after each candidate. */
  entropies() {
    const { weights } = this;
    const plain = weights.map(information);
    return this.likely.map((words, candidate) => {
      let expected = 0;
      words.forEach((likely, word) => {
        const own = this.own[candidate][word];
        let [marginal, joint] = [0, 0];
        for (let place = 0; place < likely.length; place++) {
          marginal += likely[place] * weights[place];
          joint += likely[place] * plain[place] + own[place] * weights[place];
        }
        expected += information(marginal) - joint;
      });
      return expected;
    });
  }

  /** The candidate that tells most. */
  next() {
    const expected = this.entropies();
    const least = Math.min(...expected);
    return this.candidates[expected.findIndex((each) => each <= least + ALIKE)];
  }

  /** The value to draw; `share` is chance from 0 to 1: somewhere about the choice, now and then anywhere. */
  drawn(share) {
    const { low, high } = this.exercise;
    const anywhere = (this.count + 1) % this.grid.every === 0;
    const value = anywhere ? low + share * (high - low) : this.next() + ((share - 0.5) * (high - low)) / (this.grid.candidates - 1);
    return Math.floor(Math.min(Math.max(value, low), high) * FINE + 0.5) / FINE;
  }
}
