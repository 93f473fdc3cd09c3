/** Drawing after drawing: a word, at once the truth, the next. Time is counted and never waited for. */

import { announce, button, el } from "../dom.js";
import { t } from "../messages.js";
import { drawingOf } from "./drawing.js";
import { freshSeed } from "./random.js";
import { recipeOf } from "./recipes.js";
import { figure, wordTitle } from "./sentences.js";

/** The word of the book for a value, counted from 0; a bound itself still belongs to the word below. */
export function trueWord(value, bounds) {
  return bounds.filter((bound) => value > bound).length;
}

/** One session as it goes on. */
export class Drill {
  /** @param {object} page @param {object} exercise @param {object} session @param {import("./choice.js").Chooser} chooser */
  constructor(page, exercise, session, chooser) {
    Object.assign(this, { page, exercise, session, chooser, said: null, recipe: null, since: 0 });
    for (const { value, word } of session.drawings) chooser.add({ value, word: exercise.words.indexOf(word) });
    this.next();
  }

  /** The next drawing; what nobody answered counts for nothing. */
  next() {
    const value = this.chooser.drawn(crypto.getRandomValues(new Uint32Array(1))[0] / 2 ** 32);
    this.recipe = recipeOf(this.exercise, value, freshSeed());
    this.said = null;
    this.since = performance.now();
  }

  /** Say a word, counted from 0. */
  say(word) {
    if (this.said !== null) return;
    const ms = Math.min(600_000, Math.round(performance.now() - this.since));
    const { seed, foot, place, value } = this.recipe;
    this.said = word;
    this.session.drawings.push({ seed, foot, place, value, word: this.exercise.words[word], ms });
    this.chooser.add({ value, word });
    this.page.answered(this);
  }

  view() {
    const { exercise, session, recipe, said } = this;
    const of = this.page.drawings;
    const number = session.drawings.length + (said === null ? 1 : 0);
    const truth = trueWord(recipe.value, session.bounds);
    const where = [t(`foot.${recipe.foot}`), exercise.places.length > 1 ? t(`place.${recipe.place}.short`) : null].filter(Boolean).join(", ");
    return [
      el(
        "header",
        { class: "top" },
        el("div", { class: "top-row" }, el("h1", { tabindex: "-1", id: "heading" }, t("practice.number", { number, of })), button(t("practice.stop"), () => this.page.stop(), { class: "top-all", id: "stop" })),
      ),
      el(
        "main",
        { class: "practice drill" },
        el("p", { class: "where", id: "where" }, `${t(`practice.ask.${exercise.id}`)} `, el("span", { class: "trade" }, where)),
        drawingOf(recipe, said !== null),
        exercise.id === "level" ? el("p", { class: "sides", "aria-hidden": "true" }, el("span", {}, t(recipe.mirror ? "practice.outer" : "practice.inner")), el("span", {}, t(recipe.mirror ? "practice.inner" : "practice.outer"))) : null,
        el("p", { class: said === null ? "truth" : truth === said ? "truth right" : "truth wrong", id: "said" }, said === null ? "" : this.told(truth)),
        el(
          "div",
          { class: "answers-bar" },
          el(
            "div",
            { class: exercise.words.length === 3 ? "word-buttons three" : "word-buttons", role: "group", "aria-label": t(`practice.ask.${exercise.id}`) },
            exercise.words.map((word, place) =>
              button([el("span", { class: "key", "aria-hidden": "true" }, String(place + 1)), wordTitle(exercise, word)], () => this.say(place), {
                class: `answer-word${said !== null && place === truth ? " true" : ""}`,
                id: `word-${place + 1}`,
                disabled: said !== null,
                "aria-pressed": String(place === said),
              }),
            ),
          ),
          said === null ? null : button(t(session.drawings.length < of ? "practice.next" : "practice.outcome"), () => this.page.goOn(this), { class: "wide onward", id: "next-drawing" }),
        ),
      ),
    ];
  }

  /** What is true, in words. */
  told(truth) {
    const { exercise, recipe, said } = this;
    const parts = { word: wordTitle(exercise, exercise.words[truth]), amount: figure(recipe.value, exercise) };
    return t(truth === said ? "practice.right" : "practice.wrong", parts);
  }
}

/** Say the truth also to those who listen. */
export function announceTruth() {
  announce(document.getElementById("said")?.textContent ?? "");
}
