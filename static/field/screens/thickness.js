/** Thickness by thumb: choose area, coat and gauge as this morning; measure; see the verdict; keep it to be sent. */

import { labelButton } from "../codes.js";
import { checksTold, whyOf } from "../checks_told.js";
import { button, clear, field, h, link } from "../dom.js";
import { listDrafts, openDraft } from "../drafts.js";
import { alone, idOf, noPack, readSwitches, saidByOffice } from "../hand.js";
import { newId, now } from "../ids.js";
import * as kit from "../kit.js";
import * as measuring from "../measuring.js";
import { areasLike } from "../places.js";
import { drawPhotos } from "../photos.js";
import { toNm } from "../rules/index.js";
import { drawSheet } from "../sheet.js";
import { VERDICTS, soFar } from "../thickness_told.js";

const WAYS = [
  ["adjusted", "Adjusted on the blasted surface"],
  ["correction", "Smooth steel, value subtracted"],
  ["base_metal", "Base metal reading subtracted"],
];
const LAST = "thickness-last";
const MOST_FOUND = 20;

// After area and coat in the address: choose again for a measurement that is under way.
const AGAIN = "again";

async function show(root, app, [area, coat, how]) {
  if (!app.pack) return void root.append(noPack());
  if (!area || !coat) return choose(root, app, { area, coat });
  return alone(root, app, `thickness-${area}-${coat}`, async () => {
    const draft = await openDraft(app, { screen: "thickness", args: [area, coat] });
    if (!draft.values.setup) return choose(root, app, { area, coat });
    return how === AGAIN ? choose(root, app, { area, coat, draft }) : measure(root, app, draft, [area, coat]);
  });
}

// --- choosing -------------------------------------------------------------------------------------------------------
async function choose(root, app, { area: areaId, coat: coatId, draft = null }) {
  const last = (await app.store.prefs.get(LAST)) || {};
  const of = kit.areaOf(app.pack, areaId) || kit.areaOf(app.pack, last.project === app.project.id ? last.area : "");
  const setup = draft?.values.setup;
  const form = {
    area: of,
    coat: coatId,
    gauge: setup?.gauge || last.gauge,
    way: setup?.profile_way || last.way || "adjusted",
    correction: setup?.correction ?? last.correction ?? "",
    profile: setup?.profile_record || "",
    draft,
    own: await kit.ownChecks(app),
  };
  const places = h("div", {});
  const rest = h("div", {});
  const drawRest = (faults = {}) => clear(rest).append(...chosen(app, form, faults, drawRest));
  const pick = (area) => {
    form.area = area;
    form.coat = "";
    drawPlaces();
    drawRest();
  };
  function drawPlaces() {
    clear(places).append(
      ...(form.area
        ? [
            h("p", {}, h("strong", {}, kit.areaName(form.area))),
            h(
              "p",
              {},
              button(
                "Another area",
                () => {
                  form.area = null;
                  drawPlaces();
                  clear(rest);
                },
                { class: "button button-quiet" },
              ),
            ),
          ]
        : placePicker(app, pick)),
    );
  }
  clear(root).append(...(draft ? [] : await begun(app)), places, rest);
  drawPlaces();
  if (form.area) drawRest();
}

async function begun(app) {
  const open = (await listDrafts(app)).filter(
    (row) => row.screen === "thickness" && row.project === app.project.id && row.values.setup,
  );
  return open.map((row) => {
    const area = kit.areaOf(app.pack, row.args[0]);
    const many = row.values.m?.readings.length || 0;
    return h(
      "p",
      { class: "card" },
      link(
        `Go on with ${area ? kit.areaName(area) : "an area"}, ${many} ${many === 1 ? "reading" : "readings"}`,
        `#/thickness/${row.args.join("/")}`,
      ),
    );
  });
}

