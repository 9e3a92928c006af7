/** The screen of a measurement under way: one spot whole, the last figure large, the pad under the thumb. */

import { button, clear, field, h } from "./dom.js";
import { drawSwitches, keepAwake, pauses, sign } from "./hand.js";
import { leadOf } from "./leading.js";
import * as measuring from "./measuring.js";
import { drawPad, drawTens, listen } from "./pad.js";
import { areaOfSpot, inUnit, spotsOf } from "./rules/index.js";
import { soFar } from "./thickness_told.js";

const MARKS = { low: "▼", high: "▲", within: "✓" };
const BEYOND = "beyond the check";

/**
 * Draws the sheet into `root`.
 * @param {HTMLElement} root
 * @param {{set: object, m: object, head: string, told: string[], switches: object, prefs: object,
 *   at: () => string, keep: (m: object) => void, toEnd: () => void}} sheet
 * @returns {() => void} what ends it
 */
export function drawSheet(root, sheet) {
  const { set } = sheet;
  let { m } = sheet;
  const parts = {
    last: h("p", { class: "thumb-last" }),
    typing: h("div", { class: "thumb-typing" }),
    lead: h("div", { class: "thumb-lead" }),
    spot: h("div", { class: "thumb-spot" }),
    running: h("p", { class: "thumb-running" }),
    said: h("p", { class: "visually-hidden", "aria-live": "polite" }),
    watch: h("div", { class: "thumb-watch" }),
    readings: h("div", { class: "thumb-readings" }),
  };
  const tens = measuring.tensOf(set);
  const pads = [drawPad(press), ...(tens.length ? [drawTens(press, tens)] : [])];
  const hand = h(
    "div",
    {},
    pads.map((pad) => pad.element),
  );
  const waiting = pauses(sheet.switches, () => press("pause", "pause"));
  let fault = "";
  let mood = "";
  let meant = null;

  function press(key, by) {
    const answer = measuring.step(m, key, set, sheet.at(), by);
    waiting.after(by);
    if (key === "pause" && answer.did === "typed") return hint();
    if (answer.did === "nothing") return;
    fault = answer.fault || "";
    mood = answer.did;
    meant = answer.meant ?? null;
    if (answer.did === "doubted") sign(sheet.switches, false);
    if (answer.did === "landed") sign(sheet.switches, measuring.against(answer.reading.value_nm, set) === "within");
    if (answer.did === "refused") sign(sheet.switches, false);
    change(answer.m);
    if (answer.did === "landed") parts.said.textContent = spoken(answer.reading);
    if (answer.did === "undone")
      parts.said.textContent = `Taken back: ${measuring.shown(answer.reading.value_nm, set)}.`;
  }

  /** What is typed did not land by itself: it says why, so that nobody types on into it. */
  function hint() {
    if (!m.pad.text || fault) return;
    parts.running.textContent = `${m.pad.text} waits for Enter. ${wantedWords(m, set)}`;
  }

  function change(next) {
    m = next;
    sheet.keep(m);
    draw();
  }

  function spoken(reading) {
    const { words, isUsual } = measuring.toldOf(reading.value_nm, set);
    const beyond = measuring.isVerified(reading.value_nm, set) ? "" : `, ${BEYOND}`;
    const value = `${measuring.shown(reading.value_nm, set)}${isUsual ? "" : `, ${words}`}${beyond}`;
    return `${value}. Spot ${measuring.spotNow(m, set)}. ${wantedWords(m, set)}`;
  }

  function draw() {
    drawLast(parts, m, set, fault);
    drawSpot(parts.spot, m, set, (spot) => change(measuring.atSpot(m, spot)));
    drawWatch(parts.watch, m, set, sheet.told);
    const perhaps = mood === "landed" ? measuring.meantPerhaps(m, set) : mood === "doubted" ? meant : null;
    drawQuestion(parts.typing, m, set, perhaps, (nm) => {
      mood = "righted";
      change(measuring.putRight(m, nm, sheet.at()));
    });
    const tensShown = sheet.switches.tens && tens.length > 0;
    const offered = perhaps === null && sheet.switches.by_itself && !tensShown;
    drawLead(parts.lead, m, offered ? leadOf(m.readings, set) : "", () => press("lead", "lead"));
    parts.running.className = fault ? "thumb-running thumb-fault" : "thumb-running";
    parts.running.textContent = fault || running(m, set);
    const last = m.readings[m.readings.length - 1];
    const back = last && !last.void_reason ? `Take back ${measuring.figure(last.value_nm, set)}` : "Take back";
    for (const pad of pads) pad.undo(m.pad.text ? "Clear" : back);
    hand.className = sheet.switches.tens && tens.length ? "thumb-hand with-tens" : "thumb-hand";
    if (readings.open) drawReadings(parts.readings, m, set, voidOne);
  }

  function voidOne(at, why) {
    change(measuring.voided(m, at, why));
    parts.readings.querySelectorAll("summary")[m.readings.length - 1 - at].focus();
  }

  const readings = h(
    "details",
    { class: "thumb-more", ontoggle: () => draw() },
    h("summary", {}, "Readings, and voiding one"),
    parts.readings,
  );
  clear(root).append(
    h(
      "div",
      { class: "thumb" },
      h(
        "div",
        { class: "thumb-told" },
        h("p", { class: "thumb-head" }, sheet.head),
        parts.spot,
        h("div", { class: "thumb-figure" }, parts.last, parts.typing, parts.lead),
        parts.running,
        parts.said,
      ),
      hand,
      h(
        "div",
        { class: "thumb-rest" },
        parts.watch,
        button("End the measurement", sheet.toEnd, { class: "button thumb-end" }),
        readings,
        drawSwitches(sheet.switches, sheet.prefs, () => draw()),
      ),
    ),
  );
  draw();
  const ends = [keepAwake(), listen(press, () => Boolean(m.pad.text)), waiting.end];
  return () => ends.forEach((end) => end());
}

