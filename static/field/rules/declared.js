/**
 * A rule of thickness that the project declares itself: limits in % of the thicknesses specified, and how many readings
 * an area asks for. Nothing that is not declared is judged. Source: the project's own document (common practice).
 * Homes in the core: inspection/standards/thickness_custom.py and inspection/projects/declared_rule.py.
 */

import {
  ceiling, greatest, least, less, mean, micrometres, minus, ofDecimal, ofNumber, over, ratio, times, toNumber,
} from "./exact.js";
import {
  check, counted, eachAtLeast, eachAtMost, places, refuse, refuseCrossed, soFar, verdictOf, written,
} from "./checks.js";

const FLOORS = ["mean_at_least_pct", "each_at_least_pct", "share_below_pct"];
const CEILINGS = ["mean_at_most_pct", "each_at_most_pct"];
const HUNDRED = ratio(100), THOUSAND = ratio(1000);
const given = (declared, name) => declared[name] !== undefined && declared[name] !== null;

/** The limits of the coats it counts from, by name. */
export function needsOf(declared) {
  const needs = FLOORS.some((name) => given(declared, name)) ? [declared.counted_from || "nominal"] : [];
  return CEILINGS.some((name) => given(declared, name)) ? [...needs, "maximum"] : needs;
}

/** How many readings it asks for on so many m² (a fraction); null where it declares no sampling table. */
export function readingsAsked(declared, m2) {
  const table = declared.table || [];
  const row = table.find(([largest]) => !less(ofDecimal(largest), m2));
  if (row) return row[1];
  if (!table.length || !given(declared, "further_m2") || !given(declared, "further_readings")) return null;
  const [largest, readings] = table[table.length - 1];
  const further = over(minus(m2, ofDecimal(largest)), ofDecimal(declared.further_m2));
  return readings + declared.further_readings * ceiling(further);
}

/** What one reading is held to, as fractions of a nanometre: least and greatest, each null where none is declared. */
export function limitsOfOne(declared, limits) {
  return [
    shareOf(baseOf(declared, limits), declared.each_at_least_pct),
    shareOf(limits.maximum_nm, declared.each_at_most_pct),
  ];
}

/** The thickness floors and the share are counted from, nm. */
function baseOf(declared, limits) {
  return limits[`${declared.counted_from || "nominal"}_nm`];
}

function shareOf(nm, pct) {
  if (nm === null || pct === undefined || pct === null) return null;
  return over(times(ratio(nm), ofDecimal(pct)), HUNDRED);
}

/** In micrometres as the rule is given it: the decimal that the JSON number names. */
function asGiven(nm) {
  return nm === null ? null : ofNumber(toNumber(over(nm, THOUSAND)));
}

/**
 * Judges readings by the project's declared limits, and counts them against its sampling table.
 *
 * @param {object} declared the coat's declaration: name, document and its figures as the API has them
 * @param {{minimum_nm: ?number, nominal_nm: ?number, maximum_nm: ?number}} limits through all coats, whole nanometres
 * @param {{readings_nm: number[], repeats_missing: number, area_m2: {n: bigint, d: bigint}}} measured corrected
 * @returns {object} the answer of the core's `dft-custom`
 */
export function judgeDeclared(declared, limits, measured) {
  const held = limitsHeld(declared, limits), values = measured.readings_nm.map(micrometres);
  const table = Boolean((declared.table || []).length);
  const required = table ? readingsAsked(declared, measured.area_m2) : null;
  refuseUnjudgeable(held, table, required);
  const average = mean(values);
  const below = held.nominal === null ? null : places(values, (value) => less(value, held.nominal));
  const missing = Math.max((required || 0) - values.length, measured.repeats_missing, 0);
  const found = soFar(checksOf(declared, held, values, average, below), !missing);
  const answer = {
    verdict: verdictOf(found, !missing), rule: declared.name, edition: declared.document, checks: found.map(written),
    mean_um: toNumber(average), lowest_um: toNumber(least(values)), highest_um: toNumber(greatest(values)),
    values: values.length, still_to_measure: missing, notes: notesOf(required, missing),
  };
  if (below !== null) answer.below_nominal = below.length;
  return required === null ? answer : { ...answer, required_readings: required, complete: !missing };
}

function limitsHeld(declared, limits) {
  const base = baseOf(declared, limits);
  const [low, high] = limitsOfOne(declared, limits);
  return {
    mean_least: asGiven(shareOf(base, declared.mean_at_least_pct)),
    mean_most: asGiven(shareOf(limits.maximum_nm, declared.mean_at_most_pct)),
    each_least: asGiven(low), each_most: asGiven(high),
    nominal: given(declared, "share_below_pct") && base !== null ? micrometres(base) : null,
    share: given(declared, "share_below_pct") ? ofDecimal(declared.share_below_pct) : null,
  };
}

function refuseUnjudgeable(held, table, required) {
  refuseCrossed(held.mean_least, held.mean_most, "minimum_mean_um", "maximum_mean_um");
  refuseCrossed(held.each_least, held.each_most, "minimum_each_um", "maximum_each_um");
  refuseCrossed(held.each_least, held.mean_most, "minimum_each_um", "maximum_mean_um");
  refuseCrossed(held.mean_least, held.each_most, "minimum_mean_um", "maximum_each_um");
  if (table && required === null) {
    throw refuse("lies beyond the sampling table; declare further_m2 and further_readings", "area_m2");
  }
}

function checksOf(declared, held, values, average, below) {
  const clause = declared.document, checks = [], told = { clause, counted_in: "reading" };
  if (held.mean_least !== null) {
    checks.push(check("mean_minimum", clause, "The mean is at least the declared minimum.", held.mean_least, average,
      !less(average, held.mean_least), { unit: "um" }));
  }
  if (held.mean_most !== null) {
    checks.push(check("mean_maximum", clause, "The mean is at most the declared maximum.", held.mean_most, average,
      !less(held.mean_most, average), { unit: "um" }));
  }
  if (held.each_least !== null) {
    checks.push(eachAtLeast(held.each_least, values, {
      ...told, name: "each_minimum", sentence: "Every value is at least the declared minimum.",
    }));
  }
  if (held.each_most !== null) {
    checks.push(eachAtMost(held.each_most, values, {
      ...told, name: "each_maximum", sentence: "Every value is at most the declared maximum.",
    }));
  }
  return below === null ? checks : [...checks, shareCheck(declared, held.share, below, values.length)];
}

function shareCheck(declared, limit, below, count) {
  const found = ratio(100 * below.length, count), means = declared.share_means || "at most";
  const passed = means === "fewer than" ? less(found, limit) : !less(limit, found);
  const sentence = `The share of values below the nominal thickness is ${means} the declared share.`;
  return check("share_below", declared.document, sentence, limit, found, passed, { decided_by: below, unit: "%" });
}

function notesOf(required, missing) {
  if (!missing) return [];
  const still = `${counted(missing, "value")} still to measure`;
  const why = required === null ? ": each that was discarded is repeated." : `; this area asks for ${required}.`;
  return [`${still}${why}`];
}
