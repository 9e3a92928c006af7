/** The guided check of an instrument that reads no thickness: how it is done, on what, one figure after another. */

import { ADJUSTED, PURPOSES } from "./check_setup.js";
import { labelButton } from "./codes.js";
import * as comparing from "./comparing.js";
import { button, clear, field, h } from "./dom.js";
import { idOf, keepAwake, saidByOffice } from "./hand.js";
import { newId, now } from "./ids.js";
import * as kit from "./kit.js";
import { drawPad, listen } from "./pad.js";
import { drawPhotos } from "./photos.js";

const MOST_EACH = 20;
const VERDICTS = { pass: "Within the tolerance at every point", fail: "Outside the tolerance" };
const labelOf = (choices, value) => choices.find(([code]) => code === value)[1];

/** Shows the check that the draft holds: what it is made with, or its figures. */
export function compare(root, app, gauge, draft) {
  if (gauge.site_check.by_reference_read === undefined) {
    return void root.append(h("p", { class: "notice" }, "The pack on this phone is from before. Fetch it again."));
  }
  return draft.values.setup ? read(root, app, gauge, draft) : setUp(root, app, gauge, draft);
}

function careTold({ handling, caution }) {
  return [
    caution && h("p", { class: "notice notice-warning" }, caution),
    handling.length > 0 &&
      h(
        "ul",
        { class: "small" },
        handling.map((words) => h("li", {}, words)),
      ),
  ].filter(Boolean);
}

// --- what it is made with -------------------------------------------------------------------------------------------
async function setUp(root, app, gauge, draft) {
  const { site_check: asked } = gauge;
  const own = await kit.ownChecks(app);
  const standards = kit.referencesFor(app.pack, gauge);
  const form = await asBefore(app, gauge, own, standards);
  const wrong = h("p", { class: "fault", role: "alert", hidden: true });
  root.append(
    h("p", {}, h("strong", {}, kit.gaugeName(gauge))),
    ...kit.gaugeTold(app.pack, gauge, now(), own).map((told) => h("p", { class: "thumb-doubt" }, told)),
    ...careTold(asked),
  );
  if (asked.lacking) {
    return void root.append(h("p", { class: "notice notice-error" }, `${gauge.identity}: ${asked.lacking}.`));
  }
  if (!standards.length) {
    const wanted = asked.by_reference_read ? "reference instrument" : "standard solution";
    return void root.append(h("p", { class: "notice" }, `The pack knows of no ${wanted}. Fetch it again.`));
  }
  const choose = (name, label, choices, then = () => {}) =>
    field(
      label,
      h(
        "select",
        {
          onchange: (event) => {
            form[name] = event.target.value;
            then();
          },
        },
        choices.map(([value, words]) => h("option", { value, selected: form[name] === value }, words)),
      ),
    );
  const asLeft = h("input", {
    type: "checkbox",
    checked: form.as_left,
    onchange: () => (form.as_left = asLeft.checked),
  });
  const each = h("input", {
    type: "number",
    min: "1",
    max: String(MOST_EACH),
    value: form.each,
    onchange: () => (each.value = form.each = Math.min(MOST_EACH, Math.max(1, Math.round(Number(each.value)) || 1))),
  });
  const boxes = onWhat(app, gauge, form, standards);
  const byLabel = labelButton({
    pack: app.pack,
    of: "standard",
    among: standards.map((one) => one.id),
    take: (id) => {
      const box = boxes.querySelector(`[data-id="${id}"]`);
      if (!box.checked) box.click();
      box.focus();
    },
    for: "The reference",
  });
  root.append(
    h("p", {}, `Held to ${toleranceTold(asked)} of the reference.`),
    boxes,
    h("p", {}, byLabel),
    choose("purpose", "Purpose", PURPOSES, () => (asLeft.checked = form.as_left = usuallyLeft(gauge, form))),
    choose("adjustment", "Adjusted before", ADJUSTED),
    h(
      "label",
      { class: "thumb-switch" },
      asLeft,
      h("span", {}, "As left", h("small", {}, "Unticked: as found, before any adjusting.")),
    ),
    field("Readings at each point", each),
    wrong,
    h("p", {}, button("Begin the readings", () => begin().catch(app.failed))),
  );
  async function begin() {
    const said = faultOf(form, asked);
    wrong.textContent = said;
    wrong.hidden = !said;
    if (said) return undefined;
    await app.store.prefs.set(`check-${gauge.id}`, form);
    await draft.set("setup", { id: newId(), ...form });
    return app.go(`#/check/${gauge.id}`);
  }
  return undefined;
}

