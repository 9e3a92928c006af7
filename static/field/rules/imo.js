/**
 * IMO performance standard for protective coatings: the 90/10 rule, and how many readings a tank asks for.
 * Source: IMO MSC.215(82), 2006, definition 2.8, table 1 and annex 3 (stored source), maximum by the maker (from
 * memory). Homes in the core: inspection/standards/thickness_imo.py and imo_counts.py.
 */

import { ceiling, less, micrometres, ofNumber, over, ratio, share, times, toNumber } from "./exact.js";
import { check, counted, eachAtLeast, eachAtMost, places, refuseCrossed, soFar, verdictOf, written } from "./checks.js";

export const FLOOR_PCT = 90;
const SHARE_AT_NOMINAL_PCT = 90, STEP_M = ratio(3), FLAT_M2 = ratio(5);

/**
 * The least number of readings of annex 3, with 3 m from one to the next; a part begun counts as one (our reading).
 *
 * @param {{n: bigint, d: bigint}} m2 the surface, counted as flat
 * @param {object} sizes what is declared of the area: lengths in m and areas in m², each a list, and openings
 */
export function leastReadings(m2, sizes = {}) {
  const along = (name, readings, fewest) => (sizes[name] || []).reduce(
    (sum, length) => sum + readings * Math.max(fewest, ceiling(over(ofNumber(length), STEP_M))), 0);
  const complex = (sizes.complex_m2 || []).reduce(
    (sum, size) => sum + Math.max(3, ceiling(times(FLAT_M2, ofNumber(size)))), 0);
  return ceiling(over(m2, FLAT_M2)) + along("boundaries_m", 1, 1) + along("stiffeners_m", 2, 2) +
    along("primary_members_m", 3, 3) + (sizes.openings || 0) * (sizes.sides_of_an_opening || 0) + complex;
}

/**
 * At least 90 % of the readings reach nominal, and none lies below 0.9 × nominal; both limits included.
 *
 * @param {{nominal_nm: number, maximum_nm: ?number, readings_nm: number[], readings_required: number,
 *   repeats_missing: number}} given corrected readings, whole nanometres
 * @returns {object} the answer of the core's `dft-imo-pspc`
 */
export function judgeImo(given) {
  const nominal = micrometres(given.nominal_nm), values = given.readings_nm.map(micrometres);
  const maximum = given.maximum_nm === null ? null : micrometres(given.maximum_nm);
  refuseCrossed(nominal, maximum, "nominal_um", "maximum_um");
  const below = places(values, (value) => less(value, nominal)), limit = ratio(SHARE_AT_NOMINAL_PCT);
  const reached = ratio(100 * (values.length - below.length), values.length), floor = share(nominal, FLOOR_PCT);
  const told = { clause: "table 1", counted_in: "reading" };
  const checks = [
    check("share_at_nominal", "table 1", "At least 90 % of the readings reach the nominal thickness.", limit, reached,
      !less(reached, limit), { decided_by: below, unit: "%" }),
    eachAtLeast(floor, values, {
      ...told, name: "floor", sentence: "No reading lies below 90 % of the nominal thickness.",
    }),
  ];
  if (maximum !== null) {
    checks.push(eachAtMost(maximum, values, {
      ...told, name: "maximum", sentence: "No reading lies above the maker's maximum.",
    }));
  }
  const required = given.readings_required;
  const wanted = Math.max(required - values.length, given.repeats_missing, 0), found = soFar(checks, !wanted);
  return {
    verdict: verdictOf(found, !wanted), rule: "IMO 90/10 rule", edition: "MSC.215(82), 2006",
    checks: found.map(written), readings: values.length, below_nominal: below.length, below_nominal_indices: below,
    floor_um: toNumber(floor), complete: !wanted, still_to_measure: wanted,
    notes: wanted ? [`${counted(wanted, "reading")} still to take; this place asks for ${required}.`] : [],
  };
}
