/** What a check of a gauge is made with: purpose, surface, shims and stack, as this gauge was checked before. */

import { labelButton } from "./codes.js";
import { button, field, h } from "./dom.js";
import { newId, now } from "./ids.js";
import * as kit from "./kit.js";
import { covers, toNm } from "./rules/index.js";

export const PURPOSES = [
  ["opening", "Opening, before work"],
  ["closing", "Closing, after work"],
  ["suspicion", "On suspicion"],
];
const SURFACES = [
  ["smooth", "Smooth steel"],
  ["blasted", "The blasted surface"],
];
export const ADJUSTED = [
  ["none", "None, checked as found"],
  ["zero", "Zero"],
  ["one-point", "One-point"],
  ["two-point", "Two-point"],
];
const MOST_STACKED = 5;

/** The screen before the readings; what was chosen is kept in the draft and for the next check of this gauge. */
export async function setUp(root, app, gauge, draft) {
  const own = await kit.ownChecks(app);
  const form = await asBefore(app, gauge, own);
  const standards = kit.standardsFor(app.pack, gauge);
  const words = h("p", {});
  const wrong = h("p", { class: "fault", role: "alert", hidden: true });
  const beyond = h("p", { class: "thumb-doubt", hidden: true });
  const draw = (fault = "") => {
    words.textContent = asWords(app, form, standards);
    beyond.textContent = notCovered(app, form);
    beyond.hidden = !beyond.textContent;
    wrong.textContent = fault;
    wrong.hidden = !fault;
  };
  root.append(
    h("p", {}, h("strong", {}, kit.gaugeName(gauge))),
    ...kit.gaugeTold(app.pack, gauge, now(), own).map((told) => h("p", { class: "thumb-doubt" }, told)),
    words,
    beyond,
    wrong,
    button("Begin the readings", () => begin().catch(app.failed)),
    changed(app, form, standards, draw),
  );
  async function begin() {
    if (!pointsOf(app, form).length) return draw("Choose at least one shim, near the thickness you expect.");
    const lacking = gauge.site_check.wants.find((kind) => !hasKind(app, form, kind));
    if (lacking) return draw(`Among them must be a ${lacking === "zero" ? "zero plate" : lacking}.`);
    if (form.stack.length === 1) return draw("A stack is of two shims or more; tick a single one above.");
    if (form.stack.length > MOST_STACKED) return draw(`A stack is of at most ${MOST_STACKED} shims.`);
    if (!form.as_left && form.adjustment !== "none") return draw("As found means before any adjusting: choose one.");
    await app.store.prefs.set(`check-${gauge.id}`, form);
    await draft.set("setup", { id: newId(), ...form });
    return app.go(`#/check/${gauge.id}`);
  }
  draw();
}

/** As this gauge was checked last on this phone, else as the pack tells of its last check. */
async function asBefore(app, gauge, own) {
  const kept = await app.store.prefs.get(`check-${gauge.id}`);
  const usable = new Set(kit.standardsFor(app.pack, gauge).map((one) => one.id));
  const points = (gauge.last_check?.points || []).map((point) => point.standards);
  const before = kept?.standards || points.filter((ids) => ids.length === 1).flat();
  const stack = (kept?.stack || points.find((ids) => ids.length > 1) || []).filter((id) => usable.has(id));
  const check = kit.lastCheck(gauge, own);
  const isFirst = !check || Date.parse(check.taken_at) < kit.shiftOf(app.pack, now()).begins.getTime();
  const purpose = isFirst ? "opening" : "closing";
  return {
    standards: before.filter((id) => usable.has(id)),
    // Shims that lie on each other, from the bottom up, read as one point.
    stack: stack.length > 1 ? stack : [],
    each: kept?.each || gauge.site_check?.readings || 3,
    surface: kept?.surface || gauge.last_check?.surface || "smooth",
    adjustment: "none",
    purpose,
    // Closing shows how the gauge was while the readings were taken, so it is made as found.
    as_left: purpose === "opening" && !gauge.check_it_first,
    target: kept?.target || "",
  };
}

function asWords(app, form, standards) {
  const names = pointsOf(app, form).map((point) => point.name);
  const label = (choices, value) => choices.find(([code]) => code === value)[1];
  return [
    label(PURPOSES, form.purpose),
    label(SURFACES, form.surface),
    form.as_left ? "as left" : "as found",
    names.length ? `${names.join(" · ")}, ${form.each} readings each` : "no shims chosen",
  ].join(" · ");
}

