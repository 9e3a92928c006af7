/**
 * Climate on site: dew point and humidity of the air, and whether the steel may be painted. °C, %, hPa.
 * Source: WMO-No. 8, annex 4.B, constants over water and ice, and I.4, psychrometer (stored source); margin of 3 °C:
 * MIL-HDBK-1110, FHWA-RD-98-084, IMO MSC.215(82) (stored source); limits of the product as declared.
 * Homes in the core: inspection/standards/climate.py and site_climate.py; inspection/fieldwork/climate/recording.py.
 * A qualified person decides whether work may start or go on.
 */

import { add, compare, fixed, minus, ofDecimal, ofNumber, ratio, shown, toNumber } from "./exact.js";
import { check, refuse, Refused, written } from "./checks.js";
import { exp, log } from "./curves.js";

const MAGNUS = { water: [6.112, 17.62, 243.12], ice: [6.112, 22.46, 272.62] };
const LOWEST_DEW_POINT_C = -45, SEA_LEVEL_HPA = 1013.25, USUAL_MARGIN_C = 3;
const COEFFICIENT_PER_K = { water: 0.000662, ice: 0.000583 };
const HOT_AIR_C = 40, FAR_APART_C = 40;
const NO_COAT = "No coat was named: only the margin above the dew point was judged, by the usual 3 °C.";

/** Limits that must not cross, and what they are of. */
const PAIRS = [
  ["air_min_c", "air_max_c", "air_c"], ["surface_min_c", "surface_max_c", "surface_c"],
  ["humidity_min_pct", "humidity_max_pct", "relative_humidity_pct"],
];

/** What is read: label, unit, and between which figures it can be right. */
const READ = {
  dry_bulb_c: { label: "Air temperature (dry bulb)", unit: "°C", least: -20, most: 60 },
  wet_bulb_c: { label: "Wet bulb", unit: "°C", least: -40, most: 60 },
  relative_humidity_pct: { label: "Relative humidity", unit: "%", above: 0, most: 100 },
  dew_point_c: { label: "Dew point", unit: "°C", least: LOWEST_DEW_POINT_C, most: 60 },
  pressure_hpa: { label: "Air pressure", unit: "hPa", least: 500, most: 1100 },
  surface_c: { label: "Surface temperature, coldest place", unit: "°C", least: -40, most: 100 },
  warmest_surface_c: { label: "Surface temperature, warmest place", unit: "°C", least: -40, most: 100 },
};

/** Saturation vapour pressure in hPa over water (-45 to 60 °C) or ice (-65 to 0 °C). */
export function saturation(temperature_c, over = "water") {
  const [scale, slope, offset] = MAGNUS[over];
  return scale * exp((slope * temperature_c) / (offset + temperature_c));
}

function saturatedAt(vapour_hpa, over = "water") {
  const [scale, slope, offset] = MAGNUS[over];
  const found = log(vapour_hpa / scale);
  return (offset * found) / (slope - found);
}

/** At or below which moisture settles on a surface: the dew point, and below 0 °C the frost point. */
function condensing(dew_point_c) {
  return dew_point_c >= 0 ? dew_point_c : saturatedAt(saturation(dew_point_c), "ice");
}

const LEAST_HPA = saturation(LOWEST_DEW_POINT_C);

/**
 * Vapour pressure, relative humidity and dew point of the air, and how the steel lies to it.
 *
 * @param {{dry_bulb_c, wet_bulb_c, relative_humidity_pct, dew_point_c, wet_bulb_over, pressure_hpa, surface_c}} read
 *   decimals as text or numbers; one of wet bulb, humidity and dew point; the others null or left out
 * @returns {object} the answer of the core's `dew-point`
 * @throws {Refused} naming each field that is missing, out of bounds or does not go with the others
 */
export function dewPoint(read) {
  const given = figures(read, ["dry_bulb_c"]), air = airOf(given), answer = { ...air };
  const frost = air.dew_point_c < 0 ? condensing(air.dew_point_c) : null, surface = given.surface_c;
  if (frost !== null) answer.frost_point_c = frost;
  if (surface !== undefined) {
    answer.margin_c = toNumber(minus(ofNumber(surface), ofNumber(air.dew_point_c)));
    if (frost !== null) answer.frost_margin_c = surface - frost;
    answer.surface_relative_humidity_pct = (100 * air.vapour_pressure_hpa) / saturation(surface);
  }
  if (given.wet_bulb_c !== undefined) {
    answer.psychrometer_coefficient_per_k = COEFFICIENT_PER_K[read.wet_bulb_over || "water"];
    answer.pressure_hpa = given.pressure_hpa;
  }
  return answer;
}