function placePicker(app, pick) {
  const found = h("ul", { class: "plain-list" });
  const told = h("p", { class: "quiet", role: "status" });
  const typed = h("input", { type: "search", autocomplete: "off", oninput: () => list() });
  function list() {
    // Without a system there is no coat to measure.
    const hits = areasLike(app.pack, typed.value).filter((area) => area.system);
    const more = hits.length - MOST_FOUND;
    told.textContent = hits.length ? (more > 0 ? `And ${more} more: type on.` : "") : "No area has that in its name.";
    clear(found).append(
      ...hits.slice(0, MOST_FOUND).map((area) =>
        h(
          "li",
          {},
          button(kit.areaName(area), () => pick(area), { class: "button button-quiet thumb-wide" }),
        ),
      ),
    );
  }
  list();
  const byLabel = labelButton({
    pack: app.pack,
    of: "area",
    take: (id) => pick(kit.areaOf(app.pack, id)),
    for: "Area",
  });
  return [field("Area", typed, { help: "Type a part of its code or name." }), h("p", {}, byLabel), found, told];
}

function chosen(app, form, faults, draw) {
  const coats = kit.coatsOf(app.pack, form.area);
  const gauges = kit.gaugesOf(app.pack, "thickness");
  form.coat = coats.some((coat) => coat.id === form.coat) ? form.coat : kit.nextCoat(app.pack, form.area)?.id;
  form.gauge = gauges.some((gauge) => gauge.id === form.gauge) ? form.gauge : gauges[0]?.id;
  const select = (name, rows) =>
    h(
      "select",
      {
        onchange: (event) => {
          form[name] = event.target.value;
          draw();
        },
      },
      ...rows.map(([value, label]) => h("option", { value, selected: value === form[name] }, label)),
    );
  const gauge = gauges.find((one) => one.id === form.gauge);
  const profiles = form.way === "adjusted" ? [] : kit.profilesOf(app.pack, form.area, form.way);
  if (!profiles.some(([id]) => id === form.profile)) form.profile = "";
  const correction = h("input", {
    type: "text",
    inputmode: "decimal",
    value: form.correction,
    oninput: () => {
      form.correction = correction.value;
    },
  });
  return [
    field(
      "After coat",
      select(
        "coat",
        coats.map((coat) => [coat.id, coat.name]),
      ),
      { fault: faults.coat },
    ),
    field(
      "Gauge",
      select(
        "gauge",
        gauges.map((one) => [one.id, kit.gaugeName(one)]),
      ),
      { fault: faults.gauge },
    ),
    gauges.length > 1 &&
      h(
        "p",
        {},
        labelButton({
          pack: app.pack,
          of: "gauge",
          among: gauges.map((one) => one.id),
          take: (id) => {
            form.gauge = id;
            draw();
          },
          for: "Gauge",
        }),
      ),
    ...(gauge
      ? kit.gaugeTold(app.pack, gauge, now(), form.own).map((words) => h("p", { class: "thumb-doubt" }, words))
      : []),
    gauge &&
      kit.wantsCheck(app.pack, gauge, now(), form.own) &&
      h("p", {}, link(`Check ${gauge.identity}`, `#/check/${gauge.id}`, { class: "button button-quiet" })),
    field("Profile under the film", select("way", WAYS)),
    profiles.length > 0 && field("What is subtracted", select("profile", [["", "Typed below"], ...profiles])),
    form.way !== "adjusted" &&
      !form.profile &&
      field(`Subtracted, ${kit.unitLabel(app.pack)}`, correction, { fault: faults.correction }),
    button(form.draft ? "Go on with this" : "Begin", () => startWith(app, form, draw).catch(app.failed)),
  ].filter(Boolean);
}

