// IndexedDB with promises; every write is done only when its transaction completed on the disk.

/** The phone's storage is full; what was typed stays on the screen. */
export class StorageFull extends Error {
  constructor() {
    super(
      "The phone's storage is full, so this could not be kept. It stays on the screen: make room on the phone " +
        "(photos, other apps), or send what waits, then go on."
    );
    this.name = "StorageFull";
  }
}

/** The database is held open by an older version of the app in another tab. */
export class HeldOpen extends Error {
  constructor() {
    super("Another tab holds an older version of this app open. Close it, then open this one again.");
    this.name = "HeldOpen";
  }
}

const translated = (error) =>
  error && (error.name === "QuotaExceededError" || error.name === "NS_ERROR_DOM_QUOTA_REACHED")
    ? new StorageFull()
    : error || new Error("The phone's storage gave no reason.");

/** A request as a promise. */
export const asked = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(translated(request.error));
  });

/**
 * Opens a database and brings it from whatever version the phone has to the newest: `steps[n]` from n to n + 1.
 * @param {string} name
 * @param {Array<function(IDBDatabase, IDBTransaction): void>} steps
 * @param {function(): void} [outdated] called when a newer version in another tab wants it
 */
export function openDatabase(name, steps, outdated = () => {}) {
  return new Promise((done, failed) => {
    const request = indexedDB.open(name, steps.length);
    let held;
    request.onupgradeneeded = (event) => {
      for (const step of steps.slice(event.oldVersion)) step(request.result, request.transaction);
    };
    request.onblocked = () => {
      held = setTimeout(() => failed(new HeldOpen()), 3000);
    };
    request.onerror = () => failed(translated(request.error));
    request.onsuccess = () => {
      clearTimeout(held);
      const db = request.result;
      db.onversionchange = () => {
        db.close();
        outdated();
      };
      done(db);
    };
  });
}

/** A transaction; strict where the browser knows it, so that "kept" means on the disk. */
function transaction(db, stores, mode) {
  try {
    return db.transaction(stores, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
  } catch (error) {
    if (error instanceof TypeError) return db.transaction(stores, mode);
    throw error;
  }
}

/**
 * Runs `fn` over some stores as one whole: all of it or nothing. In `fn` nothing but the given operations may be
 * awaited. Its result comes once the transaction completed.
 * @param {IDBDatabase} db
 * @param {string[]} stores
 * @param {function(Object): Promise<*>} fn
 * @param {"readonly"|"readwrite"} [mode]
 */
export async function transact(db, stores, fn, mode = "readwrite") {
  const tx = transaction(db, stores, mode);
  const completed = new Promise((done, failed) => {
    tx.oncomplete = () => done();
    tx.onabort = () => failed(translated(tx.error));
    tx.onerror = (event) => event.preventDefault();
  });
  completed.catch(() => {});
  let result;
  try {
    result = await fn(operations(tx));
  } catch (error) {
    try {
      tx.abort();
    } catch {
      // It was over already.
    }
    throw translated(error);
  }
  await completed;
  return result;
}

function operations(tx) {
  const of = (store) => tx.objectStore(store);
  return {
    get: (store, key) => asked(of(store).get(key)),
    put: (store, value) => asked(of(store).put(value)),
    remove: (store, key) => asked(of(store).delete(key)),
    all: (store, index) => asked((index ? of(store).index(index) : of(store)).getAll()),
    keys: (store) => asked(of(store).getAllKeys()),
    count: (store) => asked(of(store).count()),
    each: (store, fn, { index, direction = "next" } = {}) =>
      each(index ? of(store).index(index) : of(store), fn, direction),
  };
}

/** Walks a store row by row; `fn` gives false to stop. Never more than one row in memory. */
function each(source, fn, direction) {
  return new Promise((done, failed) => {
    const request = source.openCursor(null, direction);
    request.onerror = () => failed(translated(request.error));
    request.onsuccess = () => {
      const cursor = request.result;
      if (!cursor || fn(cursor.value) === false) done();
      else cursor.continue();
    };
  });
}
