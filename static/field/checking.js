/**
 * A check of a gauge on shims under way, as plain data: shim by shim, so many readings on each. Pure.
 *
 * A check is held to a `set`: `{unit, each, points: [{standards: [id…], name, certified_nm}]}`; readings are whole
 * nanometres and may lie a little below zero on a zero plate.
 */

import { EMPTY, pause, press } from "./pad.js";
import { DIGITS, figure } from "./measuring.js";
import { Refused, toNm } from "./rules/index.js";

/** A figure within so much of the shim lands by itself; it only saves Enter, and judges nothing. */
const NEAR_PCT = 10;
const NEAR_NM = 3_000;
/** The office asks where a reading lies so close to ten times, or a tenth of, the shim under it (slips). */
const TENFOLD_WITHIN_PCT = 10;

/** A check with nothing read. */
export function begin(points) {
  return { pad: EMPTY, readings: points.map(() => []) };
}

/** The point the next reading is for: the first that lacks one, or null once all are read. */
export function pointNow(c, set) {
  const at = c.readings.findIndex((read) => read.length < set.each);
  return at < 0 ? null : at;
}

/**
 * What one key, or a "pause", does to a check; as `measuring.step`.
 * @returns {{c: object, did: "typed"|"landed"|"undone"|"refused"|"nothing", fault?: string, nm?: number}}
 */
export function step(c, key, set) {
  const at = pointNow(c, set);
  const fits = (text) => at !== null && landsByItself(text, set.points[at], set);
  const pressed =
    key === "pause" ? pause(c.pad, fits) : press(c.pad, key, { digits: DIGITS[set.unit], signed: true });
  if (!pressed.known) return { c, did: "nothing" };
  const next = { ...c, pad: pressed.pad };
  if (pressed.undo) {
    const undone = takeBack(next);
    return pressed.pad.text ? { c: undone.c, did: "typed" } : undone;
  }
  if (pressed.lands === null) return { c: at === null ? c : next, did: at === null ? "nothing" : "typed" };
  if (at === null) return { c, did: "nothing" };
  const { nm, fault } = read(pressed.lands, set);
  if (fault) return { c: { ...next, pad: { text: pressed.lands, landed: "" } }, did: "refused", fault };
  const readings = c.readings.map((one, place) => (place === at ? [...one, nm] : one));
  return { c: { ...next, readings }, did: "landed", nm, point: at };
}

function read(text, set) {
  try {
    const nm = toNm(text.replace("-", ""), set.unit);
    return { nm: text.startsWith("-") ? -nm : nm, fault: "" };
  } catch (wrong) {
    if (wrong instanceof Refused) return { nm: null, fault: wrong.message };
    throw wrong;
  }
}

function lastRead(c) {
  const read = c.readings.map((one, at) => (one.length ? at : -1)).filter((at) => at >= 0);
  return read.length ? read[read.length - 1] : null;
}

/** The last reading, or null. */
export function lastOf(c) {
  const at = lastRead(c);
  return at === null ? null : c.readings[at][c.readings[at].length - 1];
}

/** The last reading taken back. */
export function takeBack(c) {
  const at = lastRead(c);
  if (at === null) return { c, did: "nothing" };
  const nm = c.readings[at][c.readings[at].length - 1];
  const readings = c.readings.map((one, place) => (place === at ? one.slice(0, -1) : one));
  return { c: { ...c, readings }, did: "undone", nm };
}

/** The last reading put right by the person's word. */
export function putRight(c, nm) {
  const at = lastRead(c);
  const readings = c.readings.map((one, place) => (place === at ? [...one.slice(0, -1), nm] : one));
  return { ...c, readings };
}

function landsByItself(text, point, set) {
  const [, decimals] = text.split(".");
  if (decimals !== undefined && decimals.length < DIGITS[set.unit]) return false;
  const { nm, fault } = read(text, set);
  return !fault && point.certified_nm > 0 && isNear(nm, point) && (decimals !== undefined || !isNear(10 * nm, point));
}

function isNear(nm, point) {
  return Math.abs(nm - point.certified_nm) <= Math.max(NEAR_NM, (point.certified_nm * NEAR_PCT) / 100);
}

/** The figure perhaps meant where the last reading is about ten times, or a tenth of, what lies under it. */
export function meantPerhaps(c, set) {
  const at = lastRead(c);
  if (at === null) return null;
  const nm = c.readings[at][c.readings[at].length - 1];
  const under = set.points[at].certified_nm;
  const tenfold = (expected, meant) =>
    Number.isInteger(meant) && expected > 0 && Math.abs(nm - expected) * 100 <= TENFOLD_WITHIN_PCT * expected
      ? meant
      : null;
  return tenfold(under * 10, nm / 10) ?? tenfold(under / 10, nm * 10);
}

/** The points as POST /api/verifications/ takes them; those without a reading are left out. */
export function pointsSent(c, set) {
  const name = set.unit === "mil" ? "readings_mil" : "readings_um";
  const by = set.unit === "mil" ? 25_400 : 1_000;
  return set.points
    .map((point, at) => ({ standards: point.standards, [name]: c.readings[at].map((nm) => nm / by) }))
    .filter((point) => point[name].length);
}

/** What is read on a point so far, for a line. */
export function toldOf(c, set, at) {
  return c.readings[at].map((nm) => (nm < 0 ? `−${figure(-nm, set)}` : figure(nm, set)));
}
