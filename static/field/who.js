// Whose phone this is now: by the office where it can be heard, else the one who used it last and did not sign out.

import { ask } from "./http.js";
import { heardServer, keptClock, setClock } from "./ids.js";

const WHO = "/api/field/who/";

/**
 * Asks the office who is signed in, and keeps what it says of the time.
 * @returns {Promise<{state: "ok"|"out"|"offline", who?: Object}>}
 */
export async function heardOf(device, patience = 15_000) {
  const before = Date.now();
  const answer = await ask(WHO, { patience });
  // 403: signed in, and yet to set up a second factor, or with access that ended.
  if (answer.status === 401 || answer.status === 403) return { state: "out", detail: answer.json?.detail || "" };
  if (answer.status !== 200 || !answer.json.person) return { state: "offline" };
  await device.setMark("clock", heardServer(answer.json.server_at, before, Date.now()));
  return { state: "ok", who: answer.json };
}

/** Who uses the app now: `{person, ...}` or null where nobody may be shown anything. */
export async function findPerson(device) {
  setClock(await device.mark("clock"));
  await device.lockSignedOut();
  const current = await device.mark("current");
  const kept = current ? await device.person(current) : null;
  const offline = kept && !kept.locked && !device.givenOn(current) ? kept : null;
  if (await signOutIfDue(device)) return { person: null, heard: { state: "out" } };
  // The office is asked first, so that nobody sees the work of the one before; at the edge of a signal not for long.
  const heard = await heardOf(device, offline ? 4_000 : 15_000);
  if (heard.state === "ok") return { person: await keepPerson(device, heard.who), heard };
  // The answer may tell that its person ended the sign-in of this phone from elsewhere.
  await device.lockSignedOut();
  const locked = offline && (await device.person(current)).locked;
  return { person: locked ? null : offline, heard };
}

/** Keeps what the office said of the person, who is unlocked by having signed in. */
async function keepPerson(device, who) {
  const before = await device.person(who.person);
  const person = {
    person: who.person, name: who.name, company: who.company, projects: who.projects, locked: false, at: Date.now(),
    project: before?.project ?? null,
  };
  if (!who.projects.some((project) => project.id === person.project)) person.project = who.projects[0]?.id ?? null;
  await device.keep(person);
  await device.setMark("current", who.person);
  return person;
}

/**
 * Somebody signed out on this phone while the office could not be heard: their sign-in ends before anything is shown.
 * @returns {Promise<boolean>} whether they were signed out now
 */
export async function signOutIfDue(device) {
  const due = (await device.people()).filter((person) => person.due);
  if (!due.length) return false;
  const heard = await heardOf(device, 6_000);
  const mine = heard.state === "ok" && due.find((person) => person.person === heard.who.person);
  if (mine) {
    const headers = { "X-CSRFToken": heard.who.csrf };
    const done = await fetch("/sign-out/", { method: "POST", headers, redirect: "manual" }).catch(() => null);
    if (!done) return true;
  }
  // Somebody else's sign-in, or none, tells that theirs has ended.
  if (heard.state !== "offline") for (const person of due) await device.keep({ ...person, due: false });
  return Boolean(mine);
}

/** Keeps the clock as the phone goes to sleep, so that a clock set back is seen. */
export const keepClock = (device) => device.setMark("clock", keptClock());