function changed(app, form, standards, draw) {
  const asLeft = h("input", {
    type: "checkbox",
    checked: form.as_left,
    onchange: () => {
      form.as_left = asLeft.checked;
      draw();
    },
  });
  const select = (name, label, choices) =>
    field(
      label,
      h(
        "select",
        {
          onchange: (event) => {
            form[name] = event.target.value;
            if (name === "purpose") asLeft.checked = form.as_left = form.purpose === "opening";
            draw();
          },
        },
        choices.map(([value, words]) => h("option", { value, selected: form[name] === value }, words)),
      ),
    );
  const each = h("input", {
    type: "number",
    min: "1",
    max: "20",
    value: form.each,
    onchange: () => {
      form.each = Math.min(20, Math.max(1, Math.round(Number(each.value)) || 3));
      draw();
    },
  });
  // A stack is named from the bottom up, and the thickest lies at the bottom.
  const stacked = [...standards].sort((one, other) => other.certified_nm - one.certified_nm);
  const boxOf = (name, order) => (one) => {
    const box = h("input", {
      type: "checkbox",
      "data-id": one.id,
      checked: form[name].includes(one.id),
      onchange: () => {
        form[name] = order
          .map((other) => other.id)
          .filter((id) => (id === one.id ? box.checked : form[name].includes(id)));
        draw();
      },
    });
    const doubt = kit.paperDoubt(one, now());
    return h(
      "label",
      { class: "thumb-switch" },
      box,
      h(
        "span",
        {},
        kit.standardName(app.pack, one),
        h("small", {}, [!one.mine && "not in your hands", doubt].filter(Boolean).join(", ")),
      ),
    );
  };
  const target = h("input", {
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    value: form.target,
    oninput: () => {
      form.target = target.value;
      draw();
    },
  });
  const shims = h(
    "fieldset",
    {},
    h("legend", {}, "Shims, from the thinnest"),
    standards.map(boxOf("standards", standards)),
  );
  /** Ticks the shim of a label, as a tap on its box does. */
  const tick = (id) => {
    const box = shims.querySelector(`[data-id="${id}"]`);
    if (!box.checked) box.click();
    box.focus();
  };
  return h(
    "details",
    { class: "thumb-more", open: !form.standards.length },
    h("summary", {}, "Change it"),
    select("purpose", "Purpose", PURPOSES),
    select("surface", "On", SURFACES),
    select("adjustment", "Adjusted before", ADJUSTED),
    h(
      "label",
      { class: "thumb-switch" },
      asLeft,
      h("span", {}, "As left", h("small", {}, "Unticked: as found, before any adjusting.")),
    ),
    field(`Thickness you expect, ${kit.unitLabel(app.pack)}`, target, { help: "Of all layers down to the steel." }),
    shims,
    labelButton({ pack: app.pack, of: "standard", among: standards.map((one) => one.id), take: tick, for: "A shim" }),
    h(
      "details",
      { class: "thumb-more", open: form.stack.length > 0 },
      h("summary", {}, "A stack, read as one point"),
      h(
        "p",
        { class: "hint" },
        "Only when no single shim will do, as few as possible: air between them reads as thickness.",
      ),
      h("fieldset", {}, h("legend", {}, "From the bottom up"), stacked.map(boxOf("stack", stacked))),
    ),
    field("Readings on each", each),
  );
}

/** The points of a check: each shim by itself, then the stack; one that the pack lacks stands without standards. */
export function pointsOf(app, { standards: singles, stack = [] }) {
  return [...singles.map((id) => [id]), ...(stack.length > 1 ? [stack] : [])].map((ids) => {
    const found = ids.map((id) => kit.standardOf(app.pack, id));
    if (found.includes(null)) return { standards: [], name: "", certified_nm: 0, shims: [] };
    const certified_nm = found.reduce((sum, one) => sum + one.certified_nm, 0);
    const names = found.map((one) => one.identity).join(" + ");
    return {
      standards: ids,
      name: kit.standardName(app.pack, { identity: names, certified_nm }),
      certified_nm,
      shims: found,
    };
  });
}

function hasKind(app, form, kind) {
  return pointsOf(app, form).some((point) => point.shims.some((one) => one.kind === kind));
}

/** That the thickness expected lies outside what a check on these shims would cover; else nothing. */
function notCovered(app, form) {
  const certified = pointsOf(app, form).map((point) => point.certified_nm);
  let nm = 0;
  try {
    nm = toNm(form.target, kit.unitOf(app.pack));
  } catch {
    return form.target.trim() ? "The thickness you expect is no number." : "";
  }
  if (!certified.length || covers(Math.min(...certified), Math.max(...certified), nm)) return "";
  return "The thickness you expect lies outside these shims: readings there would be in question. Add a shim near it.";
}
