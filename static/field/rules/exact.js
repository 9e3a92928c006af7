/**
 * Exact numbers: a fraction is `{n, d}`, two BigInts with d above 0. The office judges with exact fractions, so a
 * value at a limit, or a nanometre beside it, must fall on the same side here; a double would not do.
 * Home in the core: inspection/standards/units.py (`exact`, `plain`, `plain_apart`).
 */

const SAFE = 9007199254740992n;
const DECIMAL = /^([+-]?)(\d*)(?:\.(\d*))?(?:e([+-]?\d+))?$/i;

/** A fraction of two whole numbers, BigInt or Number; the denominator is not 0. */
export function ratio(numerator, denominator = 1n) {
  const n = BigInt(numerator), d = BigInt(denominator);
  return d < 0n ? { n: -n, d: -d } : { n, d };
}

export const ZERO = ratio(0n);

/** The fraction that a decimal text names, such as "12.50" or "1e-3". Throws RangeError for other text. */
export function ofText(text) {
  const found = DECIMAL.exec(text);
  const whole = found ? found[2] : "", parts = found && found[3] ? found[3] : "";
  if (!found || !(whole || parts)) throw new RangeError(`${text} is no decimal number`);
  const places = parts.length - Number(found[4] || 0);
  const digits = BigInt(whole + parts) * (found[1] === "-" ? -1n : 1n);
  return places >= 0 ? ratio(digits, 10n ** BigInt(places)) : ratio(digits * 10n ** BigInt(-places));
}

/** The number as it was written: a double counts as the shortest decimal that names it. */
export function ofNumber(value) {
  return ofText(String(value));
}

/** A decimal the API sends, as text or as a number; null stays null. */
export function ofDecimal(value) {
  if (value === null || value === undefined || value === "") return null;
  return typeof value === "number" ? ofNumber(value) : ofText(value);
}

/** Nanometres as a fraction of micrometres. */
export function micrometres(nm) {
  return ratio(nm, 1000n);
}

export function add(one, other) {
  if (one.d === other.d) return { n: one.n + other.n, d: one.d };
  return reduced({ n: one.n * other.d + other.n * one.d, d: one.d * other.d });
}

export function minus(one, other) {
  return add(one, { n: -other.n, d: other.d });
}

export function times(one, other) {
  return { n: one.n * other.n, d: one.d * other.d };
}

/** Throws RangeError for a division by 0. */
export function over(one, other) {
  return ratio(one.n * other.d, one.d * other.n);
}

/** So many percent of a fraction. */
export function share(of, pct) {
  return { n: of.n * BigInt(pct), d: of.d * 100n };
}

/** Below 0, 0 or above 0, as one is less than, equal to or more than the other. */
export function compare(one, other) {
  const difference = one.n * other.d - other.n * one.d;
  return difference < 0n ? -1 : difference > 0n ? 1 : 0;
}

export const less = (one, other) => compare(one, other) < 0;
export const same = (one, other) => compare(one, other) === 0;
export const least = (values) => values.reduce((found, value) => (less(value, found) ? value : found));
export const greatest = (values) => values.reduce((found, value) => (less(found, value) ? value : found));
export const magnitude = (value) => (value.n < 0n ? { n: -value.n, d: value.d } : value);

/** Exact arithmetic mean of at least one value. */
export function mean(values) {
  return over(values.reduce(add, ZERO), ratio(values.length));
}

/** The whole number at or above a fraction, as a Number. */
export function ceiling({ n, d }) {
  const below = n / d;
  return Number(n % d > 0n ? below + 1n : below);
}

/** The nearest whole number as a BigInt; halfway to the even one. */
export function rounded({ n, d }) {
  if (n < 0n) return -rounded({ n: -n, d });
  const below = n / d, twice = 2n * (n % d);
  return twice > d || (twice === d && below % 2n === 1n) ? below + 1n : below;
}

/** The double nearest to a fraction, halfway to the even one, as the core writes it into an answer. */
export function toNumber({ n, d }) {
  if (n < 0n) return -toNumber({ n: -n, d });
  if (n <= SAFE && d <= SAFE) return Number(n) / Number(d);
  // A quotient of more bits than a double has, its last one telling whether anything is left over: rounded once.
  const shift = BigInt(Math.max(0, 68 + bits(d) - bits(n)));
  const quotient = (n << shift) / d;
  const sticky = quotient * d === n << shift ? quotient : quotient | 1n;
  return Number(sticky) / 2 ** Number(shift);
}

/** Both as doubles, never equal unless they are: a value just beside a limit stays beside it. */
export function apart(limit, observed) {
  const first = toNumber(limit), second = toNumber(observed);
  if (first !== second || same(limit, observed)) return [first, second];
  return [first, beside(second, compare(observed, limit))];
}

function reduced({ n, d }) {
  let a = n < 0n ? -n : n, b = d;
  while (b) [a, b] = [b, a % b];
  return a > 1n ? { n: n / a, d: d / a } : { n, d };
}

function bits(value) {
  return value.toString(16).length * 4;
}

/** The double next to a value above 0 or at it, upwards or downwards. */
function beside(value, way) {
  const view = new DataView(new ArrayBuffer(8));
  view.setFloat64(0, value);
  const outward = value > 0 ? way : -way;
  view.setBigInt64(0, view.getBigInt64(0) + BigInt(outward));
  return value === 0 ? way * Number.MIN_VALUE : view.getFloat64(0);
}

/** The fraction that a double is to the last bit, which is not the decimal that names it. */
export function ofBits(value) {
  let scaled = value, d = 1n;
  while (!Number.isInteger(scaled)) {
    scaled *= 2;
    d *= 2n;
  }
  return { n: BigInt(scaled), d };
}

/** The double nearest to the square root of a fraction that is not negative. */
export function root({ n, d }) {
  if (n === 0n) return 0;
  // √(n / d) = √(n d) / d; enough bits that rounding once is rounding right, the last telling what is left over.
  const shift = BigInt(Math.max(0, 136 + 2 * bits(d) - bits(n * d)));
  const even = shift + (shift % 2n), square = (n * d) << even;
  const whole = wholeRoot(square), sticky = whole * whole === square ? 0n : 1n;
  return toNumber({ n: (whole << 1n) | sticky, d: d << (even / 2n + 1n) });
}

function wholeRoot(square) {
  let root = 1n << BigInt(Math.ceil(bits(square) / 2));
  for (;;) {
    const next = (root + square / root) >> 1n;
    if (next >= root) return root;
    root = next;
  }
}

/** A double rounded to a whole number, halfway to the even one. */
export function roundEven(value) {
  const below = Math.floor(value), part = value - below;
  return part > 0.5 || (part === 0.5 && below % 2 !== 0) ? below + 1 : below;
}

/** A number for people: at most so many decimals, no trailing zeros. */
export function shown(value, decimals = 3) {
  const text = fixed(ofBits(typeof value === "object" ? toNumber(value) : value), decimals);
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
}

/** A fraction with so many digits after the point; halfway to the even one. */
export function fixed(value, digits) {
  const whole = rounded({ n: value.n * 10n ** BigInt(digits), d: value.d });
  const sign = value.n < 0n ? "-" : "", text = String(whole < 0n ? -whole : whole).padStart(digits + 1, "0");
  return digits ? `${sign}${text.slice(0, -digits)}.${text.slice(-digits)}` : `${sign}${text}`;
}
