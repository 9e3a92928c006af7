/**
 * Told forms without a page: what is drawn, what a form starts from, and what was typed read into the body that the
 * public API takes, with each fault named by its field and row. Pure; the office checks all of it again.
 *
 * What is typed is kept as it was typed: a text a field, true or false a flag, a list of such objects a table, a list
 * of `{key, value}` a map, a list of ids or words where several are chosen.
 */

import { dayOf, localOf, momentsOf, sentMoment } from "./moments.js";

const MOST_SHOWN = 40;

/**
 * The fields that are drawn: of a figure that is taken in either of two units the one of the project.
 * @param {Array<Object>} fields
 * @param {"um"|"mil"} unit
 */
export function shownFields(fields, unit) {
  return fields.filter((field) => !field.unit || field.unit === unit);
}

/**
 * What a new form starts from.
 * @param {Object} form a told form of the pack
 * @param {{now: Date|number, zone: string, unit: string, area?: string, coat?: string, given?: Object, last?: Object}}
 *   from `given` are values that the screen knows, `last` what stayed from the last record of this kind
 */
export function startOf(form, from) {
  const values = {};
  for (const field of shownFields(form.fields, from.unit)) {
    const known = { area: from.area, coat: from.coat, ...from.given }[field.name];
    if (known !== undefined && known !== null) values[field.name] = known;
    else if (from.last && from.last[field.name] !== undefined && from.last[field.name] !== null) {
      values[field.name] = typed(field, from.last[field.name]);
    } else values[field.name] = startOfField(field, from);
  }
  return values;
}

function startOfField(field, { now, zone, unit }) {
  if (field.default !== undefined) return typed(field, field.default);
  if (field.type === "moment" && field.required) return localOf(now, zone);
  if (field.type === "day" && field.required) return dayOf(now, zone);
  if (field.type === "rows") return field.required ? [startOfRow(field, { now, zone, unit })] : [];
  if (["ids", "choices", "map"].includes(field.type)) return [];
  return field.type === "flag" && !field.null ? false : "";
}

/** A new row of a table. */
export function startOfRow(field, from) {
  return Object.fromEntries(shownFields(field.fields, from.unit).map((cell) => [
    cell.name,
    cell.type === "moment" || cell.type === "day" ? "" : startOfField(cell, from),
  ]));
}

/** A stored value as it is typed. */
function typed(field, value) {
  if (field.type === "flag") return field.null ? (value ? "yes" : "no") : Boolean(value);
  if (field.type === "ids" || field.type === "choices") return value.map(String);
  if (field.type === "map") return Object.entries(value).map(([key, each]) => ({ key, value: String(each) }));
  if (field.type === "readings") return value.join(" ");
  if (field.type === "rows") {
    return value.map((row) => Object.fromEntries(
      field.fields.filter((cell) => row[cell.name] !== undefined && row[cell.name] !== null)
        .map((cell) => [cell.name, typed(cell, row[cell.name])]),
    ));
  }
  return String(value);
}

/**
 * What a body of the API would have been typed as: for a refused record that is put right.
 * @param {Object} form
 * @param {Object} body
 * @param {string} zone
 */
export function typedOf(form, body, zone) {
  const values = {};
  for (const field of form.fields) {
    const value = body[field.name];
    if (value === undefined || value === null) continue;
    values[field.name] = field.type === "moment" ? localOf(Date.parse(value), zone) : typed(field, value);
  }
  return values;
}

/**
 * The body that is sent, or what keeps it from being sent.
 * @param {Object} form
 * @param {Object} values as typed
 * @param {{id: string, project: string, zone: string, unit: string, now?: number}} of
 * @returns {{body: Object, faults: Array<{field: string, row: ?number, cell: ?string, message: string}>}}
 */
export function bodyOf(form, values, of) {
  const faults = [];
  const body = { ...(form.fixed || {}) };
  const own = form.body || ["id", "project"];
  if (own.includes("id")) body.id = of.id;
  if (own.includes("project")) body.project = of.project;
  for (const field of shownFields(form.fields, of.unit)) {
    const fault = (message, row = null, cell = null) => faults.push({ field: field.name, row, cell, message });
    const read = readField(field, values[field.name], of, fault);
    if (read !== undefined) body[field.name] = read;
  }
  return { body, faults };
}

