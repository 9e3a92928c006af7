/** A climate reading as it is typed: what is sent of it, and what the rules on the phone say at once. Pure. */

import { Refused, climateDoubts, climateLimits, toDecimal, toHumidity } from "./rules/index.js";

/** What is typed as a number, with its name on the screen and how many digits may follow the point. */
const NUMBERS = [
  ["dry_bulb_c", "Air", 1, true],
  ["relative_humidity_pct", "Humidity", 1],
  ["wet_bulb_c", "Wet bulb", 1],
  ["surface_c", "Steel, coldest", 1, true],
  ["warmest_surface_c", "Steel, warmest", 1],
  ["wind_m_s", "Wind", 1],
  ["pressure_hpa", "Air pressure", 2],
];
/**
 * The body of a reading at a station, without id and moment, and a sentence for each thing wrong with it.
 * @param {Object<string, *>} given as typed
 */
export function bodyOf(given) {
  const faults = [];
  const body = { coats: given.coats || [], note: (given.note || "").trim() };
  for (const [name, label, places, required] of NUMBERS) {
    try {
      const read = name === "relative_humidity_pct" ? toHumidity : toDecimal;
      const text = read(given[name] || "", { places, example: "18.5", field: name });
      if (text !== null) body[name] = Number(text);
      else if (required) faults.push(`${label}: fill this in.`);
    } catch (wrong) {
      if (!(wrong instanceof Refused)) throw wrong;
      faults.push(`${label}: ${wrong.message}`);
    }
  }
  if (!faults.length && (body.relative_humidity_pct === undefined) === (body.wet_bulb_c === undefined)) {
    faults.push("Give either the humidity or the wet bulb.");
  }
  if (given.wet_bulb_over) body.wet_bulb_over = given.wet_bulb_over;
  if (given.rain) body.rain = given.rain;
  if (given.dehumidifier_on) body.dehumidifier_on = given.dehumidifier_on === "yes";
  if (given.gauge) body.gauge = given.gauge;
  return { body, faults };
}

/**
 * What the rule says for each coat under way; for none, of the margin alone.
 * @returns {{found: object[], missing: string}} `missing` says what is still to be typed
 */
export function judged(given, coats) {
  const { body, faults } = bodyOf(given);
  if (faults.length) return { found: [], missing: faults[0] };
  try {
    return { found: (coats.length ? coats : [null]).map((coat) => judgedFor(coat, body)), missing: "" };
  } catch (wrong) {
    if (!(wrong instanceof Refused)) throw wrong;
    return { found: [], missing: wrong.faults.map((fault) => fault.message).join("; ") };
  }
}

function judgedFor(coat, body) {
  const { verdict, result } = climateLimits(body, coat);
  const lines = result.checks.map((check) => {
    const said = check.passed ? "met" : "not met";
    return `${check.sentence} Limit ${tenth(check.limit)}, found ${tenth(check.observed)} ${check.unit}: ${said}.`;
  });
  return {
    name: coat?.name || "",
    verdict,
    dew: tenth(result.dew_point_c),
    margin: tenth(result.margin_c),
    humidity: tenth(result.relative_humidity_pct),
    lines: [...lines, ...result.notes],
  };
}

const tenth = (value) => value.toFixed(1).replace("-", "−");