function drawLast(parts, m, set, fault) {
  const last = m.readings[m.readings.length - 1];
  const film = last ? measuring.against(last.value_nm, set) : "";
  parts.last.className = `thumb-last ${last ? `thumb-${film}` : ""}`;
  const beyond = last && !measuring.isVerified(last.value_nm, set);
  clear(parts.last).append(
    ...(last
      ? [
          h(
            "span",
            { class: "thumb-number" },
            measuring.figure(last.value_nm, set),
            h("small", {}, ` ${measuring.LABELS[set.unit]}`),
          ),
          h(
            "span",
            { class: "thumb-mark" },
            last.void_reason ? "voided" : `${MARKS[film]} ${measuring.toldOf(last.value_nm, set).words}`,
          ),
          beyond && h("span", { class: "thumb-mark thumb-beyond" }, `⚠ ${BEYOND}`),
        ].filter(Boolean)
      : [h("span", { class: "thumb-mark" }, "No reading yet: type the first, then Enter.")]),
  );
  const half = m.pad.led && m.pad.text.length < 3 ? "·" : "";
  // Also where nothing is typed yet, once the first digits were taken away for this figure.
  parts.typing.textContent = m.pad.text || m.pad.whole ? `${m.pad.text}${half}▏` : "";
  if (fault) parts.said.textContent = fault;
}

function drawSpot(root, m, set, choose) {
  const now = measuring.spotNow(m, set);
  const spots = spotsOf(m.readings);
  const here = m.readings.filter((one) => one.spot === now);
  const wanting = measuring.wantingOf(m, now, set);
  const cells = here.map((one) =>
    h(
      "li",
      { class: one.void_reason ? "void" : `thumb-${measuring.against(one.value_nm, set)}` },
      measuring.figure(one.value_nm, set),
    ),
  );
  for (let left = wanting; left > 0; left -= 1) cells.push(h("li", { class: "thumb-open" }, "·"));
  const of = set.wanted.spots ? ` of ${Math.max(set.wanted.spots, spots.length, now)}` : "";
  const area = set.wanted.areas > 1 || now > set.wanted.spots ? `, area ${areaOfSpot(now)}` : "";
  const part = set.wanted.areas ? area : "";
  clear(root).append(
    button("‹", () => choose(now - 1), { class: "thumb-step", "aria-label": "The spot before", disabled: now <= 1 }),
    h("div", { class: "thumb-cells" }, h("p", {}, `Spot ${now}${of}${part}`), h("ol", {}, ...cells)),
    button("›", () => choose(now + 1), { class: "thumb-step", "aria-label": "The next spot" }),
  );
}

