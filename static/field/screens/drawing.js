// Drawings taken along: the picture with areas and notes, and a note put at a place by finger, keys or figures.

import { button, h, link } from "../dom.js";
import { openDraft } from "../drafts.js";
import { drawForm } from "../forms.js";
import { alone, noPack } from "../hand.js";
import { newId, now } from "../ids.js";
import { readable } from "../moments.js";
import { withOwn } from "../own.js";
import { areaById } from "../places.js";
import { bodyOf, faultsOf, startOf } from "../told.js";

const ADDRESS = "/api/drawing-notes/";
const PARTS = 10_000;
const LONGEST = 2_000;
const SVG = "http://www.w3.org/2000/svg";
// The longer side of a picture in units of what is drawn over it.
const SIDE = 1000;
// The height of a code beside its place, as in field.css.
const LETTER = 28;
const STEP = 1;
const FAR = 5;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const share = (label) => ({ label, type: "number", min: 0, max: 100, places: 2, required: true });
const TEXT = [
  { name: "text", label: "Note", type: "lines", required: true, longest: LONGEST },
  { name: "area", label: "Area", type: "id", of: "area", null: true, required: false },
  { name: "at", label: "Seen", type: "moment", required: true },
];
const PLACE = [
  { name: "left", ...share("From the left, in %") },
  { name: "top", ...share("From the top, in %") },
];
// What the office calls the two figures of a place.
const CALLED = { x: "left", y: "top" };

export default { name: "drawing", title: "Drawings", show };

async function show(root, app, [id]) {
  if (!app.pack) return void root.append(noPack());
  const { pack } = await withOwn(app);
  const drawing = (pack.drawings || []).find((each) => each.id === id);
  if (!id) return list(root, pack);
  if (!drawing) {
    const gone = "The pack knows no such drawing: it may have been withdrawn. Fetch the pack again.";
    return void root.append(h("p", { class: "notice notice-warning" }, gone), link("All drawings", "#/drawing"));
  }
  return alone(root, app, `drawing-${id}`, () => one(root, app, pack, drawing));
}

function list(root, pack) {
  const rows = pack.drawings || [];
  if (!rows.length) return void root.append(h("p", { class: "empty" }, "The pack has no drawing of this project."));
  const without = rows.filter((each) => !each.picture).length;
  root.append(
    h("ul", { class: "plain-list told-list" }, rows.map((each) => h("li", {},
      link(`${each.number} ${each.title}`, `#/drawing/${each.id}`),
      h("span", { class: "quiet" }, ` revision ${each.revision}`)))),
  );
  const words = `${without} without a picture: what fits into the pack was taken along.`;
  if (without) root.append(h("p", { class: "quiet" }, words));
  return undefined;
}

async function one(root, app, pack, drawing) {
  const title = `${drawing.number} ${drawing.title}`;
  root.previousElementSibling.textContent = title;
  document.title = `${title} · Stripecoat`;
  const notes = pack.drawing_notes.filter((each) => each.drawing === drawing.id);
  const over = picture(drawing, pack, notes);
  root.append(
    h("p", { class: "lead" }, `Revision ${drawing.revision}`),
    over ? over.root : h("p", { class: "notice" }, "No picture can be made of this drawing; a note has no place."),
  );
  if (pack.may.note) await writing(root, app, pack, drawing, over);
  root.append(h("h2", {}, "Notes"), noted(pack, notes), h("p", {}, link("All drawings", "#/drawing")));
}

function noted(pack, notes) {
  if (!notes.length) return h("p", { class: "quiet" }, "None as the office knew it, and none waits here.");
  const about = (note) => [areaById(pack, note.area)?.code, note.at && readable(note.at, pack.project.time_zone)];
  return h("ul", { class: "plain-list plot-notes" }, notes.map((note) => h("li", {},
    h("strong", {}, note.number), ` ${note.text} `,
    h("span", { class: "quiet" }, about(note).filter(Boolean).join(", ")))));
}

// --- the picture ---
function s(tag, attrs, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attrs)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/** Whether the codes can stand at their places without lying over one another; else the places stand alone. */
function apart(areas) {
  const rows = [...areas].sort((one, other) => one.at[0] - other.at[0]);
  return rows.every((one, index) => rows.slice(index + 1).every((other) =>
    Math.abs(one.at[1] - other.at[1]) > LETTER * 1.2
    || other.at[0] - one.at[0] > ((one.code.length + other.code.length) / 2) * LETTER * 0.66));
}

