// What waits to be sent, what was asked about or refused, and what the office answered.

import { ago, button, field, h, link, redraw, size, span } from "../dom.js";
import { now } from "../ids.js";
import { verdictTold } from "../places.js";
import { saveUnsent } from "../saving.js";
import { formOf } from "../told.js";

const SHOWN = 60;
const MOST_REASONS = 3;
const QUIET = { class: "button button-quiet" };
const STATES = {
  idle: "Nothing waits.", sending: "Sending…", waiting: "No answer yet; it goes on by itself.",
  offline: "The office cannot be reached.", out: "Sign in to send.", other: "Somebody else is signed in on this phone.",
};

// The office says of what is not there no more than that.
const GONE =
  "What this belongs to is not at the office any more, or is not yours to see. Ask there; where it is gone for good, " +
  "set this aside with the reason and record it where it belongs now.";

export default {
  name: "send",
  title: "To be sent",
  async show(root, app) {
    const place = h("div");
    root.append(place);
    let drawn = 0;
    const draw = async () => {
      drawn += 1;
      const mine = drawn;
      const rows = await app.queue.list();
      const receipts = await app.queue.receipts();
      // A sentence that is being typed is not swept away by a record that was sent meanwhile.
      if (mine !== drawn || place.querySelector("textarea:focus")) return;
      redraw(place, head(app, rows), list(app, rows), told(app, receipts));
    };
    app.queue.addEventListener("change", draw);
    await draw();
    return () => app.queue.removeEventListener("change", draw);
  },
};

/** A button that keeps the focus when the screen is drawn anew. */
const does = (text, key, onclick, attrs = QUIET) => button(text, onclick, { ...attrs, "data-key": key });

function head(app, rows) {
  const { state } = app.queue.status;
  const words = rows.length ? `${rows.length} ${rows.length === 1 ? "thing waits" : "things wait"}. ` : "";
  return h("section", { class: "card" },
    h("p", { class: "field-state", "data-state": state },
      words, rows.length && state === "idle" ? "Those below need you." : STATES[state] || ""),
    h("p", { class: "actions" },
      does("Send now", "send", () => app.queue.sendNow().catch(app.failed), {}),
      rows.length > 0 && does("Save to a file", "save", () => saveUnsent(app).catch(app.failed)),
      link("Send a saved file", "#/file"), link("This phone", "#/phone")));
}

function list(app, rows) {
  // Those that need the person stand first; of the others as many as anybody reads.
  const order = { refused: 0, asked: 0, waiting: 1 };
  const first = (a, b) => order[a.state] - order[b.state] || a.seq - b.seq;
  const shown = [...rows].sort(first).slice(0, SHOWN);
  const more = rows.length - shown.length;
  return h("section", {}, rows.length > 0 && h("h2", {}, "Waits"),
    h("ul", { class: "plain-list field-queue" },
      shown.map((row) => h("li", { class: "card", "data-state": row.state }, one(app, row)))),
    more > 0 && h("p", { class: "quiet" }, `And ${more} more, which are sent in their turn.`));
}

function one(app, row) {
  const parts = [
    h("h3", {}, row.words.title), h("p", {}, row.words.place, " ", h("span", { class: "quiet" }, since(row.made_at))),
  ];
  if (row.from) parts.push(h("p", { class: "quiet" }, `From a file of ${row.from.name}.`));
  if (row.state === "waiting") {
    const tries = row.tries === 1 ? "Tried once." : `Tried ${row.tries} times.`;
    if (row.tries) parts.push(h("p", { class: "quiet" }, tries));
    if (row.came) parts.push(h("p", { class: "quiet" }, `${size(row.came.bytes)} of ${size(row.came.of)} are there.`));
    return parts;
  }
  return [...parts, ...(row.answer?.kind === "clock" ? ofClock(app, row) : ofAnswer(app, row)), aside(app, row)];
}

const since = (at) => ago(Date.parse(at), now().getTime());

function ofClock(app, row) {
  const way = row.answer.by < 0 ? "back" : "on";
  return [
    h("p", { class: "fault" }, `The phone's clock said ${row.clock.phone.replace("T", " ").slice(0, 16)} UTC when ` +
      `this was recorded. By the office's clock now its times lie ${span(row.answer.by)} wrong.`),
    h("p", { class: "actions" },
      does(`Move its times ${way} by ${span(row.answer.by)}`, `shift-${row.id}`,
        () => app.queue.shift(row.id).catch(app.failed), {}),
      does("Its times are right", `confirm-${row.id}`, () => app.queue.confirm(row.id).catch(app.failed))),
  ];
}

