/**
 * A measurement of thickness under way, as plain data: what each key changes, what comes next, what to watch.
 *
 * Pure: no page, no store, no clock. Thicknesses are whole nanometres as the gauge showed them. What the coat's rule
 * wants and says is in `rules/`; this is the hand's side of it. A measurement is held to a `set`: `{unit, rule, wanted,
 * correction_nm, range: {from_nm, to_nm} of the gauge, verified: {from_nm, to_nm} of its newest check or null}`.
 */

import { add, compare, ratio, toNumber } from "./rules/exact.js";
import { Refused, covers, inUnit, limitsOfOne, meantOf, spotsOf, stillWanted, toNm } from "./rules/index.js";
import { leadOf, ledPause, ledPress } from "./leading.js";
import { EMPTY, pause, press } from "./pad.js";

export const LABELS = { um: "µm", mil: "mil" };
/** How many digits after the point a figure is typed with. */
export const DIGITS = { um: 1, mil: 2 };
/** As many keys of tens as a thumb finds its way among. */
const MOST_TENS = 20;
const TEN_NM = 10_000;
/** With fewer readings there is no middle to hold one against. */
const FEWEST_OTHERS = 3;

/**
 * A measurement with nothing in it. `readings` stand in the order taken; `taken_back` are slips of the hand; `led` is
 * whether figures go on with the first digits of the last one.
 */
export function begin() {
  return { pad: EMPTY, spot: null, readings: [], taken_back: [], led: false };
}

/**
 * What one key does to a measurement.
 * @param {object} m the measurement; never changed
 * @param {string} key as `pad.press` knows it, or "pause": nothing was typed for a while; or "lead": figures go on
 *   with the first digits of the last one, or do so no more
 * @param {object} set what it is held to
 * @param {string} at the moment (ISO 8601)
 * @param {string} [by] "keyboard" where an instrument types, which types all digits
 * @returns {{m: object, did: "typed"|"landed"|"undone"|"refused"|"doubted"|"nothing", fault?: string, reading?: object,
 *   meant?: number}} `meant` is the thickness that the last reading perhaps is, where its digits were typed whole
 */
export function step(m, key, set, at, by = "pad") {
  if (key === "lead") return { m: { ...m, pad: EMPTY, led: !m.led }, did: "typed" };
  const lead = m.led ? leadOf(m.readings, set) : "";
  const fits = (text) => landsByItself(text, set);
  if (key === "pause" && lead) {
    const meant = ledPause(m.pad, lead, fits);
    if (meant) return { m: { ...m, led: false, pad: EMPTY }, did: "doubted", meant: read(meant, set).nm };
  }
  const pressed =
    (lead && ledPress(m.pad, key, { lead, by, fits })) ||
    (key === "pause" ? pause(m.pad, fits) : press(m.pad, key, { digits: DIGITS[set.unit] }));
  if (!pressed.known) return { m, did: "nothing" };
  const next = { ...m, pad: pressed.pad };
  if (pressed.undo) {
    // A point goes on with a figure that landed by itself: the figure is no slip, it was not finished.
    const goesOn = Boolean(pressed.pad.text);
    const undone = takeBack(next, at, { kept: !goesOn });
    return goesOn ? { m: undone.m, did: "typed" } : undone;
  }
  if (pressed.lands === null) return { m: next, did: "typed" };
  const { nm, fault } = read(pressed.lands, set);
  if (fault) return { m: { ...next, pad: { text: pressed.lands, landed: "" } }, did: "refused", fault };
  return land(next, nm, set, at);
}

/** The thickness a figure names, or why it is none that this gauge can have shown. */
export function read(text, set) {
  try {
    const nm = toNm(text, set.unit);
    return { nm, fault: outOfRange(nm, set) };
  } catch (wrong) {
    if (wrong instanceof Refused) return { nm: null, fault: wrong.message };
    throw wrong;
  }
}

function land(m, nm, set, at) {
  const spot = spotNow(m, set);
  const last = m.readings.reduce((most, one) => (one.spot === spot ? Math.max(most, one.order) : most), 0);
  const reading = { spot, order: last + 1, value_nm: nm, at, void_reason: "" };
  const next = { ...m, readings: [...m.readings, reading] };
  // A spot that was chosen is left once it is full; after that the measurement counts on by itself.
  return { m: { ...next, spot: wantingOf(next, spot, set) ? spot : null }, did: "landed", reading };
}

