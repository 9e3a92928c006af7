/** What the screens that measure take from the field pack: places, coats with their rule, instruments. Pure. */

import { localOf, readable } from "./moments.js";
import { inUnit, wantedOf } from "./rules/index.js";

const LABELS = { um: "µm", mil: "mil" };
const MOST_OWN = 50;
const DAY_MS = 86_400_000;

const rows = (pack, name) => pack[name] || [];

export const unitOf = (pack) => pack.project.unit;
export const unitLabel = (pack) => LABELS[unitOf(pack)];
const told = (pack, nm) => `${inUnit(nm, unitOf(pack))} ${unitLabel(pack)}`;

// --- places ---------------------------------------------------------------------------------------------------------
export const areaOf = (pack, id) => rows(pack, "areas").find((area) => area.id === id) || null;
export const areaName = (area) => [area.code, area.name].filter(Boolean).join(" ");

/** The coats of an area, in order, each with the limits that hold there. */
export function coatsOf(pack, area) {
  const system = rows(pack, "systems").find((one) => one.id === area.system);
  return (system?.coats || []).map((coat) => ({ ...coat, ...(area.limits?.[coat.id] || {}) }));
}

/** The first coat of the area of which no thickness is recorded yet; the last one where all are. */
export function nextCoat(pack, area) {
  const measuredCoats = new Set((area.latest || []).filter(([kind]) => kind === "thickness").map(([, coat]) => coat));
  const coats = coatsOf(pack, area);
  return coats.find((coat) => !measuredCoats.has(coat.id)) || coats[coats.length - 1] || null;
}

// --- instruments ----------------------------------------------------------------------------------------------------
/** The instruments of a kind that can be used, those in the person's hands first, of them those in doubt last. */
export function gaugesOf(pack, kind) {
  const found = rows(pack, "gauges").filter((gauge) => gauge.kind === kind && gauge.state === "in_service");
  return found.sort(
    (one, other) =>
      Number(other.mine) - Number(one.mine) ||
      Number(Boolean(one.check_it_first)) - Number(Boolean(other.check_it_first)) ||
      (one.identity < other.identity ? -1 : 1),
  );
}

/** Whether a check on site has to come before what is measured with this gauge. */
export function wantsCheck(pack, gauge, at, own = []) {
  if (!gauge.site_check || !pack.may?.check) return false;
  const check = lastCheck(gauge, own);
  const unchecked = !check || Date.parse(check.taken_at) < shiftOf(pack, at).begins.getTime();
  return Boolean(gauge.check_it_first) || check?.verdict === "fail" || (gauge.site_check.each_shift && unchecked);
}

export const gaugeOf = (pack, id) => rows(pack, "gauges").find((gauge) => gauge.id === id) || null;
export const gaugeName = (gauge) =>
  [gauge.identity, gauge.serial && `serial ${gauge.serial}`, !gauge.mine && "not in your hands"]
    .filter(Boolean)
    .join(", ");

/**
 * The newest check of a gauge: the pack's, or a later one made on this phone.
 * @param {object[]} own checks kept on this phone: `{gauge, taken_at, verdict, verified_from_nm, verified_to_nm}`
 */
export function lastCheck(gauge, own = []) {
  const all = [gauge.last_check, ...own.filter((check) => check.gauge === gauge.id)].filter(Boolean);
  return all.sort((one, other) => Date.parse(other.taken_at) - Date.parse(one.taken_at))[0] || null;
}

/** The checks made on this phone, so that a measurement knows of them before they are sent. */
export const ownChecks = async (app) => (await app.store.prefs.get("own-checks")) || [];

/**
 * Keeps a check to be sent, and what a measurement has to know of it.
 * @param {{body: Object, place: string, answer: ?{verdict: string, lines: string[], kept: Object}, photos: Object}}
 *   check `photos` as `drawPhotos` gives them
 */
export async function keepCheck(app, gauge, draft, { body, place, answer, photos }) {
  const title = `Check of ${gauge.identity}`;
  const shots = await photos.items({ of: "verification", thing: body.id, place: title });
  await draft.toQueue([
    {
      id: body.id,
      address: "/api/verifications/",
      body,
      told: answer?.verdict ? { verdict: answer.verdict, why: answer.lines } : null,
      draft: { screen: "check", args: [gauge.id], values: draft.values },
      words: { title, place },
    },
    ...shots,
  ]);
  if (answer?.verdict) {
    const own = [...(await ownChecks(app)), { gauge: gauge.id, taken_at: body.taken_at, ...answer.kept }];
    await app.store.prefs.set("own-checks", own.slice(-MOST_OWN));
  }
  const failed = answer?.verdict === "fail";
  app.say(
    failed ? "Kept. The check fails: do not measure with this gauge." : "Kept, and sent when there is a signal.",
    failed ? "bad" : "good",
  );
  app.go("#/");
}

