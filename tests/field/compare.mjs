// Reads lines of [ask, given, want, within, near, many, part], as `Case` of comparing.py has them, and says which the
// phone's rules answer otherwise. Of a rule's refusal the answer is {"refused": faults}. One process compares all.
const rules = await import(new URL(process.argv[2], "file://"));
const MOST_TOLD = 3;
const JUDGED = ["passed", "verdict"];
let count = 0, wrong = 0;

function answer(ask, given) {
  try {
    return rules[ask](...given);
  } catch (error) {
    if (!(error instanceof rules.Refused)) throw error;
    return { refused: error.faults };
  }
}

/** The first thing that differs, in words; empty where nothing does. */
function difference(have, want, path, within, near) {
  if (have === want) return "";
  if (within && typeof have === "number" && Math.abs(have - want) <= within * Math.max(1, Math.abs(want))) return "";
  if (have === null || want === null || typeof have !== "object" || typeof want !== "object") {
    return `${path}: ${JSON.stringify(have)} for ${JSON.stringify(want)}`;
  }
  if (typeof have.n === "bigint") return difference(lowest(have), want, path, 0, false);
  for (const name in want) {
    if (near && JUDGED.includes(name)) continue;
    const found = difference(have[name], want[name], path ? `${path}.${name}` : name, within, near);
    if (found) return found;
  }
  for (const name in have) if (!(name in want)) return `${path}.${name}: not wanted`;
  return "";
}

/** A fraction as the other side writes it: [numerator, denominator] in lowest terms. */
function lowest({ n, d }) {
  let a = n < 0n ? -n : n, b = d;
  while (b) [a, b] = [b, a % b];
  return [Number(n / a), Number(d / a)];
}

function compare(line) {
  const [ask, given, want, within, near, many, part] = JSON.parse(line);
  count += many;
  let told;
  try {
    const have = answer(ask, given);
    told = part ? difference(have.result, want, ask, within, near) : difference(have, want, ask, within, near);
  } catch (error) {
    told = `${ask}: ${error.stack}`;
  }
  if (!told) return;
  wrong += 1;
  if (wrong <= MOST_TOLD) console.log(`${told}\n  given ${JSON.stringify(given).slice(0, 1500)}`);
}

process.stdin.setEncoding("utf8");
let rest = "";
for await (const chunk of process.stdin) {
  const lines = (rest + chunk).split("\n");
  rest = lines.pop();
  lines.forEach(compare);
}
if (rest) compare(rest);
console.log(`${count} cases, ${wrong} answered otherwise`);