/** The picture with what lies over it; `cross(left, top)` moves the cross, `onplace` is told where was pressed. */
function picture(drawing, pack, notes) {
  if (!drawing.width) return null;
  const unit = SIDE / Math.max(drawing.width, drawing.height);
  const [width, height] = [drawing.width * unit, drawing.height * unit];
  const at = (x, y) => [(x * width) / PARTS, (y * height) / PARTS];
  const areas = drawing.areas.filter((each) => each.x !== null).map((each) => (
    { at: at(each.x, each.y), code: areaById(pack, each.area)?.code || "" }));
  const told = apart(areas);
  const marks = areas.map(({ at: [x, y], code }) => s("g", { class: "plot-area" }, s("title", {}, code),
    s("circle", { cx: x, cy: y, r: 5 }),
    ...(told ? [s("text", { x, y: y - 10, "text-anchor": "middle" }, code)] : [])));
  for (const note of notes.filter((each) => each.x !== null)) {
    const [x, y] = at(note.x, note.y);
    marks.push(s("circle", { cx: x, cy: y, r: 24, class: "plot-note" }),
      s("text", { x, y, class: "plot-number", "text-anchor": "middle", "dominant-baseline": "central" },
        Number.isInteger(note.number) ? note.number : "?"));
  }
  const lines = s("path", { class: "plot-lines", d: "" });
  const over = s("svg", {
    class: "plot-over", viewBox: `0 0 ${width} ${height}`, tabindex: 0, role: "application",
    "aria-label": "Place of the note. Arrow keys move the cross, with Shift by more.",
  }, ...marks, lines);
  const shown = drawing.picture
    ? h("img", { src: drawing.picture, alt: `Drawing ${drawing.number}`, class: "plot-image", draggable: "false" })
    : h("p", { class: "hint" }, "Its picture is not in the pack. The place is kept as figures all the same.");
  const found = {
    root: h("div", { class: drawing.picture ? "plot" : "plot plot-blind" }, shown, over),
    onplace: null,
    cross(left, top) {
      const inside = [left, top].every((each) => each >= 0 && each <= 100);
      const [x, y] = [(left * width) / 100, (top * height) / 100];
      lines.setAttribute("d", inside ? `M${x} 0V${height}M0 ${y}H${width}` : "");
    },
  };
  over.addEventListener("click", (event) => {
    const box = over.getBoundingClientRect();
    const part = (value) => Math.min(100, Math.max(0, value * 100));
    found.onplace?.(part((event.clientX - box.left) / box.width), part((event.clientY - box.top) / box.height));
  });
  over.addEventListener("keydown", (event) => {
    const move = MOVES[event.key];
    if (!move || !found.onplace) return;
    event.preventDefault();
    found.onplace(null, null, move.map((each) => each * (event.shiftKey ? FAR : STEP)));
  });
  return found;
}

// --- the note ---
async function writing(root, app, pack, drawing, over) {
  const form = { name: "drawing-note", body: ["id"], fields: over ? [...TEXT, ...PLACE] : TEXT };
  const draft = await openDraft(app, { screen: "drawing", args: [drawing.id] });
  const { time_zone: zone, unit } = pack.project;
  const { values } = draft;
  if (!draft.kept) Object.assign(values, startOf(form, { now: now(), zone, unit }), { own_id: newId() });
  const place = h("div", { class: "told-form" });
  const said = h("p", { class: "visually-hidden", "aria-live": "polite" });
  if (draft.kept && values.revision && values.revision !== drawing.revision_id) {
    Object.assign(values, { left: "", top: "" });
    root.append(h("p", { class: "notice notice-warning" }, "The drawing was revised since you began this note. Its " +
      "words are kept: set the place anew."));
  }
  values.revision = drawing.revision_id;
  const called = draft.faults.map((fault) => ({ ...fault, field: CALLED[fault.field] || fault.field }));
  const state = { app, form, pack: onItFirst(pack, drawing), draft, faults: faultsOf(called, form) };
  const typed = (name) => (String(values[name] ?? "").trim() ? Number(String(values[name]).replace(",", ".")) : NaN);
  const cross = () => over?.cross(typed("left"), typed("top"));
  const put = (left, top, [right, down] = [0, 0]) => {
    const begun = (name) => (typed(name) >= 0 ? typed(name) : 50);
    const from = (given, name, step) => Math.min(100, Math.max(0, given ?? begun(name) + step));
    values.left = from(left, "left", right).toFixed(1);
    values.top = from(top, "top", down).toFixed(1);
    for (const name of ["left", "top"]) place.querySelector(`[data-field="${name}"] input`).value = values[name];
    draft.save().catch(app.failed);
    cross();
    said.textContent = `${values.left} % from the left, ${values.top} % from the top.`;
  };
  if (over) over.onplace = put;
  place.addEventListener("input", cross);
  const keep = async () => {
    const id = draft.item || (draft.faults.length ? newId() : values.own_id);
    const { body, faults } = bodyOf(form, values, { id, project: app.project.id, zone, unit, now: now().getTime() });
    if (faults.length) return wrong(faults);
    const { left, top, ...rest } = body;
    const at = over ? { x: Math.round(Number(left) * 100), y: Math.round(Number(top) * 100) } : {};
    const area = body.area && areaById(pack, body.area);
    await draft.toQueue([{
      id, address: ADDRESS, body: { ...rest, ...at, revision: drawing.revision_id },
      words: { title: "Note on a drawing", place: [drawing.number, area?.code].filter(Boolean).join(", ") },
      draft: { screen: "drawing", args: [drawing.id], values },
    }]);
    app.say(`The note is kept${navigator.onLine ? "" : ", and sent when there is a signal"}.`, "good");
    return app.go(`#/drawing/${drawing.id}`);
  };
  const wrong = (faults) => {
    state.faults = faults;
    drawForm(place, state);
    const first = place.querySelector('[role="alert"]');
    first.tabIndex = -1;
    first.focus();
  };
  let keeping = false;
  const keepOnce = async () => {
    if (keeping) return;
    keeping = true;
    await keep().catch(app.failed);
    keeping = false;
  };
  root.append(h("h2", {}, "A note at a place of it"),
    over ? h("p", { class: "hint" }, "Press on the picture, move the cross by arrow keys, or type the figures.") : "",
    place, said,
    h("p", { class: "actions told-end" }, button("Keep and send", keepOnce, { class: "button told-keep" })),
    h("p", { class: "quiet" }, "What you type is on this phone at once."));
  drawForm(place, state);
  cross();
}

/** The pack with the areas that the drawing shows before all others. */
function onItFirst(pack, drawing) {
  const shown = new Set(drawing.areas.map((each) => each.area));
  const rest = pack.areas.filter((area) => !shown.has(area.id));
  return { ...pack, areas: [...pack.areas.filter((area) => shown.has(area.id)), ...rest] };
}
