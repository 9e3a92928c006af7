/**
 * Figures that go on with the first digits of the last one: after 245 the two digits 4 and 7 make 247. Pure.
 *
 * Only as the person asks for it, for as long as the first digits stand before what is typed; a thumb then needs two
 * keys a reading. The key that erases takes them away for one figure, which is typed whole.
 */

import { EMPTY, press } from "./pad.js";

/** How many digits are typed; what stands before them is that of the last reading. */
const TYPED = 2;
const LAST = 3;
const HUNDRED_NM = 100_000;

/**
 * The first digits that go before: those of the last reading; of three, those of the middle one, so that a single odd
 * reading changes nothing. Empty below 100 µm, in mils, and where nothing tells what a figure may be.
 */
export function leadOf(readings, set) {
  if (set.unit !== "um" || set.rule.maximum_nm === null) return "";
  const last = readings.slice(-LAST).map((one) => Math.floor(one.value_nm / HUNDRED_NM));
  const hundreds = last.length < LAST ? last[last.length - 1] : [...last].sort((one, other) => one - other)[1];
  return hundreds ? String(hundreds) : "";
}

/** Whether a figure under way has the first digits before it: so many of its own are typed. */
export const typedAfter = (pad, lead) => (pad.led ? pad.text.slice(lead.length) : "");

/**
 * What a key does while first digits stand before it, as `pad.press`; nothing where it is a key as ever.
 * @param {object} pad `led` while first digits stand before what is typed, `whole` once they were taken away
 * @param {string} key
 * @param {{lead: string, by: string, fits: (text: string) => boolean}} how `fits` is whether a figure can be no other
 */
export function ledPress(pad, key, { lead, by, fits }) {
  const told = (to, more = {}) => ({ pad: to, lands: null, undo: false, known: true, ...more });
  const isDigit = /^[0-9]$/.test(key);
  if (key === "pause") return pad.led && typedAfter(pad, lead).length < TYPED ? told(pad) : null;
  if (!pad.text) {
    // An instrument types all its digits.
    if (pad.whole || (isDigit && by === "keyboard")) return whole(pad, key);
    if (key === "erase") return told({ ...EMPTY, whole: true });
    return isDigit ? told({ text: lead + key, landed: "", led: true, before: pad.ended || "" }) : null;
  }
  if (!pad.led) return pad.whole ? whole(pad, key) : null;
  const typed = typedAfter(pad, lead);
  if (key === "undo") return null;
  if (key === "erase") return told(typed.length === 1 ? EMPTY : { ...pad, text: pad.text.slice(0, -1) });
  // Without its last digits it is no figure.
  if (typed.length < TYPED && !isDigit) return told(pad);
  if (typed.length !== TYPED - 1) return null;
  const text = pad.text + key;
  // As many digits as the last one, and it can be no other: it lands at once.
  return fits(text)
    ? told({ text: "", landed: text, ended: typed + key }, { lands: text })
    : told({ text, landed: "", led: true });
}

/**
 * The figure that was perhaps typed whole, all its digits, while the first one stood there already: 2, 4 landed as 224,
 * and a 5 waits. Empty where nothing speaks for it.
 */
export function ledPause(pad, lead, fits) {
  const typed = typedAfter(pad, lead);
  if (typed.length !== 1 || !pad.before?.startsWith(lead)) return "";
  return fits(pad.before + typed) ? pad.before + typed : "";
}

/** A figure typed whole, until it lands. */
function whole(pad, key) {
  const pressed = press(pad, key);
  return pressed.pad.text ? { ...pressed, pad: { ...pressed.pad, whole: true } } : pressed;
}
