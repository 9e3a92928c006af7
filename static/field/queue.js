// What is recorded and not yet sent: rows about it apart from what is sent, so that a list of hundreds stays light.

import { newId, stamp } from "./ids.js";
import { itemsOf } from "./photos.js";
import { makeSender } from "./sender.js";

const STORES = ["queue", "bodies", "photos", "receipts", "drafts"];
const TOLD_EVERY_MS = 200;
const MOMENT = /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)$/;
const DAY = /^\d{4}-\d\d-\d\d$/;

/**
 * Puts items into the queue within a transaction over `queue` and `bodies`.
 * An item: {id?, address, method?, body, words: {title, place}, photos?, told?, needs?, draft?}; the rest is filled in.
 */
export async function itemRows(tx, items, app) {
  let seq = 0;
  await tx.each("queue", (row) => ((seq = row.seq), false), { index: "seq", direction: "prev" });
  const made = stamp();
  for (const item of items) {
    const { body = {}, draft = null, ...head } = item;
    seq += 1;
    const row = {
      project: app.project?.id ?? null, method: "POST", words: { title: "Record", place: "" }, photos: [], told: null,
      needs: [], from: null, ...head, id: item.id || body.id || newId(), seq, made_at: item.made_at || made.at,
      clock: item.clock || { phone: made.phone, offset: made.offset, sure: made.sure }, app_version: app.version,
      state: "waiting", tries: 0, next_at: 0, answer: null,
    };
    if (!row.clock.sure && typeof body.note === "string") body.note = noted(body.note, unheard(row));
    tx.put("queue", row);
    await tx.put("bodies", { id: row.id, body, draft });
  }
}

const noted = (note, more) => (note ? `${note.trimEnd()} ${more}` : more);
const unheard = (row) => `The phone's clock said ${row.clock.phone}; it was not held against the server's then.`;