function drawWatch(root, m, set, told) {
  const beyond = measuring.beyondVerified(m, set);
  const { trouble } = soFar(m, set);
  const sentences = trouble ? [...told, trouble] : [...told];
  if (beyond.length) {
    const last = beyond[beyond.length - 1];
    const { from_nm: from, to_nm: to } = set.verified;
    sentences.push(
      `${measuring.shown(last.value_nm, set)} lies far outside the ` +
        `${inUnit(from, set.unit)} to ${measuring.shown(to, set)} that the check covered: the record will be in ` +
        "question. Check the gauge on a shim near that thickness.",
    );
  }
  const words = sentences.join("\n");
  if (root.dataset.words === words) return;
  root.dataset.words = words;
  clear(root).append(...sentences.map((sentence) => h("p", { class: "thumb-doubt" }, sentence)));
}

/** The question stands where figures are typed, so that the pad stays where the thumb knows it. */
function drawQuestion(root, m, set, meant, right) {
  const last = m.readings[m.readings.length - 1];
  if (meant === null) return;
  root.append(
    h("p", { role: "status" }, `${measuring.figure(last.value_nm, set)}: did you mean`),
    button(`${measuring.figure(meant, set)}?`, () => right(meant), { class: "button thumb-right" }),
  );
}

/** Offers to go on with the first digits of the last reading, and shows that it is so. */
function drawLead(root, m, lead, press) {
  const words = lead && `${lead}··`;
  const pressed = String(Boolean(m.led));
  const old = root.querySelector("button");
  // Left as it is while nothing about it changes: it may have the focus, or be under a thumb.
  if ((old?.textContent || "") === words && (!words || old.getAttribute("aria-pressed") === pressed)) return;
  const had = old && old === document.activeElement;
  clear(root);
  if (!words) return;
  const name = `Go on with ${lead}00 and two digits`;
  const key = button(words, press, { class: "button button-quiet", "aria-pressed": pressed, "aria-label": name });
  root.append(key);
  if (had) key.focus();
}

const meanOf = (values) => Math.round(values.reduce((sum, nm) => sum + nm, 0) / values.length);

function drawReadings(root, m, set, change) {
  const rows = m.readings.map((one, at) => {
    const doVoid = () => (why.value.trim() ? change(at, why.value) : why.focus());
    const why = h("input", {
      type: "text",
      maxlength: "200",
      autocomplete: "off",
      onkeydown: (event) => event.key === "Enter" && doVoid(),
    });
    const act = one.void_reason ? button("Let it count again", () => change(at, "")) : button("Void", doVoid);
    return h(
      "details",
      { class: "thumb-reading" },
      h(
        "summary",
        {},
        `Spot ${one.spot}, reading ${one.order}: ${measuring.shown(one.value_nm, set)}`,
        one.void_reason && ` – voided: ${one.void_reason}`,
      ),
      !one.void_reason &&
        field("Why it does not count", why, {
          help: "A slip of the last key is taken back. A voided reading stays in the record and wants a repeat.",
        }),
      act,
    );
  });
  clear(root).append(...(rows.length ? rows.reverse() : [h("p", {}, "None yet.")]));
}

function running(m, set) {
  const now = measuring.spotNow(m, set);
  const here = spotsOf(m.readings).find((spot) => spot.number === now)?.shown_nm || [];
  const mean = set.wanted.areas && here.length ? `Spot mean ${measuring.figure(meanOf(here), set)} · ` : "";
  const { figures } = soFar(m, set);
  return `${mean}${figures}${figures && " · "}${wantedWords(m, set)}`;
}

function wantedWords(m, set) {
  const wanted = measuring.wantedStill(m, set);
  if (!wanted) return "Nothing more is wanted.";
  if (m.readings.length) return `${wanted} more wanted.`;
  return `${wanted} ${wanted === 1 ? "reading" : "readings"} wanted.`;
}
