/**
 * SSPC-PA 2: conformance of dry film thickness, judged on spot means and area means, never on single readings.
 * Source: SSPC-PA 2, May 2012, clause 8 (stored source); 2012 to 2018 editions, clause 9, restriction levels (from
 * memory). Home in the core: inspection/standards/thickness_pa2.py and pa2_spots.py.
 */

import { ceiling, less, mean, micrometres, minus, ratio, share, toNumber } from "./exact.js";
import { check, counted, eachAtLeast, eachAtMost, places, soFar, written } from "./checks.js";

export const READINGS_PER_SPOT = 3;
export const SPOTS_PER_AREA = 5;

/** Allowed share of the specified minimum and maximum by restriction level, in percent; null: not restricted. */
export const LEVELS = {
  1: { spot_minimum_pct: 100, spot_maximum_pct: 100, area_has_maximum: true },
  2: { spot_minimum_pct: 100, spot_maximum_pct: 120, area_has_maximum: true },
  3: { spot_minimum_pct: 80, spot_maximum_pct: 120, area_has_maximum: true },
  4: { spot_minimum_pct: 80, spot_maximum_pct: 150, area_has_maximum: true },
  5: { spot_minimum_pct: 80, spot_maximum_pct: null, area_has_maximum: false },
};

/** Areas to measure on so many m² (a fraction): each of about 10 m². */
export function areasOf(m2) {
  if (less(m2, ratio(30))) return ceiling({ n: m2.n, d: m2.d * 10n });
  return 3 + Math.max(0, ceiling(minus({ n: m2.n, d: m2.d * 100n }, ratio(1))));
}

/** What one spot mean is held to, as fractions of a nanometre; null where the level or the coat has no limit. */
export function limitsOfSpot({ level, minimum_nm, maximum_nm }) {
  const { spot_minimum_pct, spot_maximum_pct } = LEVELS[level];
  const open = maximum_nm === null || spot_maximum_pct === null;
  return [
    minimum_nm === null ? null : share(ratio(minimum_nm), spot_minimum_pct),
    open ? null : share(ratio(maximum_nm), spot_maximum_pct),
  ];
}

/**
 * Judges each area by its spot means and its area mean.
 *
 * @param {{level: number, minimum_nm: number, maximum_nm: ?number, areas_to_measure: number,
 *   areas: {name: string, spots_nm: number[][], repeats_missing: number}[]}} given corrected readings, whole nanometres
 * @returns {object} the answer of the core's `dft-pa2`
 */
export function judgePa2(given) {
  const held = limitsHeld(given);
  const judged = given.areas.map((area) => judgeArea(area, held));
  const areas = judged.map((each) => each.verdict);
  const missing = Math.max(0, given.areas_to_measure - areas.length);
  const wanted = judged.reduce((sum, each) => sum + each.wanted, missing * SPOTS_PER_AREA * READINGS_PER_SPOT);
  const odd = given.areas.flatMap(oddReadings);
  const answer = {
    verdict: areas.some((area) => area.verdict === "fail") ? "fail" : wanted ? "incomplete" : "pass",
    rule: `SSPC-PA 2, restriction level ${given.level}`,
    edition: "2012 to 2018 editions",
    checks: judged.flatMap((each) => each.checks.map(written)),
    minimum_um: toNumber(micrometres(given.minimum_nm)),
    areas,
    complete: !wanted,
    still_to_measure: wanted,
    odd_readings: odd,
    notes: notesOf(given, areas, missing, odd.length),
  };
  return given.maximum_nm === null ? answer : { ...answer, maximum_um: toNumber(micrometres(given.maximum_nm)) };
}

function limitsHeld(given) {
  const level = LEVELS[given.level];
  const [low, high] = limitsOfSpot(given).map((nm) => nm && { n: nm.n, d: nm.d * 1000n });
  return {
    spot_minimum: low, spot_maximum: high, area_minimum: micrometres(given.minimum_nm),
    area_maximum: given.maximum_nm === null || !level.area_has_maximum ? null : micrometres(given.maximum_nm), level,
  };
}

