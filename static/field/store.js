// What one person keeps on this phone: a database of their own, so that the next one sees nothing of it.

import { openDatabase, transact } from "./idb.js";

export { HeldOpen, StorageFull } from "./idb.js";

/** From version n to n + 1. A step that was once given out is never changed; a further one comes after it. */
export const STEPS = [
  (db) => {
    db.createObjectStore("packs", { keyPath: "project" });
    db.createObjectStore("drafts", { keyPath: "id" });
    db.createObjectStore("queue", { keyPath: "id" }).createIndex("seq", "seq");
    // What is sent, apart from the row about it: the list of 500 reads none of them.
    db.createObjectStore("bodies", { keyPath: "id" });
    db.createObjectStore("photos", { keyPath: "digest" });
    db.createObjectStore("receipts", { keyPath: "id" });
    db.createObjectStore("prefs", { keyPath: "name" });
  },
];

/**
 * @param {string} personId
 * @param {{steps?: Array, outdated?: function(): void}} [how]
 */
export async function openStore(personId, { steps = STEPS, outdated } = {}) {
  const name = `field-${personId}`;
  const db = await openDatabase(name, steps, outdated);
  const read = (store, fn) => transact(db, [store], fn, "readonly");
  const write = (store, fn) => transact(db, [store], fn);
  return {
    name,
    get: (store, key) => read(store, (tx) => tx.get(store, key)),
    put: (store, value) => write(store, (tx) => tx.put(store, value)),
    remove: (store, key) => write(store, (tx) => tx.remove(store, key)),
    all: (store, index) => read(store, (tx) => tx.all(store, index)),
    keys: (store) => read(store, (tx) => tx.keys(store)),
    count: (store) => read(store, (tx) => tx.count(store)),
    each: (store, fn, how) => read(store, (tx) => tx.each(store, fn, how)),
    transact: (stores, fn) => transact(db, stores, fn),
    close: () => db.close(),
    prefs: {
      get: async (key) => (await read("prefs", (tx) => tx.get("prefs", key)))?.value,
      set: (key, value) => write("prefs", (tx) => tx.put("prefs", { name: key, value })),
    },
  };
}
