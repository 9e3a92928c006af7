/** How a place of the pack stands, in words: coats, records, points, rework. Pure. */

import { inUnit, windowState } from "./rules/index.js";
import { readable } from "./moments.js";

const UNITS = { um: "µm", mil: "mil" };
const VERDICTS = {
  pass: ["good", "Pass"],
  fail: ["bad", "Fail"],
  incomplete: ["wait", "More readings wanted"],
  "not judged": ["plain", "Not judged"],
};
const TOP = 4;

/** The area of that id, or null. */
export const areaById = (pack, id) => pack.areas.find((area) => area.id === id) || null;

export const systemOf = (pack, area) => pack.systems.find((system) => system.id === area.system) || null;

/** What an area is found by: its code, name and where it lies. */
export function wordsOf(area) {
  return `${area.code} ${area.name} ${area.section} ${area.structure}`.toLowerCase();
}

/** The areas that have every word typed; those whose code begins with it first. */
export function areasLike(pack, text) {
  const parts = text.toLowerCase().split(/\s+/).filter(Boolean);
  if (!parts.length) return pack.areas;
  const hits = pack.areas.filter((area) => {
    const words = wordsOf(area);
    return parts.every((part) => words.includes(part));
  });
  const begins = (area) => Number(area.code.toLowerCase().startsWith(parts[0]));
  return hits.sort((one, other) => begins(other) - begins(one));
}

/** A verdict as a tone and words. */
export const verdictTold = (verdict) => VERDICTS[verdict] || ["plain", verdict];

/** What stands at an area of a kind after a coat: verdict and moment, or null. */
export function latestOf(area, kind, coat) {
  const row = (area.latest || []).find(([which, where]) => which === kind && where === coat);
  return row ? { verdict: row[2], at: row[3] } : null;
}

/** Each coat of the area with its limits through all coats, and what stands there. */
export function coatsTold(pack, area) {
  const unit = pack.project.unit;
  return (systemOf(pack, area)?.coats || []).map((coat) => {
    const limits = { ...coat, ...(area.limits?.[coat.id] || {}) };
    const figure = (nm) => (nm === null || nm === undefined ? null : inUnit(nm, unit));
    const [low, high] = [figure(limits.minimum_nm ?? limits.nominal_nm), figure(limits.maximum_nm)];
    const between = [low, high].filter(Boolean).join(" to ");
    return {
      id: coat.id,
      name: coat.name,
      rule: coat.rule_name,
      held: between ? `${between} ${UNITS[unit]}` : "",
      latest: latestOf(area, "thickness", coat.id),
    };
  });
}

/** The first sentence about an area in a list: what was measured last, else that nothing was. */
export function standsTold(pack, area) {
  const coats = coatsTold(pack, area);
  const last = [...coats].reverse().find((coat) => coat.latest);
  if (!last) return ["plain", "Not measured yet"];
  const [tone, words] = verdictTold(last.latest.verdict);
  return [tone, `${last.name}: ${words}`];
}

/** The records that stand there, newest first, with the words of their kind. */
export function recordsTold(pack, area) {
  const titles = Object.fromEntries(pack.forms.map((form) => [form.name, form.title]));
  const coats = Object.fromEntries(coatsTold(pack, area).map((coat) => [coat.id, coat.name]));
  const rows = [...(area.latest || [])].sort((one, other) => (one[3] < other[3] ? 1 : -1));
  return rows.map(([kind, coat, verdict, at]) => ({
    title: titles[kind] || kind[0].toUpperCase() + kind.slice(1),
    coat: coats[coat] || "",
    verdict: verdictTold(verdict),
    at: readable(at, pack.project.time_zone),
  }));
}

/** What presses today: windows that open or close, mixes that run out, notices; the first of each. */
export function pressing(pack, at) {
  const codes = new Map(pack.areas.map((area) => [area.id, area.code]));
  const soon = (moment, hours) => moment && Date.parse(moment) - at < hours * 3_600_000;
  const windows = pack.windows
    .filter((each) => each.closes_at && Date.parse(each.closes_at) > at && soon(each.closes_at, 24))
    .sort((one, other) => (one.closes_at < other.closes_at ? -1 : 1));
  const mixes = pack.mixes.filter((mix) => !mix.usable_until || Date.parse(mix.usable_until) > at);
  const notices = pack.notices.filter((notice) => Date.parse(notice.ends_at) > at && soon(notice.begins_at, 48));
  return {
    windows: windows.slice(0, TOP).map((each) => (
      { ...each, code: codes.get(each.area) || "", state: windowState(each, new Date(at).toISOString()) })),
    moreWindows: Math.max(0, windows.length - TOP),
    mixes: mixes.slice(0, TOP),
    notices: notices.slice(0, TOP),
  };
}

const FAILED = 0, SHORT = 1, TO_COME = 2, NOT_BEGUN = 3;

/**
 * What wants measuring, failing first, then what is short of readings, then the next coat, then what nobody began; each
 * with the coat. `held` where a hold point that nobody has freed lies before that coat. By what the pack knows.
 */
export function wanting(pack) {
  const holds = new Map();
  for (const point of pack.points) {
    if (point.kind === "hold") holds.set(point.area, [...(holds.get(point.area) || []), point.coat]);
  }
  const found = [];
  for (const area of pack.areas) {
    // A repaired part is measured where its nonconformance says so; its m² lie within those of its area.
    if (area.part_of) continue;
    const coats = systemOf(pack, area)?.coats || [];
    const next = nextAt(area, coats);
    if (!next) continue;
    const order = (id) => coats.find((coat) => coat.id === id)?.order ?? 0;
    const held = next.urgency >= TO_COME && (holds.get(area.id) || []).some((id) => order(id) < next.coat.order);
    found.push({ area, held, ...next });
  }
  found.sort((one, other) => one.urgency - other.urgency || (one.area.code < other.area.code ? -1 : 1));
  return found.map((each) => besideIt(pack, each));
}

/** Where an area failed and has a repaired part, that is what is to be measured. */
function besideIt(pack, each) {
  const id = each.urgency === FAILED && (each.area.repairs || {})[each.coat.id];
  const part = id && pack.areas.find((area) => area.id === id);
  const why = `${each.area.code} failed, and stands once this repaired part passes and can be relied on`;
  return part ? { ...each, area: part, why } : each;
}

function nextAt(area, coats) {
  const last = [...coats].reverse().find((coat) => latestOf(area, "thickness", coat.id));
  if (!last) return coats.length ? { coat: coats[0], urgency: NOT_BEGUN, why: "not measured yet" } : null;
  const stands = (area.carried || []).includes(last.id);
  const verdict = stands ? "pass" : latestOf(area, "thickness", last.id).verdict;
  if (verdict === "fail" && last.decides) {
    return { coat: last, urgency: FAILED, why: "failed: repair and measure again" };
  }
  if (verdict === "incomplete") return { coat: last, urgency: SHORT, why: "more readings wanted" };
  if (verdict === "not judged") return null;
  const coat = coats.find((each) => each.order > last.order);
  const passed = stands ? "failed, and passed with its repaired part" : "passed";
  const why = `${last.name} ${verdict === "fail" ? "failed, measured for control only" : passed}`;
  return coat ? { coat, urgency: TO_COME, why } : null;
}
