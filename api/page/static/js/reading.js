/** A reading as it is typed or tapped, and as the service takes it. */

/** @typedef {{n: string, unit: string}} Typed  what stands in the field, and the unit that it is in */

const SIXTEENTHS = 16;
const MM_PER_INCH = 25.4;
const FRACTION = /^\s*(-)?\s*(?:(\d{1,3})\s+)?(\d{1,3})\/(\d{1,3})\s*$/;

/** The number that a text stands for: `2.4`, `2,4`, `1/8`, `1 5/8`; null where it is none. */
export function numberOf(text) {
  const fraction = FRACTION.exec(text);
  if (fraction) {
    const [, minus, whole, over, under] = fraction;
    if (Number(under) === 0) return null;
    const value = Number(whole ?? 0) + Number(over) / Number(under);
    return minus ? -value : value;
  }
  const plain = text.trim().replace(",", ".").replace("−", "-");
  return /^-?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null;
}

/** Inches to the nearest sixteenth, as a workshop writes them. */
export function asFraction(inches) {
  const parts = Math.round(Math.abs(inches) * SIXTEENTHS);
  const minus = inches < 0 && parts > 0 ? "-" : "";
  const whole = Math.floor(parts / SIXTEENTHS);
  let [over, under] = [parts % SIXTEENTHS, SIXTEENTHS];
  while (over && over % 2 === 0) [over, under] = [over / 2, under / 2];
  if (!over) return `${minus}${whole}`;
  return `${minus}${whole ? `${whole} ` : ""}${over}/${under}`;
}

/** What is sent for what was typed; a text that is no number goes as it is, and the service says what is wrong. */
export function asSent({ n, unit }) {
  const value = numberOf(n);
  if (unit === "%") return value === null ? n : Math.round(value * 10) / 1000;
  if (unit === "in") {
    return value === null || FRACTION.test(n) ? { value: n.trim(), unit } : { value, unit };
  }
  return value === null ? n : value;
}

/**
 * One step up or down from what stands in the field.
 *
 * @param {Typed|undefined} typed
 * @param {{unit: string, step: number, start: number}} field  unit to write in; step and start in mm or own unit
 * @param {1|-1} way
 * @returns {Typed}
 */
export function stepped(typed, { unit, step, start }, way) {
  const value = typed === undefined ? null : numberOf(typed.n);
  if (unit === "in") {
    const least = step < 0.25 ? 1 / 64 : 1 / SIXTEENTHS;
    const now = value === null ? start / MM_PER_INCH : typed.unit === "in" ? value + way * least : value / MM_PER_INCH;
    return { n: step < 0.25 ? tidy(now, 0.001) : asFraction(now), unit };
  }
  let now = value;
  if (value === null) now = start;
  else if (typed.unit === "in" && unit === "mm") now = value * MM_PER_INCH;
  else now = value + way * step;
  return { n: tidy(now, step), unit };
}

/** A number without the crumbs of binary fractions. */
function tidy(value, step) {
  const decimals = Math.max(0, Math.ceil(-Math.log10(step)));
  return String(Number(value.toFixed(decimals)));
}

/** Millimetres of a typed length, or null. */
export function millimetres({ n, unit }) {
  const value = numberOf(n);
  if (value === null) return null;
  return unit === "in" ? value * MM_PER_INCH : value;
}