/** @returns the queue of the app's person: list, add, sendAll, confirm, correct, setAside, events "change". */
export function openQueue(app) {
  const { store } = app;
  const queue = new EventTarget();
  const others = typeof BroadcastChannel === "function" ? new BroadcastChannel(`${store.name}-queue`) : null;
  // Hundreds are sent in a minute; the pages are drawn a few times a second.
  let telling = 0;
  const tell = () => {
    telling ||= setTimeout(() => {
      telling = 0;
      queue.dispatchEvent(new Event("change"));
    }, TOLD_EVERY_MS);
  };
  if (others) others.onmessage = tell;

  async function change(id, fn) {
    await store.transact(STORES, async (tx) => {
      const row = await tx.get("queue", id);
      if (!row) return;
      const kept = await tx.get("bodies", id);
      if ((await fn(row, kept, tx)) === false) return;
      await tx.put("queue", row);
      await tx.put("bodies", kept);
    });
    queue.changed();
  }

  Object.assign(queue, {
    /** Tells this tab and the others that something changed. */
    changed() {
      tell();
      others?.postMessage("change");
    },
    async add(items, { later = false } = {}) {
      await store.transact(["queue", "bodies"], (tx) => itemRows(tx, items, app));
      queue.changed();
      if (!later) queue.sendSoon();
    },
    /** The rows, oldest first, without what is sent: `body(id)` gives that. */
    list: () => store.all("queue", "seq"),
    body: async (id) => (await store.get("bodies", id))?.body,
    /** How many wait, since when (by the corrected clock), how many were refused or asked about. */
    async summary() {
      const told = { count: 0, oldest: null, refused: 0, asked: 0, photos: 0 };
      for (const row of await queue.list()) {
        told.count += 1;
        told.photos += row.photos.length ? 1 : 0;
        told.refused += row.state === "refused" ? 1 : 0;
        told.asked += row.state === "asked" ? 1 : 0;
        if (told.oldest === null || row.made_at < told.oldest) told.oldest = row.made_at;
      }
      return told;
    },
    /** It is right as it is: sent again, confirmed. */
    confirm: (id) =>
      change(id, (row, kept) => {
        if (row.answer?.kind === "clock") row.clock.settled = true;
        else kept.body = { ...kept.body, confirmed: true };
        waiting(row);
      }).then(() => queue.sendSoon()),
    /** Moves the times of one that the clock was asked about to the server's clock. */
    shift: (id) =>
      change(id, (row, kept) => {
        if (row.answer?.kind !== "clock") return false;
        const by = row.answer.by;
        kept.body = shifted(kept.body, by);
        const words = `The phone's clock said ${row.clock.phone}; times were moved to the server's clock.`;
        if (typeof kept.body.note === "string") kept.body.note = noted(kept.body.note, words);
        row.made_at = new Date(Date.parse(row.made_at) + by).toISOString();
        row.clock.settled = true;
        waiting(row);
        return true;
      }).then(() => queue.sendSoon()),
    /**
     * A refused one: with a body it waits again with that; without one it becomes a draft again, whose address in the
     * app is given back (null where it came from no form).
     */
    async correct(id, body) {
      if (body) {
        await change(id, (row, kept) => {
          kept.body = body;
          waiting(row);
        });
        return queue.sendSoon();
      }
      const draft = await store.transact(STORES, (tx) => asDraft(tx, id));
      if (!draft) return null;
      queue.changed();
      app.opening = draft.id;
      return `#/${[draft.screen, ...draft.args].join("/")}`;
    },
    /** Tried again as it is: where what was wrong lay at the office. */
    retry: (id) => change(id, (row) => waiting(row)).then(() => queue.sendSoon()),
    /** Out of the queue and kept with the reason: it is in “set aside” and in every file that is saved. */
    async setAside(id, reason) {
      await store.transact(STORES, async (tx) => {
        const row = await tx.get("queue", id);
        const kept = await tx.get("bodies", id);
        if (!row) return;
        const at = stamp().at;
        const { body, draft } = kept || {};
        await tx.put("receipts", { id, at, aside: reason, words: row.words, row, body, draft });
        await tx.remove("queue", id);
        await tx.remove("bodies", id);
        const after = [];
        await tx.each("queue", (other) => void (other.needs.includes(id) && after.push(other)));
        const sentence = `It follows “${row.words.title}”, which was set aside: ${reason}`;
        for (const other of after) {
          await tx.put("queue", { ...other, state: "refused", answer: { status: 0, detail: sentence, errors: [] } });
        }
      });
      queue.changed();
    },
    /** Back into the queue, as it was. */
    async takeBack(id) {
      await store.transact(STORES, async (tx) => {
        const kept = await tx.get("receipts", id);
        if (!kept?.aside) return;
        await tx.put("queue", { ...waiting(kept.row) });
        await tx.put("bodies", { id, body: kept.body, draft: kept.draft });
        await tx.remove("receipts", id);
      });
      queue.changed();
      queue.sendSoon();
    },
    receipts: () => store.all("receipts"),
  });
  Object.assign(queue, makeSender(app, queue));
  return queue;
}

function waiting(row) {
  return Object.assign(row, { state: "waiting", tries: 0, next_at: 0, answer: null });
}

async function asDraft(tx, id) {
  const row = await tx.get("queue", id);
  const kept = await tx.get("bodies", id);
  if (!row || !kept?.draft) return null;
  const draft = {
    ...kept.draft, id: newId(), project: row.project, at: stamp().at, faults: row.answer?.errors || [],
    // The record's id stays, unless it is taken by other content.
    item: row.answer?.status === 409 ? null : row.id,
  };
  await tx.put("drafts", draft);
  // Its photos are the draft's again, and go once more with it.
  for (const one of [id, ...itemsOf(draft.values.kept_photos || [])]) {
    await tx.remove("queue", one);
    await tx.remove("bodies", one);
  }
  return draft;
}

/** Every moment in what is sent moved by so many ms; days only where it is most of a day or more. */
export function shifted(value, by) {
  if (Array.isArray(value)) return value.map((one) => shifted(one, by));
  if (value && typeof value === "object") {
    return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, shifted(one, by)]));
  }
  if (typeof value !== "string") return value;
  if (MOMENT.test(value)) return new Date(Date.parse(value) + by).toISOString();
  const days = Math.round(by / 86_400_000);
  if (days && DAY.test(value)) return new Date(Date.parse(value) + days * 86_400_000).toISOString().slice(0, 10);
  return value;
}
