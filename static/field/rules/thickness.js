/**
 * What a coat's rule says of a set of readings, wants measured on an area, and holds one spot to.
 * Home at the office: inspection/fieldwork/judging.py; the record's verdict is made there.
 *
 * A rule is what the field pack tells of a coat:
 * `{rule, rule_name, pa2_level, minimum_nm, nominal_nm, maximum_nm, declared}`, with the limits through all coats up
 * to this one in whole nanometres, null where one is not specified of every coat; `declared` is null but for
 * "dft-custom", where it is `{name, document, counted_from, mean_at_least_pct, …, table}` as the coat keeps it.
 * An area is `{area_m2, tank_sizes}`, its size as the API sends it ("12.50").
 * Readings are `{spot, order, value_nm, void_reason}`, as the gauge showed them; `order` counts from 1 in the spot.
 */

import { less, mean, ofDecimal, ofNumber, ratio, share, toNumber } from "./exact.js";
import { Refused, refuse } from "./checks.js";
import * as declaredRule from "./declared.js";
import { FLOOR_PCT as IMO_FLOOR_PCT, judgeImo, leastReadings } from "./imo.js";
import { FLOOR_PCT as ISO_FLOOR_PCT, judgeIso19840, sampling } from "./iso19840.js";
import { areasOf, judgePa2, limitsOfSpot, READINGS_PER_SPOT, SPOTS_PER_AREA } from "./pa2.js";
import { inUnit } from "./numbers.js";

export const PA2 = "dft-pa2", ISO_19840 = "dft-iso19840", IMO_PSPC = "dft-imo-pspc", DECLARED = "dft-custom";
const LIMITS = ["minimum", "nominal", "maximum"];

/** The area of about 10 m² a spot belongs to: spots 1 to 5 are area 1, 6 to 10 area 2, and so on. */
export function areaOfSpot(number) {
  return Math.floor((number - 1) / SPOTS_PER_AREA) + 1;
}

/**
 * How much the rule wants measured on an area.
 *
 * @returns {{readings: number, areas: number, repeats_allowed: ?number, spots: number, readings_a_spot: number,
 *   area_m2: string}} `areas` is 0 where the rule judges readings and no spots
 */
export function wantedOf(rule, { area_m2, tank_sizes }) {
  const m2 = ofDecimal(area_m2), stored = ofNumber(toNumber(m2));
  const plan = { readings: 0, areas: 0, repeats_allowed: null, spots: 0, readings_a_spot: 1, area_m2 };
  if (rule.rule === PA2) {
    const areas = areasOf(stored), spots = areas * SPOTS_PER_AREA, readings = spots * READINGS_PER_SPOT;
    return { ...plan, readings, areas, spots, readings_a_spot: READINGS_PER_SPOT };
  }
  if (rule.rule === ISO_19840) {
    const found = sampling(stored);
    return { ...plan, ...found, spots: found.readings };
  }
  const readings = rule.declared
    ? declaredRule.readingsAsked(rule.declared, m2) || 1
    : leastReadings(stored, tank_sizes || {});
  return { ...plan, readings, spots: readings };
}

/** What one spot mean (SSPC-PA 2) or one reading (any other) is held to, as fractions of nm: least and greatest. */
export function limitsOfOne(rule) {
  if (rule.declared) return declaredRule.limitsOfOne(rule.declared, rule);
  if (rule.rule === PA2) return limitsOfSpot({ ...rule, level: rule.pa2_level || 3 });
  const floor = rule.rule === ISO_19840 ? ISO_FLOOR_PCT : IMO_FLOOR_PCT;
  const { nominal_nm, maximum_nm } = rule;
  return [
    nominal_nm === null ? null : share(ratio(nominal_nm), floor), maximum_nm === null ? null : ratio(maximum_nm),
  ];
}

/**
 * How one spot stands to what the rule holds it to, while it is typed: its mean under SSPC-PA 2, else each reading.
 *
 * @param {number[]} readings_nm of the spot so far, as shown
 * @returns {{mean_nm: number, state: "too low"|"too high"|"within", final: boolean}} `final`: no further reading of the
 *   spot is asked for, so that the state stands
 */
