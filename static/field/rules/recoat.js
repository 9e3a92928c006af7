/**
 * The recoat clock: when a coat may be painted over, and until when, by the steel temperatures measured since.
 * Source: data sheet of the product, hours at each temperature over the hours stated there, summed (common practice).
 * Homes at the office: inspection/standards/recoat_clock.py and drying.py, inspection/works/lots/windows.py.
 * An estimate: touch and prove. A window missed needs the paint maker's advice.
 */

import {
  add, compare, less, minus, ofDecimal, over, ratio, roundEven, shown, times, toNumber, ZERO,
} from "./exact.js";
import { refuse } from "./checks.js";

export const NOT_KNOWN = "not known", NOT_YET_OPEN = "not yet open", OPEN = "open", CLOSING = "closing";
export const CLOSED = "closed";
/** A reading so long before the end of a coat still stands at its end (common practice, no source). */
const BEFORE_US = 4n * 3600000000n, HOUR_US = 3600000000n, CLOSING_H = 4n;
const MOMENT = /^(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(?::(\d\d)(?:\.(\d{1,6})\d*)?)?(Z|[+-]\d\d:\d\d)$/;

/** Microseconds since 1970 of a moment written with its offset, as the API writes them. */
export function microseconds(written) {
  const found = MOMENT.exec(written);
  if (!found) throw new RangeError(`${written} is no moment with its offset from UTC`);
  const [, day, minute, second = "00", part = "", offset] = found;
  const whole = BigInt(Date.parse(`${day}T${minute}:${second}${offset}`)) * 1000n;
  return whole + BigInt(part.padEnd(6, "0"));
}

/** A moment as the API writes it, in UTC. */
export function moment(us) {
  const part = ((us % 1000000n) + 1000000n) % 1000000n, seconds = (us - part) / 1000n;
  const text = new Date(Number(seconds)).toISOString().slice(0, 19);
  return part ? `${text}.${String(part).padStart(6, "0")}Z` : `${text}Z`;
}

/**
 * The lines of the data sheet for the next product: those that name it, else those for any.
 *
 * @param {{next_product: string}[]} rows
 */
export function rowsFor(rows, next_product) {
  const named = rows.filter((row) => row.next_product.toLowerCase() === next_product.toLowerCase());
  return named.length ? named : rows.filter((row) => !row.next_product);
}

/**
 * The window of a coat whose parts ended at some moments, as it stands at another.
 *
 * @param {{temperature_c: ?string, recoat_min_hours: ?string, recoat_max_hours: ?string}[]} rows of the data sheet, °C
 *   and hours as decimals; without a temperature the hours count at any
 * @param {string[]} ended_at when each lot of the coat ended
 * @param {{at: string, steel_c: (string|number)}[]} steel what was measured of the steel there, °C
 * @param {string} at the moment asked about
 * @returns {{state: string, opens_at: ?string, closes_at: ?string, notes: string[]}}
 */
export function recoatWindow(rows, ended_at, steel, at) {
  const ends = ended_at.map(microseconds).sort((one, other) => (one < other ? -1 : 1));
  const known = new Map();
  for (const reading of steel) {
    const when = microseconds(reading.at);
    if (when >= ends[0] - BEFORE_US && when <= microseconds(at)) known.set(when, ofDecimal(reading.steel_c));
  }
  const readings = [...known].sort(([one], [other]) => (one < other ? -1 : 1));
  const stated = rows.map((row) => ({
    temperature: ofDecimal(row.temperature_c), least: ofDecimal(row.recoat_min_hours),
    most: ofDecimal(row.recoat_max_hours),
  }));
  try {
    return clockOf(stated, ends[0], ends[ends.length - 1], readings, microseconds(at));
  } catch (wrong) {
    if (!wrong.faults) throw wrong;
    const told = wrong.faults.map((fault) => fault.message).join(" ");
    return { state: NOT_KNOWN, opens_at: null, closes_at: null, notes: [`The data sheet cannot be read so: ${told}.`] };
  }
}

/**
 * How a window whose ends are told stands at a moment: the pack tells it as it stood when it was made.
 *
 * @param {{opens_at: ?string, closes_at: ?string}} told each null where it is not known or not stated
 */
export function windowState({ opens_at, closes_at }, at) {
  const us = (written) => (written ? microseconds(written) : null);
  return stateOf(us(opens_at), us(closes_at), microseconds(at));
}

function clockOf(stated, firstEnd, lastEnd, steel, at) {
  const least = pointsOf(stated, "least"), most = pointsOf(stated, "most");
  if (!least.length && !most.length) {
    const notes = ["The data sheet states no time to the next coat."];
    return { state: NOT_KNOWN, opens_at: null, closes_at: null, notes };
  }
  const notes = [basis(least.length ? least : most, steel)];
  const opens = least.length ? reached(lastEnd, steel, hoursOf(least, steel)) : lastEnd;
  const closes = most.length ? reached(firstEnd, steel, hoursOf(most, steel)) : null;
  const beyond = [[least, opens], [most, closes]].find(([points, found]) => points.length && found === null);
  if (beyond && steel.length) {
    const [low, high] = reach(beyond[0]);
    notes.push(`The steel was or is outside ${shown(low)} to ${shown(high)} °C, for which times are stated; nothing ` +
      "is guessed beyond.");
  }
  const told = (us) => (us === null ? null : moment(us));
  return { state: stateOf(opens, closes, at), opens_at: told(opens), closes_at: told(closes), notes };
}

function pointsOf(stated, name) {
  return stated.filter((row) => row[name] !== null).map((row) => [row.temperature, row[name]]);
}

function warmths(points) {
  const known = points.map(([temperature]) => temperature).filter((temperature) => temperature !== null);
  const ordered = known.sort(compare);
  return ordered.filter((temperature, place) => !place || compare(ordered[place - 1], temperature) !== 0);
}

function reach(points) {
  const ordered = warmths(points);
  return [ordered[0], ordered[ordered.length - 1]];
}

/** The hours stated at a temperature; null beyond the stated ones, or where no temperature is known. */
function hoursOf(points, steel) {
  const known = points.filter(([temperature]) => temperature !== null).sort(inOrder);
  if (!known.length) return () => points[0][1];
  if (!steel.length) return () => (known.length === 1 ? known[0][1] : null);
  refuseUnreadable(known);
  const low = known[0][0], high = known[known.length - 1][0];
  return (temperature) => (less(temperature, low) || less(high, temperature) ? null : scaled(known, temperature));
}

const inOrder = (one, other) => compare(one[0], other[0]) || compare(one[1], other[1]);

function refuseUnreadable(known) {
  for (let place = 1; place < known.length; place += 1) {
    const [cooler, longer] = known[place - 1], [warmer, shorter] = known[place];
    if (compare(cooler, warmer) === 0) throw refuse(`${shown(cooler)} °C is stated twice`, "data_sheet");
    if (less(longer, shorter)) {
      throw refuse(`the time at ${shown(warmer)} °C (${shown(shorter)} h) is longer than at ${shown(cooler)} °C ` +
        `(${shown(longer)} h): drying does not slow down as it gets warmer`, "data_sheet");
    }
  }
}

/** Between two stated temperatures the hours run straight. */
function scaled(known, temperature) {
  const place = known.findIndex(([stated]) => compare(temperature, stated) <= 0);
  const [warmer, shorter] = known[place];
  if (compare(temperature, warmer) === 0) return shorter;
  const [cooler, longer] = known[place - 1];
  const share = over(minus(temperature, cooler), minus(warmer, cooler));
  return add(longer, times(share, minus(shorter, longer)));
}

/** When the parts of the stated time make a whole; null where a temperature before that has no stated time. */
function reached(start, steel, hoursAt) {
  let share = ZERO;
  for (const [begins, ends, temperature] of stretches(start, steel)) {
    const hours = hoursAt(temperature);
    if (hours === null) return null;
    const left = times(minus(ratio(1), share), hours);
    const spent = ends === null ? null : ratio(ends - begins, HOUR_US);
    if (spent === null || !less(spent, left)) return begins + BigInt(roundEven(toNumber(left) * 3600)) * 1000000n;
    share = add(share, over(spent, hours));
  }
  return null;
}

/** The time from the end of the coat on, cut at the readings, each with its temperature; the last has no end. */
function stretches(start, steel) {
  if (!steel.length) return [[start, null, ZERO]];
  const before = steel.filter(([at]) => at <= start);
  const first = before.length ? before[before.length - 1] : steel[0];
  const cuts = [[start, first[1]], ...steel.filter(([at]) => at > start)];
  return cuts.map(([begins, temperature], place) => (
    [begins, place + 1 < cuts.length ? cuts[place + 1][0] : null, temperature]));
}

function basis(points, steel) {
  const known = warmths(points);
  if (!known.length) return "By hours stated for no temperature.";
  if (steel.length) {
    const readings = steel.length === 1 ? "1 reading" : `${steel.length} readings`;
    const last = shown(steel[steel.length - 1][1]);
    return `By ${readings} of the steel since; what is to come, at the last of them, ${last} °C.`;
  }
  const told = known.map((temperature) => shown(temperature));
  if (told.length === 1) return `No steel temperature was measured since: taken as at the stated ${told[0]} °C.`;
  const all = `${told.slice(0, -1).join(", ")} and ${told[told.length - 1]}`;
  return `No steel temperature was measured since, and times are stated at ${all} °C: not known.`;
}

function stateOf(opens, closes, at) {
  if (closes !== null && at > closes) return CLOSED;
  if (opens === null) return NOT_KNOWN;
  if (at < opens) return NOT_YET_OPEN;
  return closes !== null && closes - at <= CLOSING_H * HOUR_US ? CLOSING : OPEN;
}
