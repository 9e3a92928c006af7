// One form of the pack, of a record or an act, kept at each key and put into the queue.

import { offered } from "../choices.js";
import { openDraft } from "../drafts.js";
import { button, clear, h, link } from "../dom.js";
import { drawForm } from "../forms.js";
import { newId, now } from "../ids.js";
import { keepMeasured } from "../kit.js";
import { readable } from "../moments.js";
import { needed, withOwn } from "../own.js";
import { drawPhotos, subjectOf } from "../photos.js";
import { areaById } from "../places.js";
import { drawPicker } from "../picker.js";
import { addressOf, bodyOf, faultsOf, startOf } from "../told.js";

const LAST = "form-place";

export default { name: "form", title: "Record", show };

/** The rest of the address says where: `#/form/pulloff/area=…/coat=…`, `#/form/lot-end/lot=…`. */
async function show(root, app, [name, ...rest]) {
  if (!app.pack)
    return void root.append(h("p", { class: "notice" }, "Take the project along first. "), link("Packs", "#/packs"));
  const { pack, waiting } = await withOwn(app);
  const form = pack.forms.find((each) => each.name === name);
  if (!form)
    return void root.append(h("p", { class: "notice notice-error" }, "This form is not among those you may send."));
  const given = Object.fromEntries(rest.map((part) => part.split("=")));
  const heading = root.previousElementSibling;
  heading.textContent = form.title;
  document.title = `${form.title} · Stripecoat`;
  // Which instrument, lot or point it is of, as the address names it: a form of the wrong one looks the same.
  const subject = thingsTold(pack, form, given);
  if (subject) root.append(h("p", {}, h("strong", { class: "told-of" }, subject)));
  root.append(h("p", { class: "lead" }, form.lead));
  const asked = lacking(form, given);
  if (asked) return void chooseFirst(root, app, pack, { form, asked, rest });
  const draft = await openDraft(app, { screen: "form", args: [name, ...rest] });
  if (!draft.kept) await begin(app, pack, form, draft, given);
  return fill(root, app, { pack, waiting, form, draft, given, rest });
}

/** What the address of the form asks for and nobody named yet. */
function lacking(form, given) {
  return [...form.address.matchAll(/\{(\w+)\}/g)]
    .map(([, each]) => each)
    .find((each) => each !== "project" && !given[each]);
}

/** Which lot, which mix: chosen before the form, for the form is of it. */
function chooseFirst(root, app, pack, { form, asked, rest }) {
  // What has ended is not ended again.
  const open = { ...pack, lots: pack.lots.filter((lot) => form.name !== "lot-end" || !lot.ended_at) };
  const options = offered(open, { name: asked, of: asked }, { form });
  if (!options.length) {
    return root.append(h("p", { class: "empty" }, `The pack knows of no ${asked} that this could be of.`));
  }
  const hash = (id) => `#/${["form", form.name, ...rest, `${asked}=${id}`].join("/")}`;
  return root.append(
    h("h2", {}, `Which ${asked}?`),
    options.length > 25
      ? drawPicker(options, "", { onchange: (id) => id && app.go(hash(id)), label: asked })
      : h(
          "ul",
          { class: "plain-list told-list" },
          options.map(([id, words]) => h("li", {}, link(words, hash(id)))),
        ),
  );
}

/** A new form: from its place, else from that of the last one; and what the last of its kind said. */
async function begin(app, pack, form, draft, given) {
  const last = (await app.prefs.get(`${LAST}-${app.project.id}`)) || {};
  const area = given.area || (areaById(pack, last.area) ? last.area : undefined);
  const coat = given.coat || (given.area && given.area !== last.area ? undefined : last.coat);
  const stays = (await app.prefs.get(`form-stays-${app.project.id}-${form.name}`)) || pack.last[form.name];
  const { time_zone: zone, unit } = pack.project;
  draft.values.own_id = newId();
  Object.assign(draft.values, startOf(form, { now: now(), zone, unit, area, coat, given, last: stays }));
}

function fill(root, app, { pack, waiting, form, draft, given, rest }) {
  const state = { app, form, pack, draft, faults: faultsOf(draft.faults, form) };
  const place = h("div", { class: "told-form" });
  const subject = subjectOf(form, given);
  const shots = h("div", { class: "told-form" });
  const known = form.cautions?.length ? cautions(form, draft, state) : null;
  const keep = async () => {
    const { time_zone: zone, unit } = pack.project;
    const of = { id: idOf(draft), project: app.project.id, zone, unit, now: now().getTime() };
    const { body, faults } = bodyOf(form, draft.values, of);
    if (known && !known())
      faults.unshift({ field: "", row: null, cell: null, message: "Confirm the cautions first." });
    if (faults.length) return wrong(faults);
    noteWhen(form, body, zone);
    const address = addressOf(form.address, { ...given, project: app.project.id });
    const item = {
      id: of.id,
      address,
      body,
      words: { title: form.title, place: placeTold(pack, form, body, given) },
      needs: needed(waiting, address, body),
      once: Boolean(form.body && !form.body.includes("id")),
      draft: { screen: "form", args: [form.name, ...rest], values: draft.values },
    };
    const photos = subject
      ? await taken.items({ thing: of.id, ...subject, after: of.id, place: item.words.place })
      : [];
    await draft.toQueue([...(known ? confirmedFirst(form, app, item) : [item]), ...photos]);
    await remember(app, pack, form, body, draft.values);
    app.say(`Kept: ${form.title}${navigator.onLine ? "" : ". It is sent when there is a signal"}.`, "good");
    app.go(body.area ? `#/places/${body.area}` : "#/");
    return true;
  };
  let keeping = false;
  // A second tap while the first is being kept, or before the screen is left, keeps nothing more.
  const keepOnce = async () => {
    if (keeping) return;
    keeping = true;
    try {
      keeping = Boolean(await keep());
    } catch (error) {
      keeping = false;
      app.failed(error);
    }
  };
  function wrong(faults) {
    state.faults = faults;
    drawForm(place, state);
    const first = place.querySelector('[role="alert"]');
    first.tabIndex = -1;
    first.focus();
  }
  root.append(
    ...said(form),
    place,
    shots,
    h(
      "p",
      { class: "actions told-end" },
      button("Keep and send", keepOnce, { class: "button told-keep" }),
    ),
    h("p", { class: "quiet" }, "What you type is on this phone at once." +
      // What is only told has no verdict.
      (form.group ? "" : " The record's verdict is made at the office.")),
    h(
      "p",
      { class: "actions told-away" },
      button("Throw this away", () => away(app, draft, place).catch(app.failed), { class: "button button-quiet" }),
    ),
  );
  drawForm(place, state);
  const taken = subject && drawPhotos(shots, app, draft);
  return taken?.leave;
}

