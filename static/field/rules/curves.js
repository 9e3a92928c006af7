/**
 * exp and log to the nearest double. Browsers differ in the last bit of `Math.exp`, and a margin that lies exactly at
 * its limit in saturated air hangs on it; the office's library rounds right but for one in some thousands.
 */

import { ofBits, toNumber } from "./exact.js";

const BITS = 128n, ONE = 1n << BITS, HALVINGS = 8n;
const LEAST_TERM = 1n << 8n;

/** e to the power of a double, to the nearest double; between about -700 and 700. */
export function exp(value) {
  const found = power(scaled(ofBits(value)));
  return toNumber({ n: found, d: ONE });
}

/** The natural logarithm of a double above 0, to the nearest double. */
export function log(value) {
  const near = Math.log(value), { n, d } = ofBits(value);
  // log v = near + log(v e^-near), of which the last is so small that two terms of its series are enough.
  const rest = (n * power(scaled(ofBits(-near)))) / d - ONE;
  const correction = rest - ((rest * rest) >> (BITS + 1n));
  return toNumber({ n: scaled(ofBits(near)) + correction, d: ONE });
}

function scaled({ n, d }) {
  return (n << BITS) / d;
}

/** e to the power of a fixed-point number: a short series of a small part of it, squared up again. */
function power(value) {
  if (value < 0n) return (ONE << BITS) / power(-value);
  const part = value >> HALVINGS;
  let term = ONE, sum = ONE;
  for (let count = 1n; term > LEAST_TERM; count += 1n) {
    term = (term * part) / (count << BITS);
    sum += term;
  }
  for (let count = 0n; count < HALVINGS; count += 1n) sum = (sum * sum) >> BITS;
  return sum;
}