/** Solutions are several points; beside another instrument there is one such. */
function onWhat(app, gauge, form, standards) {
  const one = gauge.site_check.by_reference_read;
  const boxOf = (standard) => {
    const box = h("input", {
      type: one ? "radio" : "checkbox",
      name: one ? "reference" : null,
      "data-id": standard.id,
      checked: form.standards.includes(standard.id),
      onchange: () => {
        const others = one ? [] : form.standards.filter((id) => id !== standard.id);
        form.standards = box.checked ? [...others, standard.id] : others;
      },
    });
    const doubts = [!standard.mine && "not in your hands", kit.paperDoubt(standard, now())].filter(Boolean);
    return h(
      "label",
      { class: "thumb-switch" },
      box,
      h("span", {}, nameOf(standard, gauge), h("small", {}, doubts.join(", "))),
    );
  };
  const legend = one ? "Beside which instrument" : "On which solutions";
  return h("fieldset", {}, h("legend", {}, legend), standards.map(boxOf));
}

const nameOf = (standard, gauge) =>
  standard.certified === null || standard.certified === undefined
    ? standard.identity
    : `${standard.identity}, ${Number(standard.certified)} ${gauge.site_check.unit}`;

function toleranceTold({ tolerance_pct, tolerance, unit }) {
  const parts = [];
  if (Number(tolerance_pct)) parts.push(`± ${Number(tolerance_pct)} %`);
  if (Number(tolerance)) parts.push(`± ${Number(tolerance)} ${unit}`);
  return parts.join(" and ");
}

function faultOf(form, { by_reference_read: one }) {
  if (!form.standards.length) return one ? "Choose the reference instrument." : "Choose at least one solution.";
  if (form.standards.length > comparing.MOST_POINTS) return `Choose at most ${comparing.MOST_POINTS} solutions.`;
  if (!form.as_left && form.adjustment !== "none") return "As found means before any adjusting: choose one.";
  return "";
}

const usuallyLeft = (gauge, { purpose }) => purpose === "opening" && !gauge.check_it_first;

async function asBefore(app, gauge, own, standards) {
  const kept = await app.store.prefs.get(`check-${gauge.id}`);
  const usable = standards.map((one) => one.id);
  const last = (gauge.last_check?.points || []).flatMap((point) => point.standards);
  const before = [...new Set(kept?.standards || last)].filter((id) => usable.includes(id));
  const check = kit.lastCheck(gauge, own);
  const isFirst = !check || Date.parse(check.taken_at) < kit.shiftOf(app.pack, now()).begins.getTime();
  const form = {
    standards: before.length || usable.length !== 1 ? before : usable,
    each: kept?.each || gauge.site_check.readings,
    purpose: isFirst ? "opening" : "closing",
    adjustment: "none",
  };
  return { ...form, as_left: usuallyLeft(gauge, form) };
}

// --- the figures ----------------------------------------------------------------------------------------------------
function setOf(app, gauge, setup) {
  const { unit, by_reference_read: byReference, tolerance_pct, tolerance } = gauge.site_check;
  const found = setup.standards.map((id) => kit.standardOf(app.pack, id));
  if (found.includes(null)) return null;
  const standards = found.map((one) => ({ id: one.id, name: one.identity, certified: one.certified }));
  return { unit, each: Number(setup.each), byReference, held: { tolerance_pct, tolerance }, standards };
}