/**
 * One climate reading against the declared limits of a coat; every limit is inclusive.
 *
 * @param {object} read as for `dewPoint`, with surface_c, the coldest place, and where it was measured
 *   warmest_surface_c
 * @param {?{air_min_c, air_max_c, surface_min_c, surface_max_c, humidity_min_pct, humidity_max_pct, margin_min_c}} coat
 *   its limits as the pack tells them, each null where none is declared; null for none: the margin alone is judged
 * @returns {{calculation: string, verdict: string, result: object}}
 * @throws {Refused} as `dewPoint`
 */
export function climateLimits(read, coat) {
  const given = figures(read, ["dry_bulb_c", "surface_c"]), limits = limitsOf(coat || {});
  refuseCrossed(given, limits);
  const air = airOf(given), dew = ofNumber(air.dew_point_c);
  const settles = air.dew_point_c >= 0 ? dew : ofNumber(condensing(air.dew_point_c));
  const least = limits.margin_min_c === null ? ratio(USUAL_MARGIN_C) : ofNumber(limits.margin_min_c);
  const margin = minus(ofNumber(given.surface_c), settles);
  const checks = [
    ...limitChecks(given, air.relative_humidity_pct, limits), marginCheck(margin, least, air.dew_point_c),
  ];
  const result = {
    verdict: checks.every((each) => each.passed) ? "pass" : "fail", rule: "limits declared for the product",
    edition: "", checks: checks.map(written), relative_humidity_pct: air.relative_humidity_pct,
    dew_point_c: air.dew_point_c, margin_c: toNumber(margin), least_surface_c: toNumber(add(settles, least)),
    surface_relative_humidity_pct: (100 * air.vapour_pressure_hpa) / saturation(given.surface_c),
    notes: coat ? notesOf(given, limits, air) : [NO_COAT],
  };
  if (air.dew_point_c < 0) result.frost_point_c = toNumber(settles);
  return { calculation: "climate-limits", verdict: result.verdict, result };
}

/** What looks like a slip, above all °F typed as °C; asked about before it is kept. Our own limits. */
export function climateDoubts({ dry_bulb_c, surface_c }) {
  const air = ofDecimal(dry_bulb_c), steel = ofDecimal(surface_c), doubts = [];
  if (air && compare(air, ratio(HOT_AIR_C)) > 0) {
    const told = fixed(air, 1), meant = fixed({ n: (air.n - 32n * air.d) * 5n, d: air.d * 9n }, 1);
    doubts.push({
      message: `Air at ${told} °C: was it read in °F? ${told} °F are ${meant} °C. ` +
        `More than ${HOT_AIR_C} °C is doubted here by our own limit; no standard gives one.`,
      field: "dry_bulb_c", row: null,
    });
  }
  const apart = air && steel ? minus(steel, air) : ratio(0), size = apart.n < 0n ? { n: -apart.n, d: apart.d } : apart;
  if (compare(size, ratio(FAR_APART_C)) > 0) {
    doubts.push({
      message: `Steel at ${fixed(steel, 1)} °C and air at ${fixed(air, 1)} °C lie ${fixed(size, 1)} °C apart; ` +
        `check that both were typed in °C. More than ${FAR_APART_C} °C is doubted here by our own limit; no ` +
        "standard gives one.",
      field: "surface_c", row: null,
    });
  }
  return doubts;
}

/** The figures read, as numbers. Throws Refused for each that is missing or cannot be right. */
function figures(read, needed) {
  const found = {}, faults = [];
  for (const [field, { label, unit, least, above, most }] of Object.entries(READ)) {
    const value = read[field];
    if (value === undefined || value === null || value === "") {
      if (needed.includes(field)) faults.push({ field, message: `is missing; give “${label}” in ${unit}`, row: null });
      continue;
    }
    const number = Number(value), fault = (message) => faults.push({ field, message: `${message} ${unit}`, row: null });
    if (above !== undefined && number <= above) fault(`must be more than ${above}`);
    else if (least !== undefined && number < least) fault(`must be at least ${least}`);
    else if (number > most) fault(`must be at most ${most}`);
    found[field] = number;
  }
  if (faults.length) throw new Refused(faults);
  refuseUnclear(found, read.wet_bulb_over || null);
  return { pressure_hpa: SEA_LEVEL_HPA, ...found, wet_bulb_over: read.wet_bulb_over || null };
}