function readField(field, value, of, fault) {
  if (isEmpty(field, value)) {
    if (field.required) fault(field.type === "rows" ? `Add at least one ${field.one || "row"}.` : "Fill this in.");
    return undefined;
  }
  const reader = READERS[field.type];
  if (!reader) throw new Error(`no form knows how to read ${field.type} of ${field.name}`);
  return reader(field, value, of, fault);
}

function isEmpty(field, value) {
  if (value === undefined || value === null) return true;
  if (field.type === "flag" && !field.null) return false;
  if (Array.isArray(value)) return filled(field, value).length === 0;
  return String(value).trim() === "";
}

/** The rows of a table or map that say something; an empty last row is no fault. */
function filled(field, rows) {
  if (field.type === "map") return rows.filter((row) => String(row.key).trim() || String(row.value).trim());
  if (field.type !== "rows") return rows;
  return rows.filter((row) => field.fields.some((cell) => !saysNothing(cell, row[cell.name])));
}

function saysNothing(cell, value) {
  if (cell.type === "flag" && !cell.null) return !value;
  if (Array.isArray(value)) return filled(cell, value).length === 0;
  const text = value === undefined || value === null ? "" : String(value).trim();
  return text === "" || (cell.default !== undefined && text === String(cell.default));
}

const READERS = {
  text: (field, value, of, fault) => words(field, value, fault, true),
  lines: (field, value, of, fault) => words(field, value, fault, false),
  id: (field, value) => value,
  ids: (field, value) => value,
  choices: (field, value) => value,
  choice: (field, value, of, fault) => {
    const code = field.choices.map(([each]) => each).find((each) => String(each) === value);
    if (code === undefined) fault("Choose one of those offered.");
    return code;
  },
  flag: (field, value) => (field.null ? value === "yes" : Boolean(value)),
  number: (field, value, of, fault) => figure(field, value, fault),
  integer: (field, value, of, fault) => figure({ ...field, places: 0 }, value, fault),
  day: (field, value, of, fault) => {
    if (/^\d{4}-\d\d-\d\d$/.test(value)) return value;
    fault("Write the date as 2026-03-04.");
    return undefined;
  },
  clock: (field, value, of, fault) => {
    if (/^([01]\d|2[0-3]):[0-5]\d(:\d\d)?$/.test(value)) return value;
    fault("Write the time as 14:05.");
    return undefined;
  },
  moment,
  readings,
  map,
  rows: table,
};

function words(field, value, fault, oneLine) {
  const text = String(value).trim();
  if (field.longest && [...text].length > field.longest) {
    fault(`Give at most ${field.longest} characters; these are ${[...text].length}.`);
  }
  if (oneLine && /[\r\n]/.test(text)) fault("Write this on one line.");
  return text;
}

/** A number typed with a point or a decimal comma; the same text gives the same JSON number. */
function figure(field, value, fault) {
  let text = String(value).trim().replace("−", "-");
  if (text.split(",").length === 2 && !text.includes(".")) text = text.replace(",", ".");
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(text) || text.length > MOST_SHOWN) {
    fault(`“${String(value).trim().slice(0, MOST_SHOWN)}” is not a number; write it as ${example(field)}.`);
    return undefined;
  }
  const number = Number(text);
  const digits = (text.split(".")[1] || "").replace(/0+$/, "").length;
  if (field.min !== undefined && field.max !== undefined && (number < field.min || number > field.max)) {
    fault(`Give ${field.min} to ${field.max}; this is ${text}.`);
  } else if (field.min !== undefined && number < field.min) fault(`Give at least ${field.min}; this is ${text}.`);
  else if (field.max !== undefined && number > field.max) fault(`Give at most ${field.max}; this is ${text}.`);
  else if (field.places === 0 && digits) fault(`Give a whole number; this is ${text}.`);
  else if (field.places !== undefined && digits > field.places) {
    fault(`Give at most ${field.places} digits after the point; this is ${text}.`);
  }
  return Object.is(number, -0) ? 0 : number;
}