function judgeArea(area, held) {
  const means = area.spots_nm.map(meanOfSpot);
  const short = places(area.spots_nm, (readings) => readings.length < READINGS_PER_SPOT);
  const spotsMissing = Math.max(0, SPOTS_PER_AREA - means.length);
  const complete = !short.length && !spotsMissing && !area.repeats_missing;
  const checks = soFar(checksOf(area.name, means, short, held), complete);
  const low = held.spot_minimum, high = held.spot_maximum;
  const outside = places(means, (value) => less(value, low) || (high !== null && less(high, value)));
  const lacking = short.reduce((sum, place) => sum + READINGS_PER_SPOT - area.spots_nm[place].length, 0);
  const failed = checks.some((each) => each.passed === false);
  return {
    checks,
    wanted: spotsMissing * READINGS_PER_SPOT + lacking + area.repeats_missing,
    verdict: {
      name: area.name, verdict: failed ? "fail" : complete ? "pass" : "incomplete",
      area_mean_um: toNumber(mean(means)), spot_means_um: means.map(toNumber),
      nonconforming_indices: outside.filter((place) => !short.includes(place)), spots_missing: spotsMissing,
      short_spot_indices: short,
    },
  };
}

function meanOfSpot(readings) {
  return ratio(readings.reduce((sum, nm) => sum + nm, 0), 1000 * readings.length);
}

function checksOf(where, means, unfinished, { spot_minimum, spot_maximum, area_minimum, area_maximum, level }) {
  const average = mean(means), clause = "clause 9", counted_in = "spot";
  const told = { clause, counted_in, where, unfinished }, ofMean = { unit: "um", counted_in, where };
  const checks = [
    eachAtLeast(spot_minimum, means, {
      ...told, name: "spot_minimum",
      sentence: `Every spot mean is at least ${level.spot_minimum_pct} % of the specified minimum.`,
    }),
    check("area_minimum", clause, "The area mean is at least the specified minimum.", area_minimum, average,
      !less(average, area_minimum), ofMean),
  ];
  if (spot_maximum !== null) {
    checks.push(eachAtMost(spot_maximum, means, {
      ...told, name: "spot_maximum",
      sentence: `Every spot mean is at most ${level.spot_maximum_pct} % of the specified maximum.`,
    }));
  }
  if (area_maximum !== null) {
    checks.push(check("area_maximum", clause, "The area mean is at most the specified maximum.", area_maximum, average,
      !less(area_maximum, average), ofMean));
  }
  return checks;
}

/** Readings more than half away from their spot's median: asked about, never dropped (our own screen). */
function oddReadings({ name, spots_nm }) {
  return spots_nm.flatMap((readings, spot_index) => {
    const median = [...readings].sort((one, other) => one - other)[Math.floor(readings.length / 2)];
    return places(readings, (nm) => 2 * Math.abs(nm - median) > median).map((reading_index) => (
      { area: name, spot_index, reading_index, value_um: readings[reading_index] / 1000 }));
  });
}

function notesOf(given, areas, missing, odd) {
  const notes = [];
  for (const area of areas) {
    const name = area.name[0].toUpperCase() + area.name.slice(1), short = area.short_spot_indices.length;
    if (area.spots_missing) {
      const missing = counted(area.spots_missing, "spot");
      notes.push(`${name}: ${missing} still to measure; an area has ${SPOTS_PER_AREA} spots.`);
    }
    if (short) {
      const spots = counted(short, "spot has", "spots have");
      notes.push(`${name}: ${spots} fewer than ${READINGS_PER_SPOT} gauge readings; not judged before it has them.`);
    }
  }
  if (missing) notes.push(`${counted(missing, "further area")} of ${SPOTS_PER_AREA} spots still to measure.`);
  if (odd) {
    notes.push(`${counted(odd, "reading lies", "readings lie")} more than half away from the median of the spot: ` +
      "repeat; an odd reading that does not repeat may be discarded with its reason.");
  }
  const hasMaximum = LEVELS[given.level].area_has_maximum;
  if (given.maximum_nm !== null && !hasMaximum) {
    notes.push("Level 5 restricts no maximum; the specified maximum was not judged.");
  } else if (given.maximum_nm === null && hasMaximum) {
    notes.push("No maximum is specified; only the minimum was judged.");
  }
  return notes;
}
