/**
 * What a form offers where the API takes an id: the things of the pack, in words, those near at hand first. Pure.
 */

import { readable } from "./moments.js";

const finders = {
  area: (pack) => pack.areas.map((area) => [area.id, areaLabel(area)]),
  coat: coats,
  gauge: gauges,
  base_metal_gauge: (pack, { field }) => gauges(pack, { field, instrument: "thickness" }),
  standard: (pack) => pack.standards.map((each) => [each.id, `${each.identity} ${told(each)}`.trim()]),
  lot: (pack, { values }) =>
    [...pack.lots]
      .sort((one, other) => Number(on(other, values)) - Number(on(one, values)))
      .map((lot) => [lot.id, `Lot ${lot.number}: ${lot.of}${lot.ended_at ? "" : ", under way"}`]),
  batch: (pack) =>
    pack.batches.map((each) => [
      each.id,
      `${each.product}, ${each.component}, ${each.number} (${each.fit}; ${each.left} ${each.unit} left)`,
    ]),
  mix: (pack) =>
    pack.mixes.map((mix) => [
      mix.id,
      `Mix ${mix.number}, ${readable(mix.mixed_at, pack.project.time_zone)}: ${mix.products.join(" + ")}`,
    ]),
  crew: (pack) => pack.crews.map((crew) => [crew.id, crew.name]),
  shift: (pack) =>
    pack.shifts.map((shift) => [
      shift.id,
      `${name(pack.crews, shift.crew, "name")}, ${readable(shift.begins_at, pack.project.time_zone)}`,
    ]),
  party: (pack) => pack.parties.map((party) => [party.id, party.organisation]),
  stripe: (pack) =>
    everyCoat(pack).flatMap(({ system, coat }) =>
      coat.stripes.map((stripe) => [stripe.id, `${system.name}: ${coat.name}, ${stripe.name}`]),
    ),
  station: (pack) => pack.stations.map((each) => [each.id, `${each.code} ${each.name}`]),
  profile: (pack, { values }) =>
    pack.profiles
      .filter((each) => !values?.area || each.area === values.area)
      .map((each) => [each.id, `${readable(each.taken_at, pack.project.time_zone)}, mean ${each.mean_um} µm`]),
  rework: (pack) => pack.rework.map((item) => [item.id, `${item.what}, ${item.place}`]),
  person: (pack) => pack.people.map((each) => [each.id, each.name]),
  notice: (pack) =>
    pack.notices.map((each) => [
      each.id,
      `${each.number}, ${readable(each.begins_at, pack.project.time_zone)}, ${each.meeting_place}`,
    ]),
  point: (pack) => pack.points.map((point) => [point.id, `${name(pack.areas, point.area, "code")}: ${point.title}`]),
};

/**
 * @param {Object} pack
 * @param {Object} field with `of`, what the id names
 * @param {{form?: Object, values?: Object}} [of] the form, and what is typed in it so far
 * @returns {Array<[string, string]>} id and words
 */
export function offered(pack, field, { form, values } = {}) {
  const find = finders[field.name in finders ? field.name : field.of];
  return find ? find(pack, { field, values, instrument: form?.instrument }) : [];
}

/** An area in a line. */
export function areaLabel(area) {
  return `${area.code} ${area.name}`.trim();
}

/** The coats of the area's system, or of all systems; which coat of which. */
function coats(pack, { values }) {
  const area = values?.area && pack.areas.find((each) => each.id === values.area);
  return everyCoat(pack)
    .filter(({ system }) => !area || system.id === area.system)
    .map(({ system, coat }) => [coat.id, area ? coat.name : `${system.name}: ${coat.name}`]);
}

function everyCoat(pack) {
  return pack.systems.flatMap((system) => system.coats.map((coat) => ({ system, coat })));
}

function gauges(pack, { instrument }) {
  const fit = pack.gauges.filter((gauge) => !instrument || gauge.kind === instrument);
  return fit
    .sort((one, other) => Number(other.mine) - Number(one.mine))
    .map((gauge) => [gauge.id, gaugeLabel(gauge)]);
}

/** An instrument with what stands against it. */
export function gaugeLabel(gauge, day = new Date().toISOString().slice(0, 10)) {
  const against = [];
  if (gauge.state !== "in_service") against.push(gauge.state.replace("_", " "));
  if (!gauge.certificate) against.push("no certificate");
  else if (gauge.certificate.expires < day) against.push(`certificate ran out ${gauge.certificate.expires}`);
  if (gauge.check_it_first) against.push("check it first");
  const who = gauge.mine ? ", yours" : "";
  return `${gauge.identity}${who}${against.length ? ` (${against.join("; ")})` : ""}`;
}

const on = (lot, values) => Boolean(values?.area) && lot.areas.includes(values.area);
const name = (rows, id, what) => rows.find((row) => row.id === id)?.[what] || "";

function told(standard) {
  if (standard.certified_nm !== null) return `${standard.certified_nm / 1000} µm`;
  return standard.certified === null ? "" : `${standard.certified} µS/cm`;
}
