/** One reading against one rule, in whole millionths as the service does it (its rules/engine/verification). */

const MICRO = 1_000_000;
const CLEAR = 1e-5;

/** Half to even, as the service rounds. */
function rounded(value) {
  const below = Math.floor(value);
  const rest = value - below;
  if (rest !== 0.5) return Math.round(value);
  return below % 2 === 0 ? below : below + 1;
}

/**
 * Whether a number lies past an end of a rule's range.
 *
 * @param {object} rule  a rule or a clause of the rulebook: limit, level
 * @param {{value: number, u: number}} reading
 * @param {(dimension: string) => {value: number, u: number}|null} dimensionOf  a dimension that a limit follows
 * @param {Record<string, number>} factors  how many standard uncertainties before its limit each level fires
 */
export function pastLimit(rule, reading, dimensionOf, factors = {}) {
  const factor = factors[rule.level] ?? 0;
  for (const [limit, sign] of [[rule.limit.low, -1], [rule.limit.high, 1]]) {
    if (limit === null) continue;
    let [{ value, u }, end] = [reading, limit];
    if (typeof limit === "object") {
      const dimension = dimensionOf(limit.of);
      if (!dimension) continue;
      value -= limit.times * dimension.value;
      u = Math.hypot(u, limit.times * dimension.u);
      end = limit.plus;
    }
    value += sign * factor * u;
    if (sign * (value - end) < -CLEAR) continue;
    const beyond = sign * (rounded(value * MICRO) - rounded(end * MICRO));
    if (beyond > 0 || (beyond === 0 && rule.limit.edge_fires)) return true;
  }
  return false;
}