export function judgeSpot(rule, readings_nm, correction_nm = 0) {
  const [low, high] = limitsOfOne(rule), bySpots = rule.rule === PA2;
  const average = ratio(sum(readings_nm) - readings_nm.length * correction_nm, readings_nm.length);
  const held = bySpots ? [average] : readings_nm.map((nm) => ratio(nm - correction_nm));
  const state = low !== null && held.some((nm) => less(nm, low)) ? "too low"
    : high !== null && held.some((nm) => less(high, nm)) ? "too high" : "within";
  return { mean_nm: toNumber(average), state, final: !bySpots || readings_nm.length >= READINGS_PER_SPOT };
}

/** The readings spot by spot: those that count in their order, how many were voided, and whether a repeat is due. */
export function spotsOf(readings) {
  const found = new Map();
  for (const { spot, order, value_nm, void_reason } of readings) {
    if (!found.has(spot)) found.set(spot, { number: spot, kept: [], voided: 0, lastVoid: 0 });
    const at = found.get(spot);
    if (void_reason) {
      at.lastVoid = Math.max(at.lastVoid, order);
      at.voided += 1;
    } else at.kept.push([order, value_nm]);
  }
  const inOrder = [...found.values()].sort((one, other) => one.number - other.number);
  return inOrder.map(({ number, kept, voided, lastVoid }) => {
    kept.sort((one, other) => one[0] - other[0] || one[1] - other[1]);
    const last = kept.length ? kept[kept.length - 1][0] : 0;
    return { number, shown_nm: kept.map(([, nm]) => nm), voided, repeat_missing: last < lastVoid };
  });
}

/** How many readings the rule still wants: to fill the plan, every area begun, and to repeat what was discarded. */
export function stillWanted(wanted, spots) {
  const repeats = spots.filter((spot) => spot.repeat_missing).length;
  if (!wanted.areas) {
    return Math.max(wanted.readings - spots.reduce((sum, spot) => sum + spot.shown_nm.length, 0), repeats);
  }
  const areas = Math.max(wanted.areas, begun(spots));
  const lacking = (spot) => Math.max(READINGS_PER_SPOT - spot.shown_nm.length, Number(spot.repeat_missing));
  return spots.reduce((sum, spot) => sum + lacking(spot), (areas * SPOTS_PER_AREA - spots.length) * READINGS_PER_SPOT);
}

const begun = (spots) => new Set(spots.map((spot) => areaOfSpot(spot.number))).size;

/**
 * The verdict of the coat's rule on the readings, as it is on the phone; the record's own is made at the office.
 *
 * @param {object} rule what the pack tells of the coat
 * @param {object} wanted from `wantedOf`
 * @param {object[]} readings `{spot, order, value_nm, void_reason}`
 * @param {number} correction_nm subtracted from every reading, for the profile under the film
 * @returns {{calculation: string, result: object, verdict: string, still_wanted: number, mean_nm: number,
 *   lowest_nm: number, highest_nm: number, count: number}}
 * @throws {Refused} when nothing is left to judge, or naming each reading thinner than what is subtracted
 */
export function judgeThickness(rule, wanted, readings, correction_nm = 0) {
  const spots = spotsOf(readings), measured = spots.filter((spot) => spot.shown_nm.length);
  if (!measured.length) throw refuse("No reading is left that counts; an area is judged on at least one.", "readings");
  if (correction_nm) refuseBelow(readings, correction_nm);
  const missing = LIMITS.filter((name) => rule[`${name}_nm`] === null && needsOf(rule).includes(name));
  const result = missing.length
    ? notJudged(rule.rule_name, missing)
    : answerOf(rule, wanted, spots, readings, correction_nm);
  const values = measured.flatMap((spot) => spot.shown_nm.map((nm) => nm - correction_nm));
  return {
    calculation: rule.rule, result, verdict: result.verdict, still_wanted: stillWanted(wanted, spots),
    mean_nm: toNumber(meanOf(wanted, measured, values, correction_nm)), lowest_nm: Math.min(...values),
    highest_nm: Math.max(...values), count: values.length,
  };
}