function read(root, app, gauge, draft) {
  const { setup } = draft.values;
  const set = setOf(app, gauge, setup);
  if (!set) {
    const gone = "What it is checked on is not in the pack that this phone has now; the readings are kept. ";
    return void root.append(h("p", {}, gone, "Fetch the pack again."));
  }
  let c = draft.values.c || comparing.begin(set);
  let fault = "";
  let asks = false;
  const parts = {
    list: h("ol", { class: "thumb-points" }),
    wanted: h("p", { class: "thumb-running" }),
    typing: h("p", { class: "thumb-typing", "aria-hidden": "true" }),
    question: h("div", { class: "thumb-question" }),
    said: h("p", { class: "visually-hidden", "aria-live": "polite" }),
    rest: h("div"),
  };
  const note = h("textarea", {
    rows: "2",
    maxlength: "1000",
    value: draft.values.note || "",
    oninput: () => draft.set("note", note.value).catch((full) => app.say(full.message, "bad")),
  });
  const shots = h("div", { class: "told-form" });
  const photos = drawPhotos(shots, app, draft);
  const pad = drawPad(press, { signed: true });
  function press(key) {
    const answer = comparing.step(c, key, set);
    if (answer.did === "nothing") return;
    fault = answer.fault || "";
    asks = answer.did === "landed";
    if (asks) answer.c.at = now().toISOString();
    change(answer.c);
    if (asks) parts.said.textContent = `${answer.text} ${set.unit}. ${wantedWords(c, set, gauge)}`;
    if (answer.did === "undone") parts.said.textContent = `Taken back: ${answer.text}.`;
  }
  function change(next) {
    c = next;
    draft.set("c", c).catch((full) => app.say(full.message, "bad"));
    draw();
  }
  function draw() {
    clear(parts.list).append(...pointsDrawn(c, set));
    parts.wanted.textContent = wantedWords(c, set, gauge);
    parts.typing.textContent = fault || (c.pad.text ? `${c.pad.text}▏` : "");
    parts.typing.className = `thumb-typing ${fault ? "thumb-fault" : ""}`;
    if (fault) parts.said.textContent = fault;
    drawMeant();
    const last = comparing.lastOf(c);
    pad.undo(c.pad.text ? "Clear" : last ? `Take back ${last}` : "Take back");
    clear(parts.rest).append(h("div", { class: "thumb-rest" }, rest(app, gauge, draft, { set, c, change, photos })));
  }
  function drawMeant() {
    const meant = asks ? comparing.meantPerhaps(c, set) : "";
    clear(parts.question);
    if (!meant) return;
    const right = () => {
      asks = false;
      change(comparing.putRight(c, meant));
    };
    parts.question.append(
      h("p", { role: "status" }, `${comparing.lastOf(c)}: did you mean`),
      button(`${meant}?`, right, { class: "button thumb-right" }),
    );
  }
  clear(root).append(
    h(
      "div",
      { class: "thumb" },
      h(
        "div",
        { class: "thumb-told" },
        h("p", { class: "thumb-head" }, `${gauge.identity} · ${labelOf(PURPOSES, setup.purpose)} · ${set.unit}`),
        parts.list,
        parts.wanted,
        h("div", { class: "thumb-entry" }, parts.question, parts.typing),
        parts.said,
      ),
      h("div", { class: "thumb-hand" }, pad.element),
      h("div", { class: "thumb-rest" }, parts.rest, ...careTold(gauge.site_check), field("Note", note), shots),
    ),
  );
  draw();
  const ends = [keepAwake(), listen(press, () => Boolean(c.pad.text)), photos.leave];
  return () => ends.forEach((end) => end());
}

function pointsDrawn(c, set) {
  const next = comparing.nextOf(c, set);
  return c.points.map((point, at) => {
    const open = Array(Math.max(0, set.each - point.readings.length)).fill("·");
    return h(
      "li",
      next?.at === at ? { "aria-current": "step" } : {},
      h("span", {}, comparing.nameOf(point, set)),
      h("span", { class: "thumb-read" }, [...point.readings, ...open].join("  ")),
    );
  });
}

function wantedWords(c, set, gauge) {
  const next = comparing.nextOf(c, set);
  if (!next) return "Nothing more is wanted.";
  const { name } = set.standards.find(({ id }) => id === c.points[next.at].standard);
  if (next.what === "reference") return `What does ${name} show? Type it, then Enter.`;
  return `What does ${gauge.identity} read, or was it set to? Type it, then Enter.`;
}

function rest(app, gauge, draft, { set, c, change, photos }) {
  const answer = comparing.judged(c, set);
  const done = comparing.nextOf(c, set) === null;
  const more = set.byReference && done && c.points.length < comparing.MOST_POINTS;
  return [
    saidByOffice(draft).map((words) => h("p", { class: "thumb-doubt" }, words)),
    done && answer?.verdict && h("p", { class: `thumb-verdict thumb-${answer.verdict}` }, VERDICTS[answer.verdict]),
    answer &&
      h(
        "ul",
        { class: "thumb-checks" },
        answer.lines.map((words) => h("li", {}, words)),
      ),
    done && h("p", { class: "quiet small" }, "The verdict of record is made at the office."),
    button(
      done ? "Keep the check, to be sent" : "Keep it as it is",
      () => keep(app, gauge, draft, { set, c, answer, photos }).catch(app.failed),
      { class: done ? "button" : "button button-quiet", disabled: !answer },
    ),
    more && button("Another point", () => change(comparing.another(c, set)), { class: "button button-quiet" }),
    h(
      "details",
      { class: "thumb-more" },
      h("summary", {}, "Begun by mistake"),
      button(
        "Give the check up",
        async () => {
          await draft.discard();
          app.go("#/check");
        },
        { class: "button button-danger" },
      ),
    ),
  ];
}

async function keep(app, gauge, draft, { set, c, answer, photos }) {
  const { purpose, adjustment, as_left } = draft.values.setup;
  const body = {
    id: idOf(draft),
    gauge: gauge.id,
    project: app.project.id,
    purpose,
    adjustment,
    as_left,
    taken_at: c.at,
    points: comparing.pointsSent(c, set),
    note: (draft.values.note || "").trim(),
  };
  const kept = { verdict: answer.verdict, verified_from_nm: null, verified_to_nm: null };
  const place = labelOf(PURPOSES, purpose);
  await kit.keepCheck(app, gauge, draft, { body, place, answer: { ...answer, kept }, photos });
}
