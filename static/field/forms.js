/**
 * Draws a told form of the pack: every field, its rows, what is wrong with each. What is typed is in the draft at once;
 * the page is drawn anew only where rows come or go.
 */

import { offered } from "./choices.js";
import { labelButton, labelled } from "./codes.js";
import { button, clear, h } from "./dom.js";
import { now } from "./ids.js";
import { localOf } from "./moments.js";
import { drawPicker } from "./picker.js";
import { ofField, ofRow, shownFields, startOfRow } from "./told.js";

let made = 0;
const newDomId = () => `told-${(made += 1)}`;

/**
 * @param {HTMLElement} root
 * @param {{app: Object, form: Object, pack: Object, draft: Object, faults: Array<Object>}} state `draft` as `openDraft`
 *   gives it; `faults` as `bodyOf` and `faultsOf` give them
 */
export function drawForm(root, state) {
  const { form, pack, draft, faults } = state;
  const again = (focus) => {
    drawForm(root, state);
    root.querySelector(focus)?.focus();
  };
  clear(root);
  if (faults.length) root.append(summary(form, faults));
  for (const field of shownFields(form.fields, pack.project.unit)) {
    const place = { state, again, values: draft.values, name: field.name, faults: ofField(faults, field.name) };
    root.append(drawField(field, place));
  }
}

/** All that is wrong in one place, which is read out, each leading to its field. */
function summary(form, faults) {
  const named = (fault) => {
    const field = form.fields.find((each) => each.name === fault.field);
    const cell = field?.fields?.find((each) => each.name === fault.cell);
    return [field?.label, fault.row && `row ${fault.row}`, cell?.label].filter(Boolean).join(", ");
  };
  const lead = (fault) => () => {
    const at = `[data-field="${fault.field}"]${fault.row ? ` [data-row="${fault.row}"]` : ""}`;
    const cell = fault.cell ? `${at} [data-field="${fault.cell}"] ` : `${at} `;
    const found = document.querySelector(`${cell}:is(input, select, textarea, button)`);
    found?.focus();
    found?.scrollIntoView({ block: "center" });
  };
  return h(
    "div",
    { class: "notice notice-error", role: "alert", "data-faults": faults.length },
    h("p", {}, "This cannot be kept as it is:"),
    h(
      "ul",
      { class: "told-leads" },
      faults.map((fault) =>
        h(
          "li",
          {},
          fault.field
            ? button(`${named(fault)}: ${fault.message}`, lead(fault), { class: "told-lead" })
            : fault.message,
        ),
      ),
    ),
  );
}

/** One field with its label, hint and faults. */
function drawField(field, place) {
  const draw = DRAWN[field.type];
  return draw ? draw(field, place) : framed(field, place, box(field, place, {}));
}

/** The frame of a field whose input is one element. */
function framed(field, place, input, after = null) {
  const id = newDomId();
  const target = input.matches("input, select, textarea") ? input : input.querySelector("input, select, textarea");
  const told = [];
  if (field.help) told.push(h("p", { class: "hint", id: `${id}-help` }, field.help));
  for (const [index, fault] of place.faults.entries()) {
    told.push(h("p", { class: "fault", id: `${id}-fault-${index}` }, fault.message));
  }
  target.id = id;
  if (told.length) target.setAttribute("aria-describedby", told.map((each) => each.id).join(" "));
  if (place.faults.length) target.setAttribute("aria-invalid", "true");
  if (field.required) target.setAttribute("aria-required", "true");
  return h(
    "div",
    { class: place.faults.length ? "field field-wrong" : "field", "data-field": field.name },
    h("label", { for: id }, labelOf(field)),
    ...told,
    after ? h("div", { class: "told-beside" }, input, after) : input,
  );
}

const MAY_BE_EMPTY = " (may be empty)";
const labelOf = (field) =>
  field.required ? field.label : [field.label, h("span", { class: "quiet" }, MAY_BE_EMPTY)];

/** A box for text whose content is the draft's at each key. */
function box(field, place, attrs) {
  const element = h(attrs.rows ? "textarea" : "input", {
    class: attrs.rows ? "told-lines" : "",
    maxlength: field.longest,
    autocomplete: "off",
    value: place.values[field.name] ?? "",
    ...attrs,
    oninput: () => set(place, field.name, element.value),
  });
  return element;
}

