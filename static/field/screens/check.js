/** The guided check of a gauge: shim by shim, so many readings on each, with what was used this morning filled in. */

import { button, clear, h, link } from "../dom.js";
import { openDraft } from "../drafts.js";
import { alone, drawSwitches, idOf, keepAwake, noPack, pauses, readSwitches, saidByOffice, sign } from "../hand.js";
import { now } from "../ids.js";
import { PURPOSES, pointsOf, setUp } from "../check_setup.js";
import { judgeCheck } from "../check_told.js";
import { labelButton } from "../codes.js";
import { compare } from "../compare.js";
import * as checking from "../checking.js";
import * as kit from "../kit.js";
import { figure, shown } from "../measuring.js";
import { drawPad, listen } from "../pad.js";
import { drawPhotos } from "../photos.js";

// The trade's care with shims (common practice, no source), as the page for it has it.
const CARE =
  "Lay the shim on clean, bare steel. Measure in its middle, the probe square and steady, lifted clear each time.";
// Those that are checked before and after work first.
const KINDS = {
  thickness: "Coating thickness gauge",
  profile: "Surface profile gauge",
  salts: "Conductivity meter",
  holiday: "Holiday detector",
  adhesion: "Adhesion tester",
  climate: "Climate meter",
};
const VERDICTS = { pass: "Within the tolerance on every shim", fail: "Outside the tolerance" };

async function show(root, app, [gaugeId]) {
  if (!app.pack) return void root.append(noPack());
  const gauge = kit.gaugeOf(app.pack, gaugeId);
  if (!gauge) return choose(root, app);
  return alone(root, app, `check-${gauge.id}`, async () => {
    const draft = await openDraft(app, { screen: "check", args: [gauge.id] });
    if (gauge.site_check?.unit) return compare(root, app, gauge, draft);
    return draft.values.setup ? read(root, app, gauge, draft) : setUp(root, app, gauge, draft);
  });
}

async function choose(root, app) {
  const own = await kit.ownChecks(app);
  const all = Object.keys(KINDS).flatMap((kind) => kit.gaugesOf(app.pack, kind));
  const gauges = all.filter((gauge) => gauge.site_check);
  if (gauges.length === 1) return app.go(`#/check/${gauges[0].id}`);
  root.append(
    h("p", {}, "Which instrument?"),
    h(
      "p",
      {},
      labelButton({
        pack: app.pack,
        of: "gauge",
        among: gauges.map((gauge) => gauge.id),
        take: (id) => app.go(`#/check/${id}`),
      }),
    ),
    h(
      "ul",
      { class: "plain-list" },
      gauges.map((gauge) => {
        const check = kit.lastCheck(gauge, own);
        const at = check && new Date(check.taken_at);
        return h(
          "li",
          {},
          link(kit.gaugeName(gauge), `#/check/${gauge.id}`, { class: "button button-quiet thumb-wide" }),
          h(
            "p",
            { class: "quiet" },
            `${KINDS[gauge.kind]}. `,
            at ? `Last checked ${kit.clock(app.pack, at, now())}: ${check.verdict}` : "No check known here",
          ),
        );
      }),
    ),
  );
  if (!gauges.length) root.append(h("p", {}, "The pack has no instrument that is checked on site. Fetch it again."));
  return undefined;
}