/** One id a draft, in whatever tab it is kept; another where the office has other content under the one it had. */
function idOf(draft) {
  return draft.item || (draft.faults.length ? newId() : draft.values.own_id || newId());
}

function said(form) {
  const rows = [];
  if (form.caution) rows.push(h("div", { class: "caution" }, h("p", {}, form.caution)));
  if (form.reach) rows.push(h("p", { class: "hint" }, form.reach));
  return rows;
}

/** The cautions of a dangerous test, to be confirmed with each record; gives a way to ask whether they were. */
function cautions(form, draft, state) {
  const box = h("input", {
    type: "checkbox",
    checked: Boolean(draft.values.cautions_confirmed),
    onchange: () => {
      draft.values.cautions_confirmed = box.checked;
      draft.save().catch(state.app.failed);
    },
  });
  const told = h(
    "div",
    { class: "caution", id: "told-cautions" },
    h(
      "ul",
      {},
      form.cautions.map((text) => h("li", {}, text)),
    ),
    h("label", { class: "told-tick" }, box, " I have read these and they are kept to."),
  );
  queueMicrotask(() => document.querySelector(".told-form")?.before(told));
  return () => Boolean(draft.values.cautions_confirmed);
}

/** The confirmation goes before the record, under an id of its own. */
function confirmedFirst(form, app, item) {
  const id = newId();
  const words = { title: `Cautions: ${form.title}`, place: item.words.place };
  const confirmed = { id, address: addressOf(form.cautions_address, { project: app.project.id }), body: {}, words };
  return [confirmed, { ...item, needs: [...item.needs, id] }];
}

async function away(app, draft, place) {
  const sure = place.parentElement.querySelector(".told-sure");
  if (!sure) {
    const ask = h(
      "p",
      { class: "notice notice-warning told-sure", role: "alert" },
      "Throw away what is typed here? ",
      button("Throw it away", () => away(app, draft, place).catch(app.failed), { class: "button button-danger" }),
    );
    place.parentElement.querySelector(".told-away").after(ask);
    return;
  }
  await draft.discard();
  app.go("#/");
}

/** The office takes an act that asks for no time as of its coming, maybe hours later; the note says when it was. */
function noteWhen(form, body, zone) {
  const asked = (...types) => form.fields.some((field) => types.includes(field.type));
  if (navigator.onLine || asked("moment", "day") || !form.fields.some((field) => field.name === "note")) return;
  body.note = [body.note, `Noted without a signal at ${readable(now(), zone)}.`].filter(Boolean).join(" ");
}

/** Where, or of which thing, in words of the pack. */
function placeTold(pack, form, body, given) {
  const id = body.area || given.area || body.places?.[0]?.area;
  const area = id && areaById(pack, id);
  const coat = body.coat && pack.systems.flatMap((system) => system.coats).find((each) => each.id === body.coat);
  const told = thingsTold(pack, form, given);
  // A batch is of no place: its product and number tell it from the others that came that day.
  const own = form.name === "batch" ? `${body.product} ${body.number}` : "";
  return [area ? `${area.code} ${area.name}` : "", coat ? coat.name : "", told, own].filter(Boolean).join(", ");
}

/** What the address names besides a place, in words of the pack. */
function thingsTold(pack, form, given) {
  return Object.entries(given)
    .filter(([name]) => !["area", "coat"].includes(name))
    .map(([name, id]) => offered(pack, { name, of: name }, { form }).find(([each]) => each === id)?.[1])
    .filter(Boolean)
    .join(", ");
}

/** The check after work of an instrument that is checked before and after it is asked for, as that of a gauge is. */
async function askClosing(app, pack, { gauge: id, taken_at }) {
  const gauge = id && taken_at && pack.gauges.find((one) => one.id === id);
  const since = gauge?.site_check?.each_shift && gauge.checked_since;
  if (since && Date.parse(since) <= Date.parse(taken_at)) await keepMeasured(app, gauge, taken_at);
}

/** As this morning: the next form starts at this place, and the next of this kind with what stays from test to test. */
async function remember(app, pack, form, body, values) {
  if (body.area) await app.prefs.set(`${LAST}-${app.project.id}`, { area: body.area, coat: body.coat || undefined });
  await askClosing(app, pack, body);
  const stays = Object.keys(pack.last[form.name] || {});
  const kept = ["gauge", "crew", ...stays].filter((name) => values[name] && typeof values[name] !== "object");
  if (!kept.length) return;
  await app.prefs.set(
    `form-stays-${app.project.id}-${form.name}`,
    Object.fromEntries(kept.map((name) => [name, values[name]])),
  );
}
