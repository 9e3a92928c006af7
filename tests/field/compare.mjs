// Reads lines of {"ask": function, "given": arguments, "want": answer} and says which the phone's rules answer otherwise.
// Of a rule's refusal the answer is {"refused": faults}. Figures may lie `within` a share of each other; a verdict that
// is `near` its limit is not compared. One process compares all cases of a rule.
import { createInterface } from "node:readline";

const rules = await import(new URL(process.argv[2], "file://"));
const MOST_TOLD = 3;
let count = 0, wrong = 0;

function answer(ask, given) {
  try {
    return plain(rules[ask](...given));
  } catch (error) {
    if (!(error instanceof rules.Refused)) throw error;
    return { refused: error.faults };
  }
}

/** Fractions as [numerator, denominator] in lowest terms, as the other side writes them. */
function plain(value) {
  if (Array.isArray(value)) return value.map(plain);
  if (value === null || typeof value !== "object") return value;
  if (typeof value.n === "bigint") return lowest(value.n, value.d);
  return Object.fromEntries(Object.entries(value).map(([name, part]) => [name, plain(part)]));
}

function lowest(n, d) {
  let a = n < 0n ? -n : n, b = d;
  while (b) [a, b] = [b, a % b];
  return [Number(n / a), Number(d / a)];
}

const JUDGED = ["passed", "verdict"];

function difference(have, want, path, within, near) {
  if (have === want) return "";
  if (within && typeof have === "number" && Math.abs(have - want) <= within * Math.max(1, Math.abs(want))) return "";
  if (have === null || want === null || typeof have !== "object" || typeof want !== "object") {
    return `${path}: ${JSON.stringify(have)} for ${JSON.stringify(want)}`;
  }
  for (const name of new Set([...Object.keys(have), ...Object.keys(want)])) {
    if (near && JUDGED.includes(name)) continue;
    const found = difference(have[name], want[name], `${path}.${name}`, within, near);
    if (found) return found;
  }
  return "";
}

for await (const line of createInterface({ input: process.stdin })) {
  const { ask, given, want, within, near } = JSON.parse(line);
  count += 1;
  let told;
  try {
    told = difference(answer(ask, given), want, ask, within, near);
  } catch (error) {
    told = `${ask}: ${error.stack}`;
  }
  if (told) {
    wrong += 1;
    if (wrong <= MOST_TOLD) console.log(`${told}\n  given ${JSON.stringify(given).slice(0, 1500)}`);
  }
}
console.log(`${count} cases, ${wrong} answered otherwise`);
