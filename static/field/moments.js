// Dates and times of day where the work is done: typed as the clocks of the project show them, sent with their offset.

const parts = new Map();

/** What the clocks of a zone show at a moment, as ms as if it were UTC. */
function shown(at, zone) {
  if (!parts.has(zone)) {
    parts.set(zone, new Intl.DateTimeFormat("en-GB", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric", hour: "numeric",
      minute: "numeric", second: "numeric",
    }));
  }
  const told = Object.fromEntries(parts.get(zone).formatToParts(at).map(({ type, value }) => [type, Number(value)]));
  return Date.UTC(told.year, told.month - 1, told.day, told.hour, told.minute, told.second);
}

/** How far the zone's clocks are ahead of UTC at a moment, in ms. */
function ahead(at, zone) {
  return shown(at, zone) - Math.floor(at / 1000) * 1000;
}

/** A moment as the box for a local date and time holds it, to the minute: "2026-03-04T14:05". */
export function localOf(at, zone) {
  return new Date(shown(new Date(at).getTime(), zone)).toISOString().slice(0, 16);
}

/** The day on which a moment falls there: "2026-03-04". */
export function dayOf(at, zone) {
  return localOf(at, zone).slice(0, 10);
}

/** A moment as people read it there: "2026-03-04 14:05". */
export function readable(at, zone) {
  return localOf(at, zone).replace("T", " ");
}

/**
 * The moments that the clocks of a zone show as this date and time: one, none where they were put forward over it, two
 * where they came back to it.
 * @param {string} local "2026-03-04T14:05", seconds allowed
 * @param {string} zone IANA name
 * @returns {number[]} ms since 1970, in their order
 */
export function momentsOf(local, zone) {
  const found = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d)(?::(\d\d))?$/.exec(local);
  if (!found) return [];
  const [year, month, day, hour, minute, second] = found.slice(1).map((part) => Number(part || 0));
  const wall = Date.UTC(year, month - 1, day, hour, minute, second);
  if (Number.isNaN(wall) || new Date(wall).toISOString().slice(0, 16) !== local.slice(0, 16)) return [];
  const day_ms = 86_400_000;
  const tries = new Set([wall - day_ms, wall + day_ms].map((near) => wall - ahead(near, zone)));
  return [...tries].filter((at) => shown(at, zone) === wall).sort((one, other) => one - other);
}

/** The moment as it is sent, with the offset of the zone: "2026-03-04T14:05:00+01:00". */
export function sentMoment(at, zone) {
  const offset = ahead(at, zone);
  const minutes = Math.round(Math.abs(offset) / 60_000);
  const sign = offset < 0 ? "-" : "+";
  const told = `${sign}${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
  return `${new Date(shown(at, zone)).toISOString().slice(0, 19)}${told}`;
}
