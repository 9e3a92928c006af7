/**
 * A gauge checked against reference standards: point by point, within the combined tolerance of gauge and standard.
 * Source: ASTM D7091, combined accuracy, form of the combination from memory; JCGM 100:2008, 5.1.2 and 6.2.1, from
 * memory. Homes at the office: inspection/standards/verification.py and site_check.py, inspection/instruments/stack.py,
 * actions/check_results.py and verified_range.py. The record's verdict is made at the office.
 */

import {
  add, compare, less, magnitude, mean, micrometres, minus, ofBits, ofDecimal, ofNumber, over, ratio, root, times,
  toNumber, ZERO,
} from "./exact.js";
import { check, refuse, written } from "./checks.js";

export const SQUARES = "root-sum-square", SUM = "sum";
const COMMON_FACTOR = ratio(2), HUNDRED = ratio(100);
/** A reading may lie so far outside the thicknesses a check covered: our declared limit, no standard gives one. */
const BEYOND_PCT = 10;

/** Whether a thickness lies within the range a check covered, widened by the allowance; whole nanometres. */
export function covers(from_nm, to_nm, nm) {
  return from_nm * (100 - BEYOND_PCT) <= nm * 100 && nm * 100 <= to_nm * (100 + BEYOND_PCT);
}

/**
 * The verdict on a check of a thickness or profile gauge: the mean on each standard, or stack, against its certified
 * value.
 *
 * @param {{accuracy_pct: ?(string|number), accuracy_nm: ?number}} gauge what its maker states
 * @param {{standards: {value_nm: number, expanded_uncertainty_nm: number, coverage_factor: (string|number)}[],
 *   readings_nm: number[]}[]} points each standard as its certificate states it; whole nanometres
 * @param {"root-sum-square"|"sum"} combination the company's choice
 * @returns {{calculation: string, verdict: string, result: object, verified_from_nm: ?number, verified_to_nm: ?number}}
 */
export function judgeGaugeCheck(gauge, points, combination = SQUARES) {
  const pct = ofDecimal(gauge.accuracy_pct) || ZERO, fixed = micrometres(gauge.accuracy_nm || 0);
  if (!pct.n && !fixed.n) {
    throw refuse("give the accuracy of the gauge, in percent, as a fixed part, or both", "accuracy_pct");
  }
  const judged = points.map((point) => judgePoint(point, pct, fixed, combination));
  const checks = judged.map((point, place) => toleranceCheck(point, place, {
    clause: "combined accuracy", unit: "um",
    sentence: "The mean reading differs from the certified value by no more than the combined tolerance.",
  }));
  const passed = judged.every((point) => point.passed);
  const certified = judged.map((point) => point.certified_nm).sort((one, other) => one - other);
  const low = certified[0], high = certified[certified.length - 1];
  const result = {
    verdict: passed ? "pass" : "fail",
    rule: `combined tolerance of gauge and standard, ${combination}`,
    edition: "ASTM D7091, form of the combination from memory",
    checks, points: judged.map((point) => point.told), notes: notesOf(passed, low === high),
  };
  if (judged.length === 1) {
    const { mean_um, error_um, tolerance_um } = judged[0].told;
    Object.assign(result, { mean_um, error_um, tolerance_um });
  }
  if (passed) Object.assign(result, { verified_from_um: low / 1000, verified_to_um: high / 1000 });
  return {
    calculation: "verify-gauge", verdict: result.verdict, result, verified_from_nm: passed ? low : null,
    verified_to_nm: passed ? high : null,
  };
}

function judgePoint({ standards, readings_nm }, pct, fixed, combination) {
  const certified_nm = standards.reduce((sum, standard) => sum + standard.value_nm, 0);
  const certified = micrometres(certified_nm), own = add(over(times(certified, pct), HUNDRED), fixed);
  const squares = squaresOf(standards), average = mean(readings_nm.map(micrometres));
  const error = minus(average, certified), ownFigure = toNumber(own), standardFigure = Math.sqrt(toNumber(squares));
  const passed = within(magnitude(error), own, squares, combination);
  const tolerance = combination === SQUARES ? hypotenuse(ownFigure, standardFigure) : ownFigure + standardFigure;
  return {
    passed, certified_nm, tolerance, error,
    told: {
      certified_um: certified_nm / 1000, readings: readings_nm.length, mean_um: toNumber(average),
      error_um: toNumber(error), standard_uncertainty_um: standardFigure / 2, tolerance_um: tolerance,
      verdict: passed ? "pass" : "fail",
    },
  };
}

