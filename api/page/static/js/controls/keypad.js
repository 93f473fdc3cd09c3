/** The keypad: digits, a point, minus, fractions of an inch; on to the next number and back to the one before. */

import { button, el } from "../dom.js";
import { decimalSign, digits, t } from "../messages.js";
import { numberOf } from "../reading.js";
import { change, settings } from "../settings.js";

const FRACTIONS = ["1/16", "1/8", "3/16", "1/4", "3/8", "1/2", "5/8", "3/4"];
const MOST = 9;
/** The keys of a desk that stand for the pad's. */
const SIGNS = { ".": ".", ",": ".", "-": "−", Backspace: "⌫" };
const NAMES = { mm: "unit.mm", in: "unit.in", s: "unit.s", deg: "unit.deg", kg: "unit.kg", "%": "unit.percent" };

/** What a key makes of a text: digits after digits, one point, one fraction at the end. */
export function typed(text, key) {
  if (key === "⌫") return text.includes("/") ? text.replace(/\s*\S+$/, "") : text.slice(0, -1);
  if (key === "−") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (key.includes("/")) return `${text.replace(/\s*\d+\/\d+$/, "").replace(/\..*$/, "")} ${key}`.trim();
  if (key === "." && (text.includes(".") || text.includes("/"))) return text;
  if (text.includes("/") || text.length >= MOST) return text;
  return text + key;
}

/** The name of a unit. */
export function unitName(unit) {
  return t(NAMES[unit] ?? unit);
}

/**
 * @param {object} of
 * @param {string} of.label
 * @param {string} of.unit  of the question: mm may be given in inches
 * @param {{n: string, unit: string}|undefined} of.value
 * @param {(value: {n: string, unit: string}|undefined) => void} of.onChange
 * @param {(() => void)|null} of.onNext
 * @param {(() => void)|null} of.onBack
 * @param {() => void} of.onDone
 */
export function keypad({ label, unit, value, onChange, onNext, onBack, onDone }) {
  const length = unit === "mm";
  const own = length ? value?.unit ?? settings().unit : unit;
  let text = value?.n ?? "";
  const shown = el("output", { class: "shown", id: "keypad-shown", "aria-live": "polite" });
  const show = () => shown.replaceChildren(el("span", { class: "digits" }, text ? digits(text) : "–"), " ", el("span", { class: "unit" }, unitName(own)));
  const press = (key) => {
    text = typed(text, key);
    show();
    const done = numberOf(text) !== null;
    onChange(done ? { n: text, unit: own } : undefined);
  };
  const key = (sign, name = sign, shows = sign) => button(shows, () => press(sign), { class: sign.includes("/") ? "key part" : "key", "data-key": sign, "aria-label": name });
  function onKey(event) {
    const sign = SIGNS[event.key] ?? (/^\d$/.test(event.key) ? event.key : null);
    if (sign === null || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    press(sign);
  }
  const other = own === "mm" ? "in" : "mm";
  const swap = () => {
    change({ unit: other });
    onChange(undefined, other);
  };
  show();
  return el(
    "div",
    { class: "keypad", role: "group", "aria-label": label, on: { keydown: onKey } },
    el("p", { class: "label" }, label),
    shown,
    own === "in" ? el("div", { class: "parts-row" }, FRACTIONS.map((each) => key(each))) : null,
    el(
      "div",
      { class: "keys" },
      [..."123"].map((each) => key(each)),
      key("⌫", t("key.erase")),
      [..."456"].map((each) => key(each)),
      key("−", t("key.minus")),
      [..."789"].map((each) => key(each)),
      own === "in" ? null : key(".", t("key.point"), decimalSign()),
      key("0"),
      length ? button(unitName(other), swap, { class: "key unit-key", id: "keypad-unit" }) : null,
    ),
    el(
      "div",
      { class: "keypad-nav" },
      button(t("key.back"), onBack ?? onDone, { id: "keypad-back" }),
      button(t(onNext ? "key.next" : "key.done"), onNext ?? onDone, { id: "keypad-next", class: "onward" }),
    ),
  );
}