async function startWith(app, form, draw) {
  const faults = {};
  let correction_nm = 0;
  if (!form.coat) faults.coat = "This area has no coat that is measured; choose another area.";
  if (!form.gauge) faults.gauge = "There is no thickness gauge in the pack; fetch the pack anew, or take one over.";
  if (form.profile) {
    correction_nm = kit.profileGives(app.pack, form.profile, form.way);
  } else if (form.way !== "adjusted") {
    try {
      correction_nm = toNm(form.correction, kit.unitOf(app.pack));
      if (!correction_nm) faults.correction = "Give what is subtracted for the profile: more than 0.";
    } catch (wrong) {
      faults.correction = wrong.message;
    }
  }
  if (Object.keys(faults).length) return draw(faults);
  const { gauge, way, correction, profile } = form;
  const draft = await openDraft(app, { screen: "thickness", args: [form.area.id, form.coat] });
  const before = form.draft || draft;
  const id = before.values.setup?.id || newId();
  // Begun for another area or coat: the readings move there, and the draft that they came from goes.
  if (before.id !== draft.id) {
    if (draft.values.setup) return draw({ coat: "This one is being measured already; end that measurement first." });
    Object.assign(draft.values, before.values);
  }
  await draft.set("setup", { id, gauge, profile_way: way, correction, correction_nm, profile_record: profile });
  if (before.id !== draft.id) await before.discard();
  await app.store.prefs.set(LAST, { project: app.project.id, area: form.area.id, gauge, way, correction });
  return app.go(`#/thickness/${form.area.id}/${form.coat}`);
}

// --- measuring ------------------------------------------------------------------------------------------------------
async function measure(root, app, draft, [areaId, coatId]) {
  const { setup } = draft.values;
  const own = await kit.ownChecks(app);
  const of = kit.measured(app.pack, { area: areaId, coat: coatId, ...setup }, own);
  if (!of) {
    clear(root).append(
      h(
        "p",
        {},
        "This area, coat or gauge is not in the pack that this phone " +
          "has now; the readings are kept. Fetch the pack of the project again.",
      ),
    );
    return undefined;
  }
  const switches = await readSwitches(app.store.prefs);
  let leave = () => {};
  const toSheet = () => {
    leave = drawSheet(root, {
      set: of.set,
      m: draft.values.m || measuring.begin(),
      switches,
      told: [...saidByOffice(draft), ...kit.gaugeTold(app.pack, of.gauge, now(), own)],
      head: `${kit.areaName(of.area)} · ${of.coat.name} · ${of.gauge.identity}`,
      at: () => now().toISOString(),
      keep: (m) => draft.set("m", m).catch((full) => app.say(full.message, "bad")),
      prefs: app.store.prefs,
      toEnd: () => {
        leave();
        leave = end(root, app, draft, of, () => {
          leave();
          toSheet();
        });
      },
    });
  };
  toSheet();
  return () => leave();
}