function refuseUnclear(found, over) {
  const given = ["wet_bulb_c", "relative_humidity_pct", "dew_point_c"].filter((name) => found[name] !== undefined);
  if (!given.length) throw refuse("give one of wet bulb, relative humidity and dew point", "wet_bulb_c");
  if (given.length > 1) {
    const message = "give only one of wet bulb, humidity and dew point";
    throw new Refused(given.map((field) => ({ field, message, row: null })));
  }
  const [field] = given, value = found[field], words = { wet_bulb_c: "wet bulb", dew_point_c: "dew point" }[field];
  if (words && value > found.dry_bulb_c) {
    throw refuse(`the ${words} (${shown(value)} °C) cannot be above the air temperature ` +
      `(${shown(found.dry_bulb_c)} °C): read both again`, field);
  }
  if (field !== "wet_bulb_c") return;
  if (value > 0 && over === "ice") {
    throw refuse("there is no ice on a wet bulb above 0 °C: choose water", "wet_bulb_over");
  }
  if (value <= 0 && !over) {
    throw refuse("at or below 0 °C say whether the wet bulb carries water or ice", "wet_bulb_over");
  }
}

function airOf({ dry_bulb_c, wet_bulb_c, relative_humidity_pct, dew_point_c, wet_bulb_over, pressure_hpa }) {
  const over = wet_bulb_over || "water";
  let vapour;
  if (wet_bulb_c !== undefined) {
    vapour = saturation(wet_bulb_c, over) - COEFFICIENT_PER_K[over] * pressure_hpa * (dry_bulb_c - wet_bulb_c);
  } else if (relative_humidity_pct !== undefined) {
    vapour = (saturation(dry_bulb_c) * relative_humidity_pct) / 100;
  } else vapour = saturation(dew_point_c);
  if (vapour < LEAST_HPA) {
    const field = wet_bulb_c === undefined ? "relative_humidity_pct" : "wet_bulb_c";
    throw refuse(vapour <= 0
      ? "these bulbs cannot occur together (no vapour would be left): read both again"
      : `the dew point would lie below ${LOWEST_DEW_POINT_C} °C, where the formula ends`, field);
  }
  return {
    vapour_pressure_hpa: vapour,
    relative_humidity_pct: relative_humidity_pct === undefined
      ? (100 * vapour) / saturation(dry_bulb_c) : relative_humidity_pct,
    dew_point_c: dew_point_c === undefined ? saturatedAt(vapour) : dew_point_c,
  };
}

function limitsOf(coat) {
  const names = ["air_min_c", "air_max_c", "surface_min_c", "surface_max_c", "humidity_min_pct", "humidity_max_pct",
    "margin_min_c"];
  const number = (value) => (value === undefined || value === null || value === "" ? null : Number(value));
  return Object.fromEntries(names.map((name) => [name, number(coat[name])]));
}

function refuseCrossed(given, limits) {
  for (const [least, most, what] of PAIRS) {
    if (limits[least] !== null && limits[most] !== null && limits[least] > limits[most]) {
      throw refuse(`must not be below minimum_${what}`, `maximum_${what}`);
    }
  }
  if (given.warmest_surface_c < given.surface_c) {
    throw refuse("must not be below the coldest place, surface_c", "warmest_surface_c");
  }
}

function marginCheck(margin, least, dew_point_c) {
  const point = dew_point_c >= 0 ? "dew point" : "frost point";
  return check(`margin above ${point}`, "MIL-HDBK-1110, 9.6.6; FHWA-RD-98-084; IMO MSC.215(82)",
    `The surface must be at least this much warmer than the ${point}.`, least, margin, compare(margin, least) >= 0,
    { unit: "°C", where: "coldest place" });
}

function limitChecks(given, humidity, limits) {
  const { dry_bulb_c: air, surface_c: coldest, warmest_surface_c: warmest = coldest } = given;
  const steel = "surface temperature";
  return [
    ...between("air temperature", air, limits.air_min_c, limits.air_max_c, "°C"),
    ...between("relative humidity", humidity, limits.humidity_min_pct, limits.humidity_max_pct, "%"),
    ...between(steel, coldest, limits.surface_min_c, null, "°C", "coldest place"),
    ...between(steel, warmest, null, limits.surface_max_c, "°C", "warmest place"),
  ];
}

function between(what, observed, least, most, unit, where = "") {
  const sentence = (side, end) => `The ${what} must not be ${side} the ${end} value declared for the product.`;
  const checks = [];
  if (least !== null) {
    checks.push(check(`least ${what}`, "data sheet", sentence("below", "least"), least, observed, observed >= least,
      { unit, where }));
  }
  if (most !== null) {
    checks.push(check(`greatest ${what}`, "data sheet", sentence("above", "greatest"), most, observed, observed <= most,
      { unit, where }));
  }
  return checks;
}

function notesOf(given, limits, air) {
  const notes = [];
  if (limits.humidity_max_pct === null) {
    const found = shown(air.relative_humidity_pct, 1);
    notes.push(`No greatest relative humidity is declared: the ${found} % found was not judged. ` +
      "IMO MSC.215(82) has at most 85 %; take the limit from the data sheet.");
  }
  if (given.surface_c <= 0) {
    notes.push("The steel is at or below 0 °C: look for frost and ice on it, which a margin does not show.");
  }
  return notes;
}