function set(place, name, value) {
  place.values[name] = value;
  place.state.draft.save().catch(place.state.app.failed);
}

const figures = (field, whole) => ({
  // A keypad of digits has no minus on some phones; a temperature may need one.
  inputmode: /_c$/.test(field.name) ? "text" : whole ? "numeric" : "decimal",
  class: "told-figure",
});

const YES_NO = [
  ["yes", "Yes"],
  ["no", "No"],
];
const DRAWN = {
  text: (field, place) => framed(field, place, box(field, place, { type: "text" })),
  lines: (field, place) => framed(field, place, box(field, place, { rows: 3 })),
  number: (field, place) => framed(field, place, box(field, place, { type: "text", ...figures(field, false) })),
  integer: (field, place) => framed(field, place, box(field, place, { type: "text", ...figures(field, true) })),
  day: (field, place) => framed(field, place, box(field, place, { type: "date" })),
  clock: (field, place) => framed(field, place, box(field, place, { type: "time" })),
  moment: (field, place) => {
    const zone = place.state.pack.project.time_zone;
    const input = box(field, place, { type: "datetime-local" });
    const take = () => {
      input.value = localOf(now(), zone);
      set(place, field.name, input.value);
    };
    return framed(
      field,
      place,
      input,
      button("Now", take, { class: "button button-quiet", "aria-label": `${field.label}: now` }),
    );
  },
  readings: (field, place) => {
    const input = box(field, place, { rows: 2, ...figures(field, field.whole), class: "told-lines told-figure" });
    const next = () => {
      input.value = `${input.value.trimEnd()} `.replace(/^ $/, "");
      set(place, field.name, input.value);
      input.focus();
    };
    return framed(
      { ...field, help: field.help || "Parted by a space, or by “Next”." },
      place,
      input,
      button("Next", next, { class: "button button-quiet", "aria-label": `Next of ${field.label}` }),
    );
  },
  flag: (field, place) => (field.null ? choice({ ...field, choices: YES_NO }, place) : tick(field, place)),
  choice,
  id: (field, place) => chosen(field, place, offeredAt(field, place)),
  ids: several,
  choices: several,
  map: shares,
  rows: table,
};

function offeredAt(field, { state }) {
  return offered(state.pack, field, { form: state.form, values: state.draft.values });
}

const sentences = (faults) => faults.map((fault) => h("p", { class: "fault" }, fault.message));

function tick(field, place) {
  const id = newDomId();
  const input = h("input", {
    type: "checkbox",
    id,
    checked: Boolean(place.values[field.name]),
    onchange: () => set(place, field.name, input.checked),
  });
  return h(
    "div",
    { class: "field told-tick", "data-field": field.name },
    h("label", { for: id }, input, ` ${field.label}`),
    field.help && h("p", { class: "hint" }, field.help),
    sentences(place.faults),
  );
}

function choice(field, place) {
  const value = String(place.values[field.name] ?? "");
  const first = field.required ? "Choose" : "Not said";
  const input = h(
    "select",
    { onchange: () => set(place, field.name, input.value) },
    h("option", { value: "", selected: value === "" }, first),
    field.choices
      .filter(([code]) => code !== "")
      .map(([code, words]) => h("option", { value: code, selected: String(code) === value }, words)),
  );
  return framed(field, place, input);
}

/** A thing of the pack: a list to choose from where it is short, else found by typing. */
function chosen(field, place, options) {
  const onchange = (value) => {
    set(place, field.name, value);
    // Which coats are offered follows from the area; not while another one is typed over it, which would be lost.
    if (field.of === "area" && (value || input.matches("select"))) {
      place.again(`[data-field="${field.name}"] :is(input, select)`);
    }
  };
  const how = { onchange, required: field.required, label: field.label };
  const input = drawPicker(options, place.values[field.name] || "", how);
  const take = (id) => {
    set(place, field.name, id);
    place.again(`${place.at || ""} [data-field="${field.name}"] :is(input, select)`);
  };
  return framed(field, place, input, byLabel(field, place, options, take));
}

/** Beside what bears labels a button that takes one by its label; null beside all else. */
function byLabel(field, { state }, options, take) {
  const among = options.map(([id]) => id);
  const of = labelled(field.of);
  return of && among.length ? labelButton({ pack: state.pack, of, among, take, for: field.label }) : null;
}