const example = (field) => (field.places === 0 ? "12" : "12.5");

function moment(field, value, of, fault) {
  const found = momentsOf(String(value).trim(), of.zone);
  if (!found.length) {
    const known = /^\d{4}-\d\d-\d\dT\d\d:\d\d/.test(value);
    fault(known ? "The clocks there never showed this; check date and time." : "Give date and time.");
    return undefined;
  }
  // An hour that comes twice: the one nearest to now is meant by whoever writes down what they do.
  const now = of.now === undefined ? found[0] : of.now;
  const at = found.reduce((best, each) => (Math.abs(each - now) < Math.abs(best - now) ? each : best));
  return sentMoment(at, of.zone);
}

function readings(field, value, of, fault) {
  const typedOnes = String(value).trim().split(/[\s;]+/).filter(Boolean);
  checkLength(field, typedOnes.length, "readings", fault);
  const found = typedOnes.map((each) => figure(field.whole ? { ...field, places: 0 } : field, each, fault));
  return found.filter((each) => each !== undefined);
}

function map(field, value, of, fault) {
  const found = {};
  filled(field, value).forEach(({ key, value: each }, index) => {
    const code = String(key).trim().toUpperCase();
    if (!code) fault("Name what this is the share of.", index + 1);
    else if (code in found) fault(`${code} stands twice.`, index + 1);
    const number = figure(field, each, (message) => fault(message, index + 1));
    if (code && number !== undefined) found[code] = number;
  });
  return found;
}

function table(field, value, of, fault) {
  const rows = [];
  value.forEach((row, index) => {
    if (!filled(field, [row]).length) return;
    const read = {};
    for (const cell of shownFields(field.fields, of.unit)) {
      const ofCell = (message) => fault(message, index + 1, cell.name);
      const found = readField(cell, row[cell.name], of, ofCell);
      if (found !== undefined) read[cell.name] = found;
    }
    rows.push(read);
  });
  checkLength(field, rows.length, "rows", fault);
  return rows;
}

function checkLength(field, count, what, fault) {
  if (field.at_least && count < field.at_least) fault(`Give at least ${field.at_least} ${what}.`);
  if (field.at_most && count > field.at_most) fault(`Give at most ${field.at_most} ${what}; these are ${count}.`);
}

/**
 * What the server said is wrong, by the fields of the form: `tests[0].place` is the place in row 1 of the tests.
 * @param {Array<{field: string, row: ?number, message: string}>} errors of the problem document
 * @param {Object} form
 */
export function faultsOf(errors, form) {
  const names = new Map(form.fields.map((field) => [field.name, field]));
  return (errors || []).map(({ field = "", row = null, message }) => {
    const found = /^(\w+)(?:\[(\d+)\])?(?:\.(\w+))?/.exec(field || "");
    const name = found && names.has(found[1]) ? found[1] : "";
    const line = found && found[2] !== undefined ? Number(found[2]) + 1 : row;
    const cell = found && found[3] !== undefined ? found[3] : null;
    const told = name ? message : field ? `${field}: ${message}` : message;
    return { field: name, row: name ? line : null, cell: name ? cell : null, message: told };
  });
}

/** The faults that stand under a field itself, and those of one of its rows. */
export const ofField = (faults, name) => faults.filter((each) => each.field === name && !each.row);
export const ofRow = (faults, name, row) => faults.filter((each) => each.field === name && each.row === row);

/** The address of a form with the ids that stand in braces. */
export function addressOf(template, ids) {
  return template.replace(/\{(\w+)\}/g, (_, name) => {
    if (!ids[name]) throw new Error(`the address asks for ${name}`);
    return encodeURIComponent(ids[name]);
  });
}

/** The form that is sent to this address, with whatever ids stand where its template has braces; or undefined. */
export const formOf = (forms, address) =>
  forms.find((form) => new RegExp(`^${form.address.replace(/\{\w+\}/g, "[^/]+")}$`).test(address));
