/**
 * A first look without the service: single limits and words, which are plain arithmetic over the rulebook's tables.
 *
 * It never lets a foot go on. What is computed or joined is the service's; where that may stop the foot, the first
 * look says to wait.
 */

import { admits, judging, rulebook, situationOf, spotOf } from "../rulebook.js";
import { pastLimit } from "./limits.js";
import { computedOf, isComputedAlone, readingsOf } from "./readings.js";

const GRAVITY = ["critical", "major", "minor"];

/**
 * @typedef {{rule: string, quantity: string, place: string, grade: string, value: number|string, blocks: boolean,
 *   action: string}} FirstFinding
 */

/**
 * @param {object} fitting  as it is sent
 * @returns {{decision: "stop_and_refer"|"put_right"|"wait", findings: FirstFinding[], left: string[]}}  `left`: the
 *   rules that only the service can judge by, since their limits follow what it works out
 */
export function firstLook(fitting) {
  const situation = situationOf(fitting);
  const table = readingsOf(fitting);
  const computed = computedOf(fitting);
  const factors = Object.fromEntries(rulebook().levels.map((level) => [level.id, level.standard_uncertainties]));
  const dimensionOf = (name) => table.get(`${name}@foot`) ?? null;
  const findings = [];
  const left = leftToService(computed);
  for (const [key, reading] of table) {
    if (computed.has(key)) continue;
    const place = key.slice(key.indexOf("@") + 1);
    const past = judging(reading.quantity, place, situation).filter(
      (rule) => isPast(rule, reading, dimensionOf, factors) && !isBarred(rule, place, table),
    );
    const ids = new Set(past.map((rule) => rule.id));
    for (const rule of past) {
      if (left.has(rule.id)) continue;
      if (rule.silent_when.some((id) => ids.has(id)) || !hasCompanions(rule, place, table)) continue;
      findings.push(findingOf(rule, reading, place, situation));
    }
  }
  findings.sort((one, other) => GRAVITY.indexOf(one.grade) - GRAVITY.indexOf(other.grade));
  const decision = decisionOf(findings, { situation, table, computed, dimensionOf, factors, left });
  return { decision, findings, left: [...left] };
}

/** Rules whose limits follow what is never stated, that what is computed may bar, or that one of these may silence. */
function leftToService(computed) {
  const worked = new Set([...computed].map((key) => key.slice(0, key.indexOf("@"))));
  const barred = ({ only_without: names }) => Object.keys(names).some((name) => worked.has(name));
  const follows = (limit) => limit !== null && typeof limit === "object" && isComputedAlone(limit.of);
  const single = rulebook().rules.filter(({ layer }) => layer === "single");
  const first = new Set(single.filter((rule) => follows(rule.limit.low) || follows(rule.limit.high) || barred(rule)).map(({ id }) => id));
  const silenced = single.filter(({ silent_when: graver }) => graver.some((id) => first.has(id))).map(({ id }) => id);
  return new Set([...first, ...silenced]);
}

function findingOf(rule, reading, place, situation) {
  const { id, grade, blocks, actions } = rule;
  return { rule: id, quantity: reading.quantity, place, grade, value: reading.value, blocks, action: actions[situation.stage] ?? "" };
}

function isPast(rule, reading, dimensionOf, factors) {
  if (typeof reading.value === "string") return rule.limit.words.includes(reading.value);
  return pastLimit(rule, reading, dimensionOf, factors);
}

function hasCompanions(rule, place, table) {
  return Object.entries(rule.only_with).every(([name, words]) => words.includes(table.get(`${name}@${place}`)?.value));
}

function isBarred(rule, place, table) {
  return Object.entries(rule.only_without).some(([name, words]) => {
    const read = table.get(`${name}@${place}`) ?? table.get(`${name}@foot`);
    return read !== undefined && (words.length === 0 || words.includes(read.value));
  });
}

function decisionOf(findings, known) {
  if (findings.some(({ grade }) => grade === "critical")) return "stop_and_refer";
  if (mayStop(findings, known)) return "wait";
  return findings.some(({ grade, blocks }) => grade === "major" && blocks) ? "put_right" : "wait";
}

/** Whether what is computed, or what belongs together, may be critical. */
function mayStop(findings, known) {
  const { situation, computed, table, left } = known;
  for (const [key, { quantity }] of table) {
    const place = key.slice(key.indexOf("@") + 1);
    if (judging(quantity, place, situation).some(({ id, grade }) => grade === "critical" && left.has(id))) return true;
  }
  for (const key of computed) {
    const [name, place] = [key.slice(0, key.indexOf("@")), key.slice(key.indexOf("@") + 1)];
    if (judging(name, place, situation).some((rule) => rule.grade === "critical")) return true;
  }
  const quantities = new Set([...computed].map((key) => key.slice(0, key.indexOf("@"))));
  return rulebook().rules.some(
    (rule) => rule.layer === "joined" && rule.grade === "critical" && admits(rule.applies, situation, null)
      && rule.when.every((clause) => mayMeet(clause, findings, quantities, known)),
  );
}

function mayMeet(clause, findings, computed, known) {
  const { table, dimensionOf, factors } = known;
  if (clause.findings.length) {
    const found = ({ rule, place }) => clause.findings.includes(rule) && (clause.at === null || spotOf(place) === clause.at);
    const ofComputed = (rule) => clause.findings.includes(rule.id) && (rule.layer === "joined" || known.left.has(rule.id) || computed.has(rule.quantity));
    return findings.some(found) || rulebook().rules.some(ofComputed);
  }
  if (computed.has(clause.reading)) return true;
  return [...table].some(([key, reading]) => {
    const place = key.slice(key.indexOf("@") + 1);
    if (reading.quantity !== clause.reading || spotOf(place) !== clause.at) return false;
    return clause.limit === null || pastLimit(clause, reading, dimensionOf, factors);
  });
}