/**
 * The last reading taken back: a slip of the hand, neither voided nor repeated; a voided one stays. What was typed is
 * kept beside, for the note of the record, unless `kept` is false.
 */
export function takeBack(m, at, { kept = true } = {}) {
  const reading = m.readings[m.readings.length - 1];
  if (!reading || reading.void_reason) return { m, did: "nothing" };
  const slip = { spot: reading.spot, value_nm: reading.value_nm, at };
  const taken_back = kept ? [...m.taken_back, slip] : m.taken_back;
  return { m: { ...m, readings: m.readings.slice(0, -1), taken_back, spot: reading.spot }, did: "undone", reading };
}

/** The last reading put right by the person's word, as when 755 was typed for 75.5. */
export function putRight(m, nm, at) {
  const { m: without, did, reading } = takeBack(m, at);
  if (did === "nothing") return without;
  return { ...without, readings: [...without.readings, { ...reading, value_nm: nm }], spot: m.spot };
}

/** A reading taken out of the arithmetic because the person says why; without a reason it counts again. */
export function voided(m, index, reason) {
  const readings = m.readings.map((one, at) => (at === index ? { ...one, void_reason: reason.trim() } : one));
  return { ...m, readings, spot: reason.trim() ? readings[index].spot : m.spot };
}

/** Another spot chosen by hand; null counts on by itself. */
export function atSpot(m, spot) {
  return { ...m, spot };
}

// --- spots ----------------------------------------------------------------------------------------------------------
/** How many readings a spot lacks: of one not begun, all that a spot has. */
export function wantingOf(m, number, set) {
  const spot = spotsOf(m.readings).find((one) => one.number === number);
  const each = set.wanted.readings_a_spot;
  if (!spot) return each;
  const repeat = Number(spot.repeat_missing);
  return set.wanted.areas ? Math.max(each - spot.shown_nm.length, repeat) : repeat;
}

/** The spot the next reading lands in: the one chosen, else one that lacks readings, else the first free number. */
export function spotNow(m, set) {
  if (m.spot !== null) return m.spot;
  const begun = spotsOf(m.readings).map((spot) => spot.number);
  const wanting = begun.find((number) => wantingOf(m, number, set) > 0);
  if (wanting !== undefined) return wanting;
  let number = 1;
  while (begun.includes(number)) number += 1;
  return number;
}

/** How many readings the rule still wants. */
export function wantedStill(m, set) {
  return stillWanted(set.wanted, spotsOf(m.readings));
}

// --- what to watch --------------------------------------------------------------------------------------------------
/** Where a reading lies against the limits of one, or of one spot: "low", "high" or "within". */
export function against(nm, set) {
  const [least, greatest] = limitsOfOne(set.rule);
  const film = ratio(nm - set.correction_nm);
  if (least !== null && compare(film, least) < 0) return "low";
  return greatest !== null && compare(film, greatest) > 0 ? "high" : "within";
}

/** What one reading, or one spot, keeps to, as the gauge shows it; and whether this one does. */
export function toldOf(nm, set) {
  const film = against(nm, set);
  const correction = ratio(set.correction_nm);
  const [least, greatest] = limitsOfOne(set.rule).map((limit) => limit && figure(add(limit, correction), set));
  if (film === "low") return { words: `below ${least}`, isUsual: false };
  if (film === "high") return { words: `above ${greatest}`, isUsual: false };
  if (least === null && greatest === null) return { words: "no limit of one", isUsual: true };
  if (greatest === null) return { words: `at least ${least}`, isUsual: true };
  return { words: least === null ? `at most ${greatest}` : `within ${least} to ${greatest}`, isUsual: true };
}

/**
 * Whether a figure typed so far can only be this one: it lies within the limits of one reading, and none that further
 * digits before the point would make of it does. What lies outside the limits waits for Enter.
 */