/** The limits that the rule judges by, by name; a maximum only where a declared rule counts from it. */
export function needsOf(rule) {
  if (rule.declared) return declaredRule.needsOf(rule.declared);
  return [rule.rule === PA2 ? "minimum" : "nominal"];
}

/** Mean of the spot means where the rule judges spots, else of all readings; a fraction of nm. */
function meanOf(wanted, measured, values, correction_nm) {
  if (!wanted.areas) return mean(values.map((nm) => ratio(nm)));
  return mean(measured.map(({ shown_nm }) => ratio(sum(shown_nm) - shown_nm.length * correction_nm, shown_nm.length)));
}

const sum = (values) => values.reduce((one, other) => one + other, 0);

function answerOf(rule, wanted, spots, readings, correction_nm) {
  const { minimum_nm, nominal_nm, maximum_nm } = rule, level = rule.pa2_level;
  if (rule.rule === PA2) {
    return judgePa2({ level, minimum_nm, maximum_nm, ...areasOfSpots(wanted, spots, correction_nm) });
  }
  const repeats_missing = spots.filter((spot) => spot.repeat_missing).length;
  const area_m2 = ofNumber(toNumber(ofDecimal(wanted.area_m2)));
  if (rule.rule === ISO_19840) {
    const shown = withRepeats(readings);
    return judgeIso19840({ nominal_nm, maximum_nm, correction_nm, area_m2, repeats_missing, ...shown });
  }
  const readings_nm = spots.flatMap((spot) => spot.shown_nm.map((nm) => nm - correction_nm));
  if (rule.declared) return declaredRule.judgeDeclared(rule.declared, rule, { readings_nm, repeats_missing, area_m2 });
  return judgeImo({ nominal_nm, maximum_nm, readings_nm, readings_required: wanted.readings, repeats_missing });
}

function areasOfSpots(wanted, spots, correction_nm) {
  const areas = new Map();
  for (const { number, shown_nm, repeat_missing } of spots.filter((spot) => spot.shown_nm.length)) {
    const place = areaOfSpot(number);
    if (!areas.has(place)) areas.set(place, { name: `area ${place}`, spots_nm: [], repeats_missing: 0 });
    const area = areas.get(place);
    area.spots_nm.push(shown_nm.map((nm) => nm - correction_nm));
    // A spot short of readings is not complete anyway; its repeat is one of those it lacks.
    area.repeats_missing += Number(repeat_missing && shown_nm.length >= READINGS_PER_SPOT);
  }
  // An area begun with nothing but discarded readings is one more to measure.
  return { areas: [...areas.values()], areas_to_measure: Math.max(wanted.areas, begun(spots)) };
}

/** Readings as shown; each discarded one is a repeat, named by the reading that counts after it at the same spot. */
function withRepeats(readings) {
  const ordered = [...readings].sort((one, other) => one.spot - other.spot || one.order - other.order);
  const counting = ordered.filter((reading) => !reading.void_reason);
  const repeats = [];
  for (const voided of ordered.filter((reading) => reading.void_reason)) {
    const later = counting.filter(({ spot, order }) => spot === voided.spot && order > voided.order);
    if (later.length) repeats.push({ index: counting.indexOf(later[0]), first_nm: voided.value_nm });
  }
  return { readings_nm: counting.map((reading) => reading.value_nm), repeats };
}

/** In place of the rule's answer: no limit is guessed, and what was measured is kept all the same. */
function notJudged(rule, missing) {
  const note = `${rule} judges by the ${missing.join(" and the ")}, and not every coat up to this one has it ` +
    "specified: nothing was judged.";
  return { verdict: "not judged", rule, checks: [], notes: [note] };
}

function refuseBelow(readings, correction_nm) {
  const tooThin = ({ value_nm, void_reason }) => !void_reason && value_nm < correction_nm;
  const faults = readings.flatMap((reading, place) => (tooThin(reading) ? [{
    message: `${inUnit(reading.value_nm, "um")} µm is less than the ${inUnit(correction_nm, "um")} µm subtracted for ` +
      "the profile; check the reading and the correction",
    field: "value", row: place + 1,
  }] : []));
  if (faults.length) throw new Refused(faults);
}
