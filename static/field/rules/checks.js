/**
 * What the rules share: the conditions of a verdict, and how far a sample cut short carries them.
 * Homes in the core: inspection/standards/registry.py (`Check`), thickness.py, completeness.py.
 */

import { apart, compare, greatest, least, less, same, toNumber } from "./exact.js";

/** An input that cannot be judged: `faults` are `{message, field, row}`, as the API answers them. */
export class Refused extends Error {
  constructor(faults) {
    super(faults.map((fault) => fault.message).join(" "));
    this.name = "Refused";
    this.faults = faults;
  }
}

export function refuse(message, field = "", row = null) {
  return new Refused([{ message, field, row }]);
}

/**
 * One condition of a verdict. `limit` and `observed` are fractions, or what the answer shows as it is; `passed` is null
 * while the sample is not complete and nothing of it breaks the limit for good.
 */
export function check(name, clause, sentence, limit, observed, passed, more = {}) {
  const plain = { decided_by: [], unit: "", counted_in: "reading", where: "", decides_alone: false };
  return { name, clause, sentence, limit, observed, passed, ...plain, ...more };
}

/** "spot 1", "3 spots". */
export function counted(count, one, many = `${one}s`) {
  return `${count} ${count === 1 ? one : many}`;
}

/**
 * The check of a limit that the values at `breaking` were found to break. Observed is the edge of those that break it
 * for good, or, where none does, of all; what is `unfinished` breaks nothing yet.
 */
function eachWithin(limit, values, breaking, edge, { name, clause, sentence, counted_in, where = "", unfinished }) {
  const forGood = unfinished ? breaking.filter((place) => !unfinished.includes(place)) : breaking;
  const found = edge(forGood.length ? forGood.map((place) => values[place]) : values);
  const passed = forGood.length ? false : breaking.length ? null : true;
  const decided_by = forGood.length ? forGood : places(values, (value) => same(value, found));
  const more = { decided_by, unit: "um", counted_in, where, decides_alone: true };
  return check(name, clause, sentence, limit, found, passed, more);
}

/** Every value is at or above the limit; observed is the lowest. */
export function eachAtLeast(limit, values, told) {
  return eachWithin(limit, values, places(values, (value) => less(value, limit)), least, told);
}

/** Every value is at or below the limit; observed is the highest. */
export function eachAtMost(limit, values, told) {
  return eachWithin(limit, values, places(values, (value) => less(limit, value)), greatest, told);
}

/** The indexes of the values that fit. */
export function places(values, fits) {
  return values.flatMap((value, place) => (fits(value) ? [place] : []));
}

/** The checks as far as the sample carries them: cut short, all are open but those broken for good. */
export function soFar(checks, complete) {
  if (complete) return checks;
  return checks.map((each) =>
    each.limit === null || (each.decides_alone && each.passed === false) ? each : { ...each, passed: null });
}

/** "fail" when a check failed, else "pass" on a complete sample and "incomplete" on one cut short. */
export function verdictOf(checks, complete) {
  if (checks.some((each) => each.passed === false)) return "fail";
  return complete ? "pass" : "incomplete";
}

/** A check as the API's answer has it. */
export function written(each) {
  const isRatio = (value) => value !== null && typeof value === "object";
  const asTold = (value) => (isRatio(value) ? toNumber(value) : value);
  const both = isRatio(each.limit) && isRatio(each.observed);
  const [limit, observed] = both ? apart(each.limit, each.observed) : [asTold(each.limit), asTold(each.observed)];
  const answer = {
    name: each.name, clause: each.clause, sentence: each.sentence, limit, observed,
    unit: each.unit === "um" ? "µm" : each.unit, passed: each.passed, decided_by: each.decided_by,
    counted_in: each.counted_in,
  };
  return each.where ? { ...answer, where: each.where } : answer;
}

/** Throws Refused where a maximum lies below its minimum, which nothing can meet. */
export function refuseCrossed(lower, upper, lowerName, upperName) {
  if (lower !== null && upper !== null && compare(upper, lower) < 0) {
    throw refuse(`must not be less than ${lowerName}`, upperName);
  }
}