// --- the end --------------------------------------------------------------------------------------------------------
function end(root, app, draft, of, goOn) {
  const m = draft.values.m || measuring.begin();
  const { answer, figures, trouble } = soFar(m, of.set);
  const note = h("textarea", { rows: "3", maxlength: "3000", oninput: () => draft.set("note", note.value) });
  note.value = draft.values.note || "";
  const verdict = answer?.verdict || "";
  const checks = answer ? checksTold(answer) : [];
  const met = checks.filter((check) => check.passed === true);
  const wants = answer?.result.notes || [];
  const notes = wants.length > 0 && h("ul", {}, ...wants.map((words) => h("li", {}, words)));
  const due = kit.closingDue(app.pack, now());
  const shots = h("div", { class: "told-form" });
  const photos = drawPhotos(shots, app, draft);
  clear(root).append(
    h(
      "div",
      {},
      h("h2", { tabindex: "-1" }, `${kit.areaName(of.area)} after ${of.coat.name}`),
      answer && h("p", { class: `thumb-verdict thumb-${verdict.replace(" ", "-")}` }, VERDICTS[verdict]),
      h("p", {}, [figures, `${m.readings.length} readings`].filter(Boolean).join(" · ")),
      trouble && h("p", { class: "fault" }, trouble),
      saidByOffice(draft).map((words) => h("p", { class: "thumb-doubt" }, words)),
      h(
        "p",
        {},
        "This is what the phone works out. The record's verdict is made at the office; where both differ, both " +
          "are shown with why once it is sent.",
      ),
      // What is still to be measured comes before what follows from it.
      verdict === "incomplete" && notes,
      checksList(checks.filter((check) => check.passed !== true)),
      verdict !== "incomplete" && notes,
      h(
        "p",
        { class: "thumb-doubt" },
        `Check ${of.gauge.identity} again after the last reading, as found, ${due}: ` +
          "until then the record is provisional.",
      ),
      field("Note", note),
      shots,
      h(
        "div",
        { class: "thumb-actions" },
        button("Keep it, to be sent", () => keep(app, draft, of, { answer, photos }), { disabled: !m.readings.length }),
        button("Go on measuring", goOn, { class: "button button-quiet" }),
        link("Other gauge, profile, area or coat", `#/thickness/${of.area.id}/${of.coat.id}/${AGAIN}`, {
          class: "button button-quiet",
        }),
      ),
      met.length > 0 &&
        h("details", { class: "thumb-more" }, h("summary", {}, `What is met: ${met.length}`), checksList(met)),
      giveUp(app, draft),
    ),
  );
  root.querySelector("h2").focus();
  return photos.leave;
}

const checksList = (checks) =>
  h(
    "ul",
    { class: "thumb-checks" },
    checks.map((check) => h("li", {}, h("span", { "aria-hidden": "true" }, `${check.mark} `), check.words)),
  );

function giveUp(app, draft) {
  return h(
    "details",
    { class: "thumb-more" },
    h("summary", {}, "Begun by mistake"),
    h("p", {}, "Gives the measurement up: its readings are gone from this phone, and nothing is sent."),
    button(
      "Give it up",
      async () => {
        await draft.discard();
        app.go("#/thickness");
      },
      { class: "button button-danger" },
    ),
  );
}

async function keep(app, draft, of, { answer, photos }) {
  const { setup, m, note = "" } = draft.values;
  const told = answer && { verdict: answer.verdict, why: whyOf(answer) };
  const body = thicknessBody(app.project.id, of, { ...setup, id: idOf(draft) }, m, note);
  const { values } = draft;
  const place = kit.areaName(of.area);
  try {
    const shots = await photos.items({ of: "record", thing: body.id, place });
    await draft.toQueue([
      {
        id: body.id,
        address: "/api/thickness/",
        body,
        told,
        draft: { screen: "thickness", args: [of.area.id, of.coat.id], values },
        words: { title: `Thickness after ${of.coat.name}`, place },
      },
      ...shots,
    ]);
  } catch (full) {
    return app.say(full.message, "bad");
  }
  await kit.keepMeasured(app, of.gauge, body.last_reading_at);
  app.say("Kept. It is sent as soon as there is a signal.", "good");
  return app.go("#/");
}

/** The body of POST /api/thickness/. */
export function thicknessBody(project, of, setup, m, note) {
  return {
    id: setup.id,
    project,
    area: of.area.id,
    coat: of.coat.id,
    gauge: of.gauge.id,
    profile_way: setup.profile_way,
    ...subtracted(setup, of.set.unit),
    ...measuring.momentsOf(m),
    readings: measuring.readingsSent(m, of.set.unit),
    note: [note.trim(), measuring.slipsTold(m, of.set)].filter(Boolean).join("\n"),
  };
}

function subtracted({ profile_way, profile_record, correction_nm }, unit) {
  if (profile_way === "adjusted") return {};
  if (profile_record) return { profile_record };
  return unit === "mil" ? { correction_mil: correction_nm / 25_400 } : { correction_um: correction_nm / 1_000 };
}

export default { name: "thickness", title: "Thickness", show };
