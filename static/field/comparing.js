/**
 * A check of an instrument that reads no thickness, as plain data: on a solution whose certificate says its value, or
 * beside another instrument, whose figure is typed first. Pure.
 *
 * A check is held to a `set`: `{unit, each, byReference, held: {tolerance_pct, tolerance}, standards: [{id, name,
 * certified}]}`. Figures stay the decimal texts that were typed.
 */

import { EMPTY, press } from "./pad.js";
import { judgeInstrumentCheck, Refused } from "./rules/index.js";

/** The office takes so many decimals, so many points, and figures within these bounds. */
const DIGITS = 3;
export const MOST_POINTS = 20;
const LEAST = -1_000;
const MOST = 100_000;
/** Asked where a reading lies so close to ten times, or a tenth of, the reference; as for shims. */
const TENFOLD_WITHIN_PCT = 10;

/** A check with nothing read: a point for each solution, or the first one beside another instrument. */
export function begin(set) {
  const points = set.byReference ? [pointOf(set.standards[0].id)] : set.standards.map(({ id }) => pointOf(id));
  return { pad: EMPTY, points };
}

const pointOf = (standard) => ({ standard, reference: "", readings: [] });

/** A further point beside the reference instrument. */
export const another = (c, set) => ({ ...c, points: [...c.points, pointOf(set.standards[0].id)] });

/** What is typed next: the point, and whether its reference or a reading; null once nothing is wanted. */
export function nextOf(c, set) {
  for (const [at, point] of c.points.entries()) {
    if (set.byReference && !point.reference) return { at, what: "reference" };
    if (point.readings.length < set.each) return { at, what: "reading" };
  }
  return null;
}

/**
 * What one key does to a check.
 * @returns {{c: object, did: "typed"|"landed"|"undone"|"refused"|"nothing", fault?: string, text?: string}}
 */
export function step(c, key, set) {
  const next = nextOf(c, set);
  const pressed = press(c.pad, key, { digits: DIGITS, signed: true });
  if (!pressed.known) return { c, did: "nothing" };
  if (pressed.undo) return takeBack({ ...c, pad: pressed.pad });
  if (!next) return { c, did: "nothing" };
  if (pressed.lands === null) return { c: { ...c, pad: pressed.pad }, did: "typed" };
  const text = pressed.lands.replace(/\.$/, "");
  if (Number(text) < LEAST || Number(text) > MOST) {
    const fault = `A figure lies between ${LEAST} and ${MOST} ${set.unit}. Check it.`;
    return { c: { ...c, pad: { text, landed: "" } }, did: "refused", fault };
  }
  const points = c.points.map((point, at) => (at === next.at ? landed(point, next.what, text) : point));
  return { c: { ...c, pad: pressed.pad, points }, did: "landed", text };
}

const landed = (point, what, text) =>
  what === "reference" ? { ...point, reference: text } : { ...point, readings: [...point.readings, text] };

/** Where the last figure stands, or null. */
function lastAt(c) {
  for (let at = c.points.length - 1; at >= 0; at -= 1) {
    const { reference, readings } = c.points[at];
    if (readings.length) return { at, what: "reading", text: readings[readings.length - 1] };
    if (reference) return { at, what: "reference", text: reference };
  }
  return null;
}

/** The last figure, or an empty text. */
export const lastOf = (c) => lastAt(c)?.text || "";

/** The last figure taken back; a further point that nothing was typed on goes with it. */
export function takeBack(c) {
  const last = lastAt(c);
  if (!last) return { c, did: "nothing" };
  const points = c.points
    .filter((point, at) => at <= last.at || !c.points.slice(0, at).some((one) => one.standard === point.standard))
    .map((point, at) => (at === last.at ? without(point, last.what) : point));
  return { c: { ...c, points }, did: "undone", text: last.text };
}

const without = (point, what) =>
  what === "reference" ? { ...point, reference: "" } : { ...point, readings: point.readings.slice(0, -1) };

/** What a point is held to: what its certificate states, else what the other instrument showed. */
const referenceOf = (point, set) =>
  set.byReference ? point.reference : String(set.standards.find(({ id }) => id === point.standard).certified);

/** The figure perhaps meant where the last reading is about ten times, or a tenth of, its reference. */
export function meantPerhaps(c, set) {
  const last = lastAt(c);
  if (last?.what !== "reading") return "";
  const under = Math.abs(Number(referenceOf(c.points[last.at], set)));
  const read = Number(last.text);
  const near = (expected) => expected > 0 && Math.abs(Math.abs(read) - expected) * 100 <= TENFOLD_WITHIN_PCT * expected;
  const exact = (value) => String(Number(value.toFixed(DIGITS)));
  if (near(under * 10)) return exact(read / 10);
  return near(under / 10) ? exact(read * 10) : "";
}

/** The last reading put right by the person's word. */
export function putRight(c, text) {
  const { at } = lastAt(c);
  const points = c.points.map((point, place) =>
    place === at ? { ...point, readings: [...point.readings.slice(0, -1), text] } : point,
  );
  return { ...c, points };
}

const whole = (c) => c.points.filter((point) => point.readings.length);

/** The points as POST /api/verifications/ takes them; those without a reading are left out. */
export function pointsSent(c, set) {
  return whole(c).map(({ standard, reference, readings }) => ({
    standards: [standard],
    readings: readings.map(Number),
    ...(set.byReference ? { reference: Number(reference) } : {}),
  }));
}

/** What the rules on the phone say of what is read so far; null without a reading. */
export function judged(c, set) {
  const points = whole(c);
  if (!points.length) return null;
  const given = points.map((point) => ({ reference: referenceOf(point, set), readings: point.readings }));
  try {
    const { verdict, result } = judgeInstrumentCheck({ unit: set.unit, ...set.held }, given);
    const lines = result.points.map((found, at) => lineOf(nameOf(points[at], set), found, set));
    return { verdict, lines: [...lines, ...result.notes] };
  } catch (wrong) {
    if (!(wrong instanceof Refused)) throw wrong;
    return { verdict: "", lines: wrong.faults.map((fault) => fault.message) };
  }
}

/** A point in words, with what it is held to once that is known. */
export function nameOf(point, set) {
  const { name } = set.standards.find(({ id }) => id === point.standard);
  const held = referenceOf(point, set);
  return held ? `${name}, ${shown(held)} ${set.unit}` : name;
}

const shown = (figure) => String(Number(Number(figure).toFixed(DIGITS))).replace("-", "−");

function lineOf(name, { mean, error, tolerance, verdict }, { unit }) {
  const way = error < 0 ? "" : "+";
  const said = verdict === "pass" ? "within" : "outside";
  return `${name}: mean ${shown(mean)}, error ${way}${shown(error)}, allowed ±${shown(tolerance)} ${unit}: ${said}.`;
}