/** Several of a list, one after the other; the same may be chosen twice. */
function several(field, place) {
  const values = place.values[field.name] || (place.values[field.name] = []);
  const options = field.type === "choices" ? field.choices : offeredAt(field, place);
  const words = (id) => options.find(([each]) => String(each) === String(id))?.[1] || id;
  const at = `[data-field="${field.name}"] :is(input, select)`;
  const change = (next) => {
    set(place, field.name, next);
    place.again(at);
  };
  const add = (value) => value && change([...values, value]);
  const input = drawPicker(options, "", { onchange: add, label: field.label, empty: "Add" });
  const list =
    values.length > 0 &&
    h(
      "ul",
      { class: "told-chosen" },
      values.map((id, index) =>
        h(
          "li",
          {},
          words(id),
          button("Take out", () => change(values.filter((_, place_) => place_ !== index)), {
            class: "button button-quiet",
            "aria-label": `Take out ${words(id)}`,
          }),
        ),
      ),
    );
  const after = field.type === "ids" ? byLabel(field, place, options, add) : null;
  return framed(field, place, h("div", {}, input, list), after);
}

/** A share of each of several: its code and a figure. */
function shares(field, place) {
  const rows = place.values[field.name] || (place.values[field.name] = []);
  if (!rows.length) rows.push({ key: "", value: "" });
  const save = () => set(place, field.name, rows);
  const line = (row, index) => {
    const key = h("input", {
      type: "text",
      value: row.key,
      class: "told-code",
      autocapitalize: "characters",
      autocomplete: "off",
      "aria-label": `${field.label}: code ${index + 1}`,
      oninput: () => ((row.key = key.value), save()),
    });
    const value = h("input", {
      type: "text",
      value: row.value,
      inputmode: "decimal",
      class: "told-figure",
      autocomplete: "off",
      "aria-label": `${field.label}: figure ${index + 1}`,
      oninput: () => ((row.value = value.value), save()),
    });
    return h("div", { class: "told-share" }, key, value);
  };
  const more = () => {
    rows.push({ key: "", value: "" });
    save();
    place.again(`${place.at || ""} [data-field="${field.name}"] .told-share:last-of-type input`);
  };
  return h(
    "fieldset",
    { class: place.faults.length ? "field field-wrong" : "field", "data-field": field.name },
    h("legend", {}, field.label),
    field.help && h("p", { class: "hint" }, field.help),
    sentences(place.faults),
    rows.map(line),
    button("Add a share", more, { class: "button button-quiet" }),
  );
}

/** A table: a box a row, each with its own fields. */
function table(field, place) {
  const rows = place.values[field.name] || (place.values[field.name] = []);
  const { pack, faults } = place.state;
  const one = field.one || "row";
  const at = `[data-field="${field.name}"]`;
  const more = () => {
    rows.push(startOfRow(field, { now: now(), zone: pack.project.time_zone, unit: pack.project.unit }));
    set(place, field.name, rows);
    place.again(`${at} [data-row="${rows.length}"] :is(input, select, textarea)`);
  };
  const drop = (index) => {
    rows.splice(index, 1);
    set(place, field.name, rows);
    place.again(`${at} .told-add`);
  };
  const drawn = rows.map((row, index) => {
    const number = index + 1;
    const ofThis = ofRow(faults, field.name, number);
    const cells = shownFields(field.fields, pack.project.unit).map((cell) =>
      drawField(cell, {
        ...place,
        values: row,
        name: cell.name,
        at: `${at} [data-row="${number}"]`,
        faults: ofThis.filter((fault) => fault.cell === cell.name),
      }),
    );
    return h(
      "fieldset",
      { class: "told-row", "data-row": number },
      h("legend", {}, `${one[0].toUpperCase()}${one.slice(1)} ${number}`),
      sentences(ofThis.filter((fault) => !fault.cell)),
      cells,
      button("Take out", () => drop(index), {
        class: "button button-quiet",
        "aria-label": `Take out ${one} ${number}`,
      }),
    );
  });
  const classes = place.faults.length ? "told-table told-wrong" : "told-table";
  return h(
    "section",
    { class: classes, "data-field": field.name },
    h("h2", {}, labelOf(field)),
    field.help && h("p", { class: "hint" }, field.help),
    sentences(place.faults),
    drawn,
    button(`Add a ${one}`, more, { class: "button button-quiet told-add" }),
  );
}