/** Notes that something was measured with a gauge, for which the check after work is asked. */
export async function keepMeasured(app, gauge, last_reading_at) {
  const kept = ((await app.store.prefs.get("own-measured")) || []).filter((one) => one.gauge !== gauge.id);
  await app.store.prefs.set("own-measured", [...kept, { gauge: gauge.id, last_reading_at }]);
}

/**
 * The gauges whose readings on this phone still wait for the check after work, each with when it falls due.
 * @returns {Promise<{gauge: object, words: string, late: boolean}[]>}
 */
export async function closingsAsked(app, pack, at) {
  const own = await ownChecks(app);
  return ((await app.store.prefs.get("own-measured")) || []).flatMap(({ gauge: id, last_reading_at: last }) => {
    const gauge = gaugeOf(pack, id);
    const check = gauge && lastCheck(gauge, own);
    if (!gauge || (check && Date.parse(check.taken_at) > Date.parse(last))) return [];
    const { ends } = shiftOf(pack, new Date(last));
    const late = ends <= at;
    const words =
      `${gauge.identity}: check it after work, as found, ${late ? "it was due" : "due"} by ` +
      `${clock(pack, ends, at)}. Readings until ${clock(pack, new Date(last), at)} wait for it.`;
    return [{ gauge, words, late }];
  });
}

/** What stands against a gauge where one is about to measure with it, a sentence each. */
export function gaugeTold(pack, gauge, at, own = []) {
  const sentences = [];
  const { begins } = shiftOf(pack, at);
  const check = lastCheck(gauge, own);
  if (gauge.check_it_first) {
    const what = (gauge.check_it_first.what || "a fall or an erratic reading was reported").replace(/[.\s]+$/, "");
    sentences.push(`${gauge.identity} is in doubt: ${what}. Check it first.`);
  }
  if (gauge.certificate && gauge.certificate.expires < at.toISOString().slice(0, 10)) {
    sentences.push(`The certificate of ${gauge.identity} ran out on ${gauge.certificate.expires}.`);
  } else if (!gauge.certificate) {
    sentences.push(`${gauge.identity} has no certificate to rely on.`);
  }
  if (gauge.site_check?.each_shift && (!check || Date.parse(check.taken_at) < begins.getTime())) {
    sentences.push(
      `${gauge.identity} has not been checked in this shift. Check it first: readings taken before a check ` +
        "are in question.",
    );
  } else if (check?.verdict === "fail") {
    sentences.push(
      `${gauge.identity} failed its newest check, at ${clock(pack, new Date(check.taken_at), at)}. ` +
        "Do not rely on it.",
    );
  }
  return sentences;
}

/** Everything a measurement is held to, or null where the pack lacks a part of it. */
export function measured(pack, { area: areaId, coat: coatId, gauge: gaugeId, correction_nm = 0 }, own = []) {
  const area = areaOf(pack, areaId);
  const coat = area && coatsOf(pack, area).find((one) => one.id === coatId);
  const gauge = gaugeOf(pack, gaugeId);
  if (!area || !coat || !gauge) return null;
  const check = lastCheck(gauge, own);
  const verified =
    check?.verdict === "pass" && check.verified_from_nm !== null
      ? { from_nm: check.verified_from_nm, to_nm: check.verified_to_nm }
      : null;
  const range = { from_nm: gauge.range_from_nm || 0, to_nm: gauge.range_to_nm || 0 };
  return {
    area,
    coat,
    gauge,
    set: { unit: unitOf(pack), rule: coat, wanted: wantedOf(coat, area), correction_nm, range, verified },
  };
}

// --- shifts ---------------------------------------------------------------------------------------------------------
/**
 * The shift that holds the moment: that of the person's crew where the pack knows one, else by the project's clock.
 * @returns {{begins: Date, ends: Date}}
 */
export function shiftOf(pack, at) {
  const { person } = pack;
  const crews = rows(pack, "crews")
    .filter((crew) => crew.people.some((part) => part.id === person))
    .map((crew) => crew.id);
  const mine = rows(pack, "shifts")
    .map((shift) => ({
      crew: shift.crew,
      begins: new Date(shift.begun_at || shift.begins_at),
      ends: new Date(shift.ended_at || shift.ends_at),
    }))
    .find((shift) => crews.includes(shift.crew) && shift.begins <= at && at < shift.ends);
  return mine || byClock(pack, at);
}