// --- reading --------------------------------------------------------------------------------------------------------
async function read(root, app, gauge, draft) {
  const { setup } = draft.values;
  const set = setOf(app, setup);
  const switches = await readSwitches(app.store.prefs);
  if (set.points.some((point) => !point.standards.length)) {
    root.append(
      h(
        "p",
        {},
        "A shim of this check is not in the pack that this phone has now; the readings are kept. Fetch the pack again.",
      ),
    );
    return undefined;
  }
  let c = draft.values.c || checking.begin(set.points);
  let fault = "";
  let asks = false;
  const parts = {
    list: h("ol", { class: "thumb-points" }),
    typing: h("p", { class: "thumb-typing", "aria-hidden": "true" }),
    question: h("div", { class: "thumb-question" }),
    said: h("p", { class: "visually-hidden", "aria-live": "polite" }),
    rest: h("div"),
  };
  const shots = h("div", { class: "told-form" });
  const photos = drawPhotos(shots, app, draft);
  const pad = drawPad(press, { signed: true });
  const waiting = pauses(switches, () => press("pause", "pause"));

  function press(key, by) {
    const answer = checking.step(c, key, set);
    waiting.after(by);
    if (answer.did === "nothing" || (key === "pause" && answer.did === "typed")) return;
    fault = answer.fault || "";
    asks = answer.did === "landed";
    if (asks) answer.c.at = now().toISOString();
    if (answer.did === "landed") sign(switches, checking.meantPerhaps(answer.c, set) === null);
    change(answer.c);
    if (answer.did === "landed")
      parts.said.textContent = `${told(answer.nm, set)} on ${set.points[answer.point].name}.`;
    if (answer.did === "undone") parts.said.textContent = `Taken back: ${told(answer.nm, set)}.`;
  }
  function change(next) {
    c = next;
    draft.set("c", c).catch((full) => app.say(full.message, "bad"));
    draw();
  }
  function draw() {
    const at = checking.pointNow(c, set);
    clear(parts.list).append(
      ...set.points.map((point, place) =>
        h(
          "li",
          place === at ? { "aria-current": "step" } : {},
          h("span", {}, point.name),
          h(
            "span",
            { class: "thumb-read" },
            [
              ...checking.toldOf(c, set, place),
              ...Array(Math.max(0, set.each - c.readings[place].length)).fill("·"),
            ].join("  "),
          ),
        ),
      ),
    );
    parts.typing.textContent = fault || (c.pad.text ? `${c.pad.text}▏` : "");
    parts.typing.className = `thumb-typing ${fault ? "thumb-fault" : ""}`;
    if (fault) parts.said.textContent = fault;
    drawMeant();
    const last = checking.lastOf(c);
    pad.undo(c.pad.text ? "Clear" : last === null ? "Take back" : `Take back ${plain(last, set)}`);
    clear(parts.rest).append(h("div", { class: "thumb-rest" }, rest(app, gauge, draft, { set, c, at, photos })));
  }
  function drawMeant() {
    const meant = asks ? checking.meantPerhaps(c, set) : null;
    clear(parts.question);
    if (meant === null) return;
    parts.question.append(
      h("p", { role: "status" }, `${plain(checking.lastOf(c), set)}: did you mean`),
      button(
        `${plain(meant, set)}?`,
        () => {
          asks = false;
          change(checking.putRight(c, meant));
        },
        { class: "button thumb-right" },
      ),
    );
  }
  clear(root).append(
    h(
      "div",
      { class: "thumb" },
      h(
        "div",
        { class: "thumb-told" },
        h(
          "p",
          { class: "thumb-head" },
          `${gauge.identity} · ${PURPOSES.find(([code]) => code === setup.purpose)[1]}`,
        ),
        parts.list,
        h("div", { class: "thumb-entry" }, parts.question, parts.typing),
        parts.said,
      ),
      h("div", { class: "thumb-hand" }, pad.element),
      h(
        "div",
        { class: "thumb-rest" },
        parts.rest,
        shots,
        drawSwitches(switches, app.store.prefs),
        h("p", { class: "quiet small" }, CARE),
      ),
    ),
  );
  draw();
  const ends = [keepAwake(), listen(press, () => Boolean(c.pad.text)), waiting.end, photos.leave];
  return () => ends.forEach((end) => end());
}

const plain = (nm, set) => (nm < 0 ? `−${figure(-nm, set)}` : figure(nm, set));
const told = (nm, set) => (nm < 0 ? `−${shown(-nm, set)}` : shown(nm, set));

function setOf(app, setup) {
  return { unit: kit.unitOf(app.pack), each: Number(setup.each), points: pointsOf(app, setup) };
}

function rest(app, gauge, draft, { set, c, at, photos }) {
  const some = c.readings.some((read) => read.length);
  const answer = some ? judgeCheck(app.pack, gauge, set, c) : null;
  const keeping = button(
    at === null ? "Keep the check, to be sent" : "Keep it as it is",
    () => keep(app, gauge, draft, { set, c, answer, photos }).catch(app.failed),
    { class: at === null ? "button" : "button button-quiet", disabled: !some },
  );
  return [
    saidByOffice(draft).map((words) => h("p", { class: "thumb-doubt" }, words)),
    at === null && answer && h("p", { class: `thumb-verdict thumb-${answer.verdict}` }, VERDICTS[answer.verdict]),
    at === null && answer?.questions.map((words) => h("p", { class: "thumb-doubt" }, words)),
    // Once all is read, what ends the check lies under the thumb; before that, away from it.
    at === null && keeping,
    answer &&
      h(
        "ul",
        { class: "thumb-checks" },
        answer.lines.map((words) => h("li", {}, words)),
      ),
    at === null && h("p", { class: "quiet small" }, "The verdict of record is made at the office."),
    at !== null && keeping,
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
  const { setup } = draft.values;
  const body = {
    id: idOf(draft),
    gauge: gauge.id,
    project: app.project.id,
    purpose: setup.purpose,
    adjustment: setup.adjustment,
    surface: setup.surface,
    as_left: setup.as_left,
    taken_at: c.at,
    points: checking.pointsSent(c, set),
    note: "",
  };
  const purpose = PURPOSES.find(([code]) => code === setup.purpose)[1];
  await kit.keepCheck(app, gauge, draft, { body, place: purpose, answer, photos });
}

export default { name: "check", title: "Check an instrument", show };