export function landsByItself(text, set) {
  const [, decimals] = text.split(".");
  if (decimals !== undefined && decimals.length < DIGITS[set.unit]) return false;
  if (limitsOfOne(set.rule)[1] === null) return false;
  const { nm, fault } = read(text, set);
  if (fault || against(nm, set) !== "within") return false;
  return decimals !== undefined || against(10 * nm, set) === "high";
}

/** The tens between the limits of one reading, for a pad of their own; none below 100 µm, in mils, or of too many. */
export function tensOf(set) {
  const [least, greatest] = limitsOfOne(set.rule);
  if (set.unit !== "um" || least === null || greatest === null) return [];
  const [from, to] = [least, greatest].map((limit) => Math.floor((toNumber(limit) + set.correction_nm) / TEN_NM));
  if (from < 10 || to > 99 || to - from >= MOST_TENS) return [];
  return Array.from({ length: to - from + 1 }, (_, at) => from + at);
}

/** A sentence where the gauge cannot have shown this; else nothing. */
export function outOfRange(nm, set) {
  const { from_nm: from, to_nm: to } = set.range;
  if (nm >= from && nm <= to) return "";
  return `${shown(nm, set)} is outside the ${figure(from, set)} to ${shown(to, set)} of this gauge. Check it.`;
}

/** Whether the newest check before speaks for this thickness; true where there is no check to tell. */
export function isVerified(nm, set) {
  return !set.verified || covers(set.verified.from_nm, set.verified.to_nm, nm);
}

/** The readings that count and that the check of the gauge does not cover. */
export function beyondVerified(m, set) {
  return m.readings.filter((one) => !one.void_reason && !isVerified(one.value_nm, set));
}

/**
 * The figure that was perhaps meant where the last one has its point in the wrong place, held against the others, and
 * against what is specified where there are too few. Only ever asked; nothing changes without the person's word.
 */
export function meantPerhaps(m, set) {
  const last = m.readings[m.readings.length - 1];
  if (!last || last.void_reason) return null;
  const others = m.readings
    .slice(0, -1)
    .filter((one) => !one.void_reason)
    .map((one) => one.value_nm);
  const { minimum_nm, nominal_nm, maximum_nm } = set.rule;
  const specified = nominal_nm ?? minimum_nm ?? maximum_nm;
  const beside =
    others.length >= FEWEST_OTHERS || specified === null
      ? others
      : Array(FEWEST_OTHERS).fill(specified + set.correction_nm);
  const meant = meantOf(last.value_nm, beside);
  return meant === null || outOfRange(meant, set) ? null : meant;
}

/** A thickness with its unit; `digits` as the unit is typed, where nothing else is said. */
export function shown(nm, set, digits = DIGITS[set.unit]) {
  return `${figure(nm, set, digits)} ${LABELS[set.unit]}`;
}

/** A thickness without its unit. */
export function figure(nm, set, digits = DIGITS[set.unit]) {
  return inUnit(nm, set.unit, digits);
}

// --- what is sent ---------------------------------------------------------------------------------------------------
/** The readings as POST /api/thickness/ takes them, spot by spot. */
export function readingsSent(m, unit) {
  // A division of whole numbers gives the very double that the decimal figure names.
  const value = unit === "mil" ? (nm) => ({ value_mil: nm / 25_400 }) : (nm) => ({ value_um: nm / 1_000 });
  return [...m.readings]
    .sort((one, other) => one.spot - other.spot || one.order - other.order)
    .map((one) => ({
      spot: one.spot,
      reading: one.order,
      ...value(one.value_nm),
      taken_at: one.at,
      ...(one.void_reason ? { void_reason: one.void_reason } : {}),
    }));
}

/** What was typed by mistake and taken back at once, for the note of the record; empty where nothing was. */
export function slipsTold(m, set) {
  if (!m.taken_back.length) return "";
  const each = m.taken_back.map((slip) => `spot ${slip.spot}: ${shown(slip.value_nm, set)}`);
  return `Typed by mistake and taken back at once: ${each.join("; ")}.`;
}

/** First and last moment of the readings. */
export function momentsOf(m) {
  const at = m.readings.map((one) => one.at).sort();
  return { first_reading_at: at[0], last_reading_at: at[at.length - 1] };
}
