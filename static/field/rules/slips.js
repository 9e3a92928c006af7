/**
 * What looks like a slip of hand, asked about and never judged: a decimal point out of its place, another shim, a stray
 * reading, scatter. The limits are our own declared figures; no standard gives them.
 * Home at the office: inspection/instruments/slips.py, and the screen for odd readings of standards/thickness_pa2.py.
 */

import { mean, minus, over, ratio, root, roundEven, times } from "./exact.js";
import { inUnit } from "./numbers.js";

const TENFOLD_WITHIN_PCT = 10, STRAY_ACCURACIES = 3;
/** How far readings of a check may scatter, as a multiple of the stated accuracy, where a gauge has no history yet. */
export const WITHOUT_HISTORY = 1;
const LABELS = { um: "µm", mil: "mil" };
/** With fewer readings on an area there is no middle to hold one against. */
const FEWEST_OTHERS = 3;

/**
 * Whether a reading just typed looks like one with its decimal point out of place: it lies more than half away from the
 * median of the others, and the figure ten times as large, or a tenth, does not. Only ever a question.
 *
 * @param {number} value_nm as the gauge showed it
 * @param {number[]} others_nm those taken on the area so far, or what is specified where there are none
 * @returns {?number} the figure that may have been meant, whole nanometres; null where nothing is asked
 */
export function meantOf(value_nm, others_nm) {
  if (others_nm.length < FEWEST_OTHERS) return null;
  const median = [...others_nm].sort((one, other) => one - other)[Math.floor(others_nm.length / 2)];
  const odd = (nm) => 2 * Math.abs(nm - median) > median;
  if (!odd(value_nm)) return null;
  const meant = [value_nm / 10, value_nm * 10].find((nm) => Number.isInteger(nm) && !odd(nm));
  return meant === undefined ? null : meant;
}

/** What the maker of a gauge states at a thickness: ± a % ± b, in nm. */
export function accuracyAt({ accuracy_pct, accuracy_nm }, nm) {
  return (Number(accuracy_pct || 0) * nm) / 100 + (accuracy_nm || 0);
}

/**
 * The questions about one point of a check.
 *
 * @param {number[]} readings_nm
 * @param {{name: string, value_nm: number, within_nm: number}} under the shim, or stack, under the probe; `within_nm`
 *   is how far from it a reading may lie and still belong to it
 * @param {{name: string, value_nm: number, within_nm: number}[]} shims the set they come from
 * @param {number} accuracy_nm what the maker states there
 * @param {number} scatter the multiple of it that is expected of this gauge
 * @param {"um"|"mil"} unit
 * @returns {string[]}
 */
export function checkSlips(readings_nm, under, shims, accuracy_nm, scatter = WITHOUT_HISTORY, unit = "um") {
  const told = (nm) => `${inUnit(nm, unit)} ${LABELS[unit]}`, asked = [];
  let usual = [];
  readings_nm.forEach((nm, place) => {
    const words = tenfold(nm, under, told) || ofAnother(nm, under, shims, told);
    if (words) asked.push(`Reading ${place + 1}, ${told(nm)}, ${words}`);
    else usual.push([place + 1, nm]);
  });
  const stray = strayOf(usual, accuracy_nm);
  if (stray) {
    const [number, nm, middle] = stray;
    const others = told(roundEven(middle));
    asked.push(`Reading ${number}, ${told(nm)}, lies far from the others, about ${others}: is it right?`);
    usual = usual.filter(([one]) => one !== number);
  }
  const found = usual.length > 1 ? deviation(usual.map(([, nm]) => nm)) : 0;
  if (found > scatter * accuracy_nm) {
    const expected = told(roundEven(scatter * accuracy_nm));
    asked.push(`The readings on ${under.name} scatter by ${told(roundEven(found))} (s), more than the ${expected} ` +
      "expected of this gauge: was the probe held square, the shim flat and clean?");
  }
  return asked;
}

function tenfold(nm, under, told) {
  for (const [factor, words] of [[10, "ten times"], [0.1, "a tenth of"]]) {
    const expected = under.value_nm * factor;
    if (expected && Math.abs(nm - expected) * 100 <= TENFOLD_WITHIN_PCT * expected) {
      return `is about ${words} the ${told(under.value_nm)} of ${under.name}: is the decimal point in its place?`;
    }
  }
  return "";
}

function ofAnother(nm, under, shims, told) {
  if (Math.abs(nm - under.value_nm) <= under.within_nm) return "";
  const away = (shim) => Math.abs(nm - shim.value_nm);
  const fitting = shims.filter((shim) => shim.name !== under.name && away(shim) <= shim.within_nm);
  if (!fitting.length) return "";
  const other = fitting.reduce((found, shim) => (away(shim) < away(found) ? shim : found));
  return `fits ${other.name} (${told(other.value_nm)}), not ${under.name}: which shim lay under the probe?`;
}

/** The one reading that lies furthest from the middle of the others, where that is too far, with that middle. */
function strayOf(readings, accuracy_nm) {
  if (readings.length < 3) return null;
  const middles = readings.map(([number, nm]) => (
    [number, nm, medianOf(readings.filter(([other]) => other !== number).map(([, other]) => other))]));
  const away = ([, nm, middle]) => Math.abs(nm - middle);
  const furthest = middles.reduce((found, one) => (away(one) > away(found) ? one : found));
  return away(furthest) > STRAY_ACCURACIES * accuracy_nm ? furthest : null;
}

function medianOf(values) {
  const ordered = [...values].sort((one, other) => one - other), half = Math.floor(ordered.length / 2);
  return ordered.length % 2 ? ordered[half] : (ordered[half - 1] + ordered[half]) / 2;
}

/** Standard deviation with n - 1, of at least two whole numbers. */
function deviation(values) {
  const exact = values.map((value) => ratio(value)), middle = mean(exact);
  const squares = exact.map((value) => times(minus(value, middle), minus(value, middle)));
  return root(over(times(mean(squares), ratio(values.length)), ratio(values.length - 1)));
}
