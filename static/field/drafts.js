// Everything typed is a draft at once: each change is on the disk before the next one is taken.

import { newId, stamp } from "./ids.js";
import { forget } from "./photos.js";
import { itemRows } from "./queue.js";

/**
 * The draft of a screen: the one kept under the same screen and args, or a new one.
 * @param {{store: Object, project: ?Object, queue: Object}} app
 * @param {{screen: string, args?: Array<string>, id?: string}} what
 */
export async function openDraft(app, { screen, args = [], id }) {
  const kept = await keptDraft(app, screen, args, id);
  const row = kept || { id: newId(), screen, args, project: app.project?.id ?? null, at: null, values: {} };
  let last = Promise.resolve();
  let gone = false;
  const draft = {
    id: row.id,
    values: row.values,
    kept: Boolean(kept),
    /** What the office said of it, and the id to use again, where it was refused. */
    faults: row.faults || [],
    item: row.item || null,
    /** Keeps a value; `path` as "readings.3.value". Done when it is on the disk. */
    set(path, value) {
      place(row.values, String(path).split("."), value);
      return draft.save();
    },
    /** Keeps `values` as they are now, for whoever changed them in place, and photos that they name; or neither. */
    save(photos = []) {
      if (gone) return Promise.resolve();
      row.at = stamp().at;
      const copy = structuredClone(row);
      // One after the other, so that an older state never lands on a newer one; a failed one hinders no later one.
      last = last.catch(() => {}).then(() => (gone ? undefined : keep(app, copy, photos)));
      return last;
    },
    async discard() {
      gone = true;
      await last.catch(() => {});
      await app.store.remove("drafts", row.id);
      const photos = row.values.kept_photos || [];
      if (photos.length) await forget(app, photos.map((photo) => photo.digest));
      app.queue?.changed();
    },
    /** The draft becomes what is to be sent: items in and draft out, or neither. */
    async toQueue(items) {
      gone = true;
      await last.catch(() => {});
      try {
        await app.store.transact(["queue", "bodies", "drafts"], async (tx) => {
          await itemRows(tx, items, app);
          await tx.remove("drafts", row.id);
        });
      } catch (error) {
        gone = false;
        throw error;
      }
      app.queue.changed();
      app.queue.sendSoon();
    },
  };
  return draft;
}

function keep(app, row, photos) {
  if (!photos.length) return app.store.put("drafts", row);
  return app.store.transact(["drafts", "photos"], async (tx) => {
    for (const photo of photos) await tx.put("photos", photo);
    await tx.put("drafts", row);
  });
}

async function keptDraft(app, screen, args, id) {
  // One that was refused and is opened again stands before another begun on the same screen.
  const wanted = id || app.opening;
  const row = wanted ? await app.store.get("drafts", wanted) : null;
  if (row && row.screen === screen) {
    app.opening = null;
    return row;
  }
  return draftOf(app, screen, args);
}

async function draftOf(app, screen, args) {
  const wanted = args.join("/");
  const project = app.project?.id ?? null;
  let found;
  await app.store.each("drafts", (row) => {
    if (row.screen === screen && row.args.join("/") === wanted && row.project === project) found = row;
    return !found;
  });
  return found;
}

/** All drafts, the newest first: what a person began and did not finish. */
export async function listDrafts(app) {
  const rows = await app.store.all("drafts");
  return rows.sort((one, other) => (one.at < other.at ? 1 : -1));
}

function place(values, path, value) {
  let inside = values;
  for (const [at, name] of path.slice(0, -1).entries()) {
    if (typeof inside[name] !== "object" || inside[name] === null) inside[name] = /^\d+$/.test(path[at + 1]) ? [] : {};
    inside = inside[name];
  }
  if (value === undefined) delete inside[path[path.length - 1]];
  else inside[path[path.length - 1]] = value;
}