function ofAnswer(app, row) {
  const { answer } = row;
  const { errors, detail } = answer;
  const said = errors.map((each) => sentence(app, row, each));
  const without = answer.status === 404 ? GONE : detail || "The office gave no reason.";
  const sentences = said.length ? said : [without];
  const asked = row.state === "asked";
  const open = async () => {
    const hash = await app.queue.correct(row.id);
    if (hash) app.go(hash);
    else app.say("This came from no form: set it aside with the reason, and record it again.", "bad");
  };
  return [
    h("p", {}, asked ? "The office asks:" : "The office did not take it. It is kept here."),
    h("ul", { class: "plain-list" }, sentences.map((text) => h("li", { class: "fault" }, text))),
    h("p", { class: "actions" },
      asked && does("It is right: send it", `confirm-${row.id}`, () => app.queue.confirm(row.id).catch(app.failed), {}),
      does("Open it to correct", `open-${row.id}`, () => open().catch(app.failed), asked ? QUIET : {}),
      !asked && does("Try again as it is", `retry-${row.id}`, () => app.queue.retry(row.id).catch(app.failed))),
  ];
}

/** A sentence of the office, with the field as its form calls it where the pack has that form. */
function sentence(app, item, { field: name, row, message }) {
  // Of an error without a field there is no label.
  const form = name ? formOf(app.pack?.forms || [], item.address) : null;
  const label = form?.fields.find((each) => each.name === name)?.label || name?.replace(/_/g, " ");
  return [label && `${label}:`, (row ?? null) !== null && `row ${row}:`, message].filter(Boolean).join(" ");
}

function aside(app, row) {
  const why = h("textarea", { rows: 2, id: `why-${row.id}`, "data-key": `why-${row.id}` });
  const set = async () => {
    if (!why.value.trim()) return app.say("Say why it is set aside.", "bad");
    why.blur();
    return app.queue.setAside(row.id, why.value.trim());
  };
  return h("details", { "data-key": `aside-${row.id}` },
    h("summary", { "data-key": `summary-${row.id}` }, "Set it aside"),
    field("Why", why, { help: "It leaves the queue and is kept below, and in every file you save." }),
    does("Set it aside", `set-${row.id}`, () => set().catch(app.failed), { class: "button button-danger" }));
}

function told(app, receipts) {
  const rows = receipts.sort((a, b) => (a.at < b.at ? 1 : -1));
  const asideRows = rows.filter((row) => row.aside);
  const differing = rows.filter((row) => row.differs);
  // Those that the office says something against stand first: of hundreds nobody reads the rest.
  const said = (row) => Number(Boolean(row.warnings?.length));
  const sent = rows.filter((row) => !row.aside).sort((a, b) => said(b) - said(a));
  return h("section", {},
    differing.length > 0 && h("h2", {}, "The office judged otherwise than the phone"),
    differing.map((row) => h("div", { class: "notice notice-warning" },
      h("h3", {}, `${row.words.title}, ${row.words.place}`),
      h("p", {}, "The phone said ", h("strong", {}, row.told.verdict), ":"), reasons(row.told.why),
      h("p", {}, "The office says ", h("strong", {}, row.answered.verdict), ":"), reasons(row.answered.why),
      h("p", {}, "The office's verdict is the record's."))),
    asideRows.length > 0 && h("h2", {}, "Set aside"),
    asideRows.map((row) => h("div", { class: "card void-card" },
      h("p", {}, `${row.words.title}, ${row.words.place}: ${row.aside}`),
      button("Put it back", () => app.queue.takeBack(row.id).catch(app.failed), QUIET))),
    sent.length > 0 && h("h2", {}, "Sent"),
    h("ul", { class: "plain-list" }, sent.slice(0, SHOWN).map((row) => h("li", {},
      [row.words.title, row.words.place].filter(Boolean).join(", "), " ", officeTold(row),
      h("span", { class: "quiet" }, since(row.at)), warnings(row)))));
}

/** What the office made of it, which is the verdict of record; nothing of what has none. */
function officeTold(row) {
  if (!row.answered?.verdict) return null;
  const [tone, words] = verdictTold(row.answered.verdict);
  return [h("span", { class: `status status-${tone}` }, `Office: ${words}`), " "];
}

/** The first reasons, and the rest of a long list folded. */
function reasons(why) {
  const all = [why].flat().filter(Boolean);
  const listed = (rows) => h("ul", {}, rows.map((text) => h("li", {}, text)));
  const rest = all.slice(MOST_REASONS);
  return [listed(all.slice(0, MOST_REASONS)),
    rest.length > 0 && h("details", {}, h("summary", {}, `And ${rest.length} more`), listed(rest))];
}

const warnings = (row) => (row.warnings?.length ? h("ul", {}, row.warnings.map((text) => h("li", {}, text))) : null);
