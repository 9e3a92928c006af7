/**
 * ISO 19840: acceptance of dry film thickness on rough surfaces, value by value and by the mean.
 * Source: ISO 19840:2012, clauses 6.1 and 9 (stored source, repeats in part from memory), correction clause 7 (from
 * memory). Home in the core: inspection/standards/thickness_iso19840.py.
 */

import { ceiling, greatest, least, less, mean, micrometres, minus, ratio, share, toNumber } from "./exact.js";
import {
  check, counted, eachAtLeast, eachAtMost, places, refuse, refuseCrossed, soFar, verdictOf, written,
} from "./checks.js";

export const FLOOR_PCT = 80;
const SHARE_BELOW_PCT = 20, SMALLEST_NOMINAL_UM = 40, LARGEST_AREA_M2 = 1000, MOST_CORRECTION_UM = 1000;
const THIN_UM = 60, CUSTOMARY_THIN = 3, CUSTOMARY = 2;
const CLAUSE = "clause 9";
/** Up to so many m²: readings at least, readings that may be repeated. */
const PLAN = [[1, 5, 1], [3, 10, 2], [10, 15, 3], [30, 20, 4], [100, 30, 6]];

/** Readings required and repeats allowed for an inspection area of so many m², a fraction. */
export function sampling(m2) {
  const row = PLAN.find(([largest]) => !less(ratio(largest), m2));
  if (row) return { readings: row[1], repeats_allowed: row[2] };
  const readings = 30 + 10 * ceiling({ n: m2.n - 100n * m2.d, d: m2.d * 100n });
  return { readings, repeats_allowed: Math.floor(readings / 5) };
}

/**
 * Judges corrected values: their mean, the lowest, the share below nominal (fewer than 20 %) and the highest.
 *
 * @param {{nominal_nm: number, maximum_nm: ?number, correction_nm: number, area_m2: {n: bigint, d: bigint},
 *   readings_nm: number[], repeats: {index: number, first_nm: number}[], repeats_missing: number}} given readings as
 *   the gauge showed them, whole nanometres
 * @returns {object} the answer of the core's `dft-iso19840`
 */
export function judgeIso19840(given) {
  const nominal = micrometres(given.nominal_nm);
  const maximum = given.maximum_nm === null ? null : micrometres(given.maximum_nm);
  if (given.correction_nm > MOST_CORRECTION_UM * 1000) {
    throw refuse(`must be at most ${MOST_CORRECTION_UM} µm`, "correction_um");
  }
  refuseCrossed(nominal, maximum, "nominal_um", "maximum_um");
  const values = given.readings_nm.map((nm) => micrometres(nm - given.correction_nm));
  const below = places(values, (value) => less(value, nominal)), average = mean(values);
  const { readings: required, repeats_allowed } = sampling(given.area_m2);
  const wanted = Math.max(required - values.length, given.repeats_missing, 0);
  const reaches = !less(nominal, ratio(SMALLEST_NOMINAL_UM));
  const checks = reaches
    ? soFar([...checksOf(nominal, maximum, values, average, below), repeatsCheck(given, repeats_allowed)], !wanted)
    : [];
  return {
    verdict: reaches ? verdictOf(checks, !wanted) : "not judged",
    rule: "ISO 19840", edition: "2012", checks: checks.map(written), mean_um: toNumber(average),
    lowest_um: toNumber(least(values)), highest_um: toNumber(greatest(values)), readings: values.length,
    below_nominal: below.length, below_nominal_indices: below, required_readings: required, repeats_allowed,
    complete: !wanted, still_to_measure: wanted,
    notes: notesOf(given, { nominal, maximum, values, required, wanted, reaches }),
  };
}

/** Each repeat counts, so that no point is measured again until a value fits. */
function repeatsCheck({ repeats }, allowed) {
  const decided_by = [...new Set(repeats.map((repeat) => repeat.index))].sort((one, other) => one - other);
  const sentence = "No more readings were repeated than the sampling plan allows.";
  const more = { decided_by, unit: "readings", decides_alone: true }, count = repeats.length;
  return check("repeats", "clause 6.1", sentence, ratio(allowed), ratio(count), count <= allowed, more);
}

function checksOf(nominal, maximum, values, average, below) {
  const found = ratio(100 * below.length, values.length), told = { clause: CLAUSE, counted_in: "reading" };
  const most = maximum === null
    ? check("maximum", CLAUSE, "No maximum was agreed.", null, null, true)
    : eachAtMost(maximum, values, {
      ...told, name: "maximum", sentence: "Every value is at most the agreed maximum.",
    });
  return [
    check("mean", CLAUSE, "The mean of all values is at least the nominal thickness.", nominal, average,
      !less(average, nominal), { unit: "um" }),
    eachAtLeast(share(nominal, FLOOR_PCT), values, {
      ...told, name: "each_at_least_80_pct", sentence: "Every value is at least 80 % of the nominal thickness.",
    }),
    check("fewer_than_20_pct_below_nominal", CLAUSE, "Fewer than 20 % of all values lie below the nominal thickness.",
      ratio(SHARE_BELOW_PCT), found, less(found, ratio(SHARE_BELOW_PCT)), { decided_by: below, unit: "%" }),
    most,
  ];
}

function notesOf(given, { nominal, maximum, values, required, wanted, reaches }) {
  if (!reaches) return ["ISO 19840 is not meant for a nominal thickness under 40 µm: nothing was judged."];
  const notes = [];
  if (wanted) notes.push(`${counted(wanted, "reading")} still to take; this area asks for ${required}.`);
  if (less(ratio(LARGEST_AREA_M2), given.area_m2)) {
    notes.push("Divide an inspection area of more than 1000 m² into smaller ones (from memory).");
  }
  const many = less(ratio(THIN_UM), nominal) ? CUSTOMARY : CUSTOMARY_THIN;
  if (maximum === null && less(share(nominal, 100 * many), greatest(values))) {
    notes.push(`A value exceeds ${many} × nominal, the highest that ISO 12944-5 advises for this thickness (from ` +
      "memory); no maximum was agreed, so it was not judged.");
  }
  if (given.repeats.length) {
    notes.push("A repeat is taken close to the first point; both readings stay on record.");
  }
  return notes;
}