/** The sum of the squared expanded uncertainties, µm², brought to k = 2; of different k the smallest is told. */
function squaresOf(standards) {
  const factors = standards.map((standard) => ofDecimal(standard.coverage_factor));
  const k = factors.reduce((found, factor) => (less(factor, found) ? factor : found));
  return standards.reduce((sum, { expanded_uncertainty_nm }, place) => {
    const stated = micrometres(expanded_uncertainty_nm || 0), own = factors[place];
    // At another k it is given as a JSON number, rounded once.
    const told = compare(own, k) === 0 ? stated : ofNumber(toNumber(over(times(stated, k), own)));
    const common = over(times(told, COMMON_FACTOR), k);
    return add(sum, times(common, common));
  }, ZERO);
}

/** Whether an error (not negative) lies within the combined tolerance, without taking a root. */
function within(error, own, squares, combination) {
  if (combination === SQUARES) return compare(times(error, error), add(times(own, own), squares)) <= 0;
  const rest = minus(error, own);
  return rest.n <= 0n || compare(times(rest, rest), squares) <= 0;
}

function hypotenuse(one, other) {
  const first = ofBits(one), second = ofBits(other);
  return root(add(times(first, first), times(second, second)));
}

/**
 * The verdict on an instrument compared on site with a reference: a standard solution, a voltmeter, another instrument.
 * Source: within 5 % for conductivity meters (common practice) and holiday detectors (from memory).
 *
 * @param {{unit: string, tolerance_pct: ?(string|number), tolerance: ?(string|number)}} held what its check is held to
 * @param {{reference: (string|number), readings: (string|number)[]}[]} points in that unit
 */
export function judgeInstrumentCheck({ unit, tolerance_pct, tolerance }, points) {
  const pct = ofDecimal(tolerance_pct) || ZERO, fixed = ofDecimal(tolerance) || ZERO;
  if (!pct.n && !fixed.n) throw refuse("give a tolerance, in percent, as a fixed part, or both", "tolerance_pct");
  const judged = points.map(({ reference, readings }) => {
    const held = ofDecimal(reference), average = mean(readings.map(ofDecimal)), error = minus(average, held);
    const allowed = add(over(times(magnitude(held), pct), HUNDRED), fixed);
    const passed = compare(magnitude(error), allowed) <= 0;
    return {
      passed, error, tolerance: allowed,
      told: {
        reference: toNumber(held), readings: readings.length, mean: toNumber(average), error: toNumber(error),
        tolerance: toNumber(allowed), verdict: passed ? "pass" : "fail",
      },
    };
  });
  const checks = judged.map((point, place) => toleranceCheck(point, place, {
    clause: "tolerance of the check", unit,
    sentence: "The mean reading differs from the reference by no more than the tolerance.",
  }));
  const passed = judged.every((point) => point.passed);
  const result = {
    verdict: passed ? "pass" : "fail", rule: "mean within the tolerance of the reference", edition: "", checks,
    points: judged.map((point) => point.told),
    notes: passed ? [] : ["All that was measured since the last passing check is suspect."],
  };
  return { calculation: "check-instrument", verdict: result.verdict, result };
}

function toleranceCheck({ tolerance, error, passed }, place, { clause, sentence, unit }) {
  const more = { decided_by: [place], unit, counted_in: "point", where: `point ${place + 1}` };
  return written(check("error_within_tolerance", clause, sentence, tolerance, magnitude(error), passed, more));
}

function notesOf(passed, one) {
  if (!passed) return ["No range is verified. Readings since the last passing check are suspect."];
  if (!one) return [];
  return ["One point only: a second standard on the other side of the expected thickness makes it a range."];
}