function byClock(pack, at) {
  const { shift_starts: starts, time_zone: zone } = pack.project;
  const times = starts.split(",").map((part) => part.trim());
  const moments = [-2, -1, 0, 1, 2].flatMap((day) =>
    times.map((time) => momentOn(new Date(at.getTime() + day * DAY_MS), time, zone)),
  );
  moments.sort((one, other) => one - other);
  const before = moments.filter((moment) => moment <= at);
  return { begins: before[before.length - 1], ends: moments.find((moment) => moment > at) };
}

/** The moment of a time of day on the day that holds `at` in the zone. */
function momentOn(at, time, zone) {
  const day = new Intl.DateTimeFormat("en-CA", { timeZone: zone }).format(at);
  const asUtc = Date.parse(`${day}T${time}:00Z`);
  // What the zone's clocks show at that instant tells how far they are from UTC; once more for a change in between.
  const first = asUtc - offsetAt(new Date(asUtc), zone);
  return new Date(asUtc - offsetAt(new Date(first), zone));
}

function offsetAt(at, zone) {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone,
    hourCycle: "h23",
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    second: "2-digit",
  }).formatToParts(at);
  const of = Object.fromEntries(parts.map(({ type, value }) => [type, value]));
  return (
    Date.parse(`${of.year}-${of.month}-${of.day}T${of.hour}:${of.minute}:${of.second}Z`) -
    Math.floor(at / 1000) * 1000
  );
}

/** A moment by the clocks of the project; with its day where that is another one than now. */
export function clock(pack, at, now) {
  const zone = pack.project.time_zone;
  const [told, today] = [localOf(at, zone), localOf(now, zone)];
  return told.slice(0, 10) === today.slice(0, 10) ? told.slice(11) : readable(at, zone);
}

/** When the check after work falls due, in words that follow “check it again”. */
export function closingDue(pack, at) {
  return `by ${clock(pack, shiftOf(pack, at).ends, at)}`;
}

// --- profiles -------------------------------------------------------------------------------------------------------
/** The surface profile records of an area that give what this way subtracts, as `[id, words]`. */
export function profilesOf(pack, area, way) {
  const found = rows(pack, "profiles").filter((one) => one.area === area.id && one.gives[way]);
  return found.map((one) => [one.id, `${told(pack, one.gives[way].nm)}: ${one.gives[way].words}`]);
}

/** What a surface profile record gives to subtract, in nm. */
export const profileGives = (pack, id, way) => rows(pack, "profiles").find((one) => one.id === id).gives[way].nm;

// --- shims and stations ---------------------------------------------------------------------------------------------
/** The standards a gauge can be checked on, those in the person's hands first, thin before thick. */
export function standardsFor(pack, gauge) {
  const on = gauge.site_check?.on || [];
  const found = rows(pack, "standards").filter(
    (one) => on.includes(one.kind) && one.state === "in_service" && one.certified_nm !== null,
  );
  return found.sort((one, other) => Number(other.mine) - Number(one.mine) || one.certified_nm - other.certified_nm);
}

/** What an instrument that reads no thickness can be checked on: solutions with a stated value, other instruments. */
export function referencesFor(pack, gauge) {
  const on = gauge.site_check?.on || [];
  const isTold = (one) => one.kind === "instrument" || one.certified !== null;
  const found = rows(pack, "standards").filter(
    (one) => on.includes(one.kind) && one.state === "in_service" && isTold(one),
  );
  return found.sort(
    (one, other) =>
      Number(other.mine) - Number(one.mine) ||
      Number(one.certified || 0) - Number(other.certified || 0) ||
      (one.identity < other.identity ? -1 : 1),
  );
}

/** What stands against the paper of a standard; empty where nothing does. */
export function paperDoubt(standard, at) {
  if (!standard.certificate) return "no certificate";
  const { expires } = standard.certificate;
  return expires < at.toISOString().slice(0, 10) ? `certificate ran out on ${expires}` : "";
}

export const standardOf = (pack, id) => rows(pack, "standards").find((one) => one.id === id) || null;
export const standardName = (pack, standard) => `${standard.identity}, ${told(pack, standard.certified_nm)}`;
export const stationsOf = (pack) => rows(pack, "stations");

/** The coats of the areas that a station serves, with the name of their system. */
export function coatsServed(pack, station) {
  const served = rows(pack, "areas").filter((area) => (area.stations || []).includes(station.id));
  const systems = new Set(served.map((area) => area.system));
  return rows(pack, "systems")
    .filter((system) => systems.has(system.id))
    .flatMap((system) => system.coats.map((coat) => ({ ...coat, system: system.name })));
}
