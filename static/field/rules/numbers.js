/**
 * Figures as a person types them, with a point or a decimal comma, read into the exact unit; and written again.
 * Homes at the office: inspection/foundation/units.py (`to_nm`, `in_unit`), form_fields.py (`Figure`).
 */

import { Refused } from "./checks.js";
import { compare, fixed, magnitude, ofText, ratio, times } from "./exact.js";

/** Nothing inspected here is thicker; a larger figure is a slip of unit or of key. */
export const MOST_NM = 100000000;
const UNITS = {
  um: { label: "µm", nm: 1000, digits: 1, most: 3, example: "84.5" },
  mil: { label: "mil", nm: 25400, digits: 2, most: 2, example: "3.32" },
};
const TYPED = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?$/i;
const ENDLESS = /^[+-]?(?:inf|infinity|s?nan\d*)$/i;
const MOST_CHARACTERS = 40, MOST_EXPONENT = 30, MOST_FIGURE = ratio(10n ** 20n);

/** The text with its one decimal comma as a point. */
function pointed(text) {
  return text.split(",").length === 2 && !text.includes(".") ? text.replace(",", ".") : text;
}

/** The fraction a typed figure names, or null where it is no number. */
function figure(text) {
  if (!TYPED.test(text)) return null;
  if (!/[1-9]/.test(text.split(/e/i)[0])) return ratio(0);
  const exponent = Number((/e([+-]?\d+)$/i.exec(text) || [0, 0])[1]);
  // A number nobody measured, of more digits than a phone should unfold; what it is does not matter.
  if (Math.abs(exponent) > MOST_EXPONENT) return ratio(/^-/.test(text) ? -1 : 10n ** 40n);
  return ofText(text);
}

/**
 * Whole nanometres of a thickness typed in the unit.
 *
 * @param {string} typed with a point or a decimal comma
 * @param {"um"|"mil"} unit
 * @throws {Refused} for text, negative or absurd figures and for more digits than a nanometre can hold
 */
export function toNm(typed, unit, { field = "", row = null } = {}) {
  const { label, nm, most, example } = UNITS[unit], text = pointed(String(typed).trim());
  const told = (message) => new Refused([{ message, field, row }]);
  if (ENDLESS.test(text)) throw told(`“${text.slice(0, 40)}” is not a thickness; give a number in ${label}.`);
  const number = figure(text);
  if (!number) {
    const wrong = `“${String(typed).slice(0, 40)}” is not a number`;
    throw told(`${wrong}; give the thickness in ${label}, such as ${example}.`);
  }
  if (number.n < 0n) throw told(`${text} ${label} is negative; a thickness is zero or more.`);
  if (compare(number, ratio(MOST_NM)) > 0) {
    throw told(`${text.slice(0, 40)} ${label} is beyond anything measured here; check the figure and the unit.`);
  }
  const exact = times(number, ratio(nm));
  if (compare(exact, ratio(MOST_NM)) > 0) {
    const most = `${MOST_NM / 1000000} mm`;
    throw told(`${text.slice(0, 40)} ${label} is beyond anything measured here (${most}); check the unit.`);
  }
  if (exact.n % exact.d) {
    const given = `${String(typed).trim().slice(0, 40)} ${label}`;
    throw told(`${given} has too many digits; give at most ${most} after the point.`);
  }
  return Number(exact.n / exact.d);
}

/**
 * A figure typed of anything else, such as °C, %, m/s or hPa, as the decimal text the API takes; null when empty.
 *
 * @param {string} typed with a point or a decimal comma, and − for minus too
 * @param {{places: ?number, example: string, field: string}} asked at most so many places after the point
 */
export function toDecimal(typed, { places = null, example = "12.5", field = "" } = {}) {
  const text = pointed(String(typed === null || typed === undefined ? "" : typed).trim().replace(/−/g, "-"));
  if (!text) return null;
  if (!TYPED.test(text) || text.length > MOST_CHARACTERS) {
    const message = `“${String(typed).slice(0, MOST_CHARACTERS)}” is not a number; write it as ${example}.`;
    throw new Refused([{ message, field, row: null }]);
  }
  const number = figure(text);
  const huge = compare(magnitude(number), MOST_FIGURE) >= 0;
  if (places !== null && (huge || number.n * 10n ** BigInt(places) % number.d)) {
    const most = places === 1 ? "one" : String(places);
    const message = `${text.slice(0, 20)} has too many digits; give at most ${most} after the point.`;
    throw new Refused([{ message, field, row: null }]);
  }
  return text;
}

/**
 * A relative humidity in per cent as `toDecimal` reads it; says what is wanted of one typed with its sign, or as a
 * share of one, which would be stored as air drier than any. Home at the office: inspection/fieldwork/forms.py.
 */
export function toHumidity(typed, asked = {}) {
  const text = String(typed || "").trim().replace(/,/g, "."), { field = "" } = asked;
  const told = (message) => new Refused([{ message, field, row: null }]);
  if (text.endsWith("%")) throw told("Type the figure alone, without a % sign, such as 71.");
  const number = figure(text);
  if (number && number.n > 0n && number.n < number.d) {
    throw told(`${text} reads as a share of one; type the humidity in per cent, such as 71.`);
  }
  return toDecimal(typed, { places: 1, ...asked });
}

/** A thickness of so many nm written in the unit, without its sign; rounded half to even only here, at the edge. */
export function inUnit(nm, unit, digits = UNITS[unit].digits) {
  const exact = typeof nm === "object" ? nm : ratio(nm);
  return fixed({ n: exact.n, d: exact.d * BigInt(UNITS[unit].nm) }, digits);
}
