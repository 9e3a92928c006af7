// What the phone itself knows, whoever holds it: who uses it, who signed out on purpose, and its clock.

import { openDatabase, transact } from "./idb.js";
import { newId } from "./ids.js";

const STEPS = [
  (db) => {
    // {person, name, company, projects, project, locked, at}
    db.createObjectStore("people", { keyPath: "person" });
    db.createObjectStore("marks", { keyPath: "name" });
  },
];
// Set by the site when somebody signs out there on purpose: their ids, with dots between.
const SIGNED_OUT = "field_signed_out";
// Who signed in on this phone last, which the app may not have heard of yet.
const SIGNED_IN = "field_person";

export async function openDevice() {
  const db = await openDatabase("field-device", STEPS);
  const write = (store, value) => transact(db, [store], (tx) => tx.put(store, value));
  const read = (store, key) => transact(db, [store], (tx) => tx.get(store, key), "readonly");
  const device = {
    person: (id) => read("people", id),
    people: () => transact(db, ["people"], (tx) => tx.all("people"), "readonly"),
    keep: (person) => write("people", person),
    mark: async (name) => (await read("marks", name))?.value,
    setMark: (name, value) => write("marks", { name, value }),
    /** Which phone this is: made here, and told to nobody but in a saved file. */
    async id() {
      const kept = await device.mark("id");
      if (kept) return kept;
      const made = newId();
      await device.setMark("id", made);
      return made;
    },
    /** Locks what a person keeps here until they sign in again; `due`: the office is still to be told. */
    async lock(id, due = false) {
      const person = await device.person(id);
      if (person) await device.keep({ ...person, locked: true, due });
      if ((await device.mark("current")) === id) await device.setMark("current", null);
    },
    /** Whether somebody else than that person signed in here since. */
    givenOn: (id) => Boolean(cookie(SIGNED_IN)) && cookie(SIGNED_IN) !== id,
    /** Whether that person signed out on this phone, here or on the site, or somebody else signed in since. */
    async leftBy(id) {
      const locked = (await device.person(id))?.locked;
      return Boolean(locked) || cookie(SIGNED_OUT).split(".").includes(id) || device.givenOn(id);
    },
    /** Takes over what the site said of signing out while the app was shut. */
    async lockSignedOut() {
      const told = cookie(SIGNED_OUT);
      if (!told) return;
      for (const id of told.split(".")) await device.lock(id);
      const secure = location.protocol === "https:" ? "; Secure" : "";
      for (const name of namesOf(SIGNED_OUT)) document.cookie = `${name}=; Max-Age=0; Path=/; SameSite=Lax${secure}`;
    },
  };
  return device;
}

/** By TLS the site's cookies are of this host alone, which their names say. */
const namesOf = (name) => [`__Host-${name}`, name];

function cookie(name) {
  const all = document.cookie.split("; ").map((one) => one.split("="));
  const found = all.find(([called]) => namesOf(name).includes(called));
  return found ? decodeURIComponent(found[1]) : "";
}
