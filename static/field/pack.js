// The field pack: fetched in one request a project, again only where it changed, and on where a download broke off.

import { now } from "./ids.js";

const ADDRESS = (project) => `/api/field/packs/${project}/`;
const VERSION = /^"([0-9a-f]{64})"$/;
const PREFIX = '{"version":"';
// A row of the store: {project, version, made_at, checked_at, bytes, content}; a broken download lies beside it.
const partKey = (project) => `part-${project}`;
const TRIES = 3;

/** A download that stopped: what came is kept, and the pack that was here before still serves. */
export class PackBroken extends Error {}

/**
 * Fetches the pack of a project, or learns that the one kept is still right.
 * @param {Object} app
 * @param {string} projectId
 * @param {{progress?: function(number, number): void}} [how] bytes that came, and how many there are
 * @returns {Promise<"new"|"same"|"offline"|"out"|"gone"|"busy">}
 */
export async function fetchPack(app, projectId, { progress = () => {} } = {}) {
  const { store } = app;
  const kept = await store.get("packs", projectId);
  let part = await store.get("packs", partKey(projectId));
  for (let tried = 1; ; tried += 1) {
    const before = part?.bytes.length || 0;
    let answer;
    try {
      answer = await fetch(ADDRESS(projectId), {
        headers: headers(kept, part),
        credentials: "same-origin",
        cache: "no-store",
        redirect: "error",
      });
    } catch {
      return "offline";
    }
    if (answer.status === 304) {
      await store.put("packs", { ...kept, checked_at: madeAt(answer), made_at: madeAt(answer) });
      return "same";
    }
    if (!answer.ok)
      return REFUSED[answer.status] || (answer.status >= 500 || answer.status === 429 ? "busy" : "gone");
    part = begun(projectId, part, answer);
    if (!part) return "offline";
    if (await received(part, answer, progress)) return keep(app, part, answer);
    await store.put("packs", part);
    // On at once while something comes; a link that gives nothing any more is left until the person tries again.
    if (tried >= TRIES || part.bytes.length === before) {
      const came = `${part.bytes.length} of ${part.whole} bytes`;
      throw new PackBroken(`The download stopped at ${came}. It goes on from there.`);
    }
  }
}

const REFUSED = { 401: "out", 403: "out", 404: "gone" };

function headers(kept, part) {
  const asked = { Accept: "application/json" };
  if (kept) asked["If-None-Match"] = `"${kept.version}"`;
  if (part) Object.assign(asked, { Range: `bytes=${part.bytes.length}-`, "If-Range": `"${part.version}"` });
  return asked;
}

/** Where the bytes of an answer go: after those that came before, or from the beginning where the pack is another. */
function begun(projectId, part, answer) {
  const version = VERSION.exec(answer.headers.get("ETag") || "")?.[1];
  // Whatever is not the office's own, such as the page of a hotel's network.
  if (!version) return null;
  if (answer.status === 206 && part?.version === version) return part;
  const whole = Number(answer.headers.get("X-Plain-Length")) || 0;
  return { project: partKey(projectId), of: projectId, version, whole, bytes: new Uint8Array(0) };
}

/** Reads what comes; true when all of it did. */
async function received(part, answer, progress) {
  const chunks = [part.bytes];
  let count = part.bytes.length;
  try {
    const reader = answer.body.getReader();
    for (let { done, value } = await reader.read(); !done; { done, value } = await reader.read()) {
      chunks.push(value);
      count += value.length;
      progress(count, part.whole);
    }
  } catch {
    // What came before it broke off counts.
  }
  part.bytes = joined(chunks, count);
  return count === part.whole;
}

function joined(chunks, count) {
  const all = new Uint8Array(count);
  let place = 0;
  for (const chunk of chunks) {
    all.set(chunk, place);
    place += chunk.length;
  }
  return all;
}

/** Keeps the new pack in place of the old one, in one write, once its digest is what the office said. */
async function keep(app, part, answer) {
  const text = new TextDecoder().decode(part.bytes);
  const right = (await digestOf(text)) === part.version;
  const row = right && {
    project: part.of,
    version: part.version,
    made_at: madeAt(answer),
    checked_at: madeAt(answer),
    bytes: part.bytes.length,
    content: JSON.parse(text),
  };
  await app.store.transact(["packs"], async (tx) => {
    await tx.remove("packs", part.project);
    if (row) await tx.put("packs", row);
  });
  if (!right) throw new PackBroken("What came was not what the office sent. Fetch it again.");
  return "new";
}

/** The SHA-256 of a pack's content, which is all of it but the version itself. */
async function digestOf(text) {
  if (!text.startsWith(PREFIX)) return "";
  const content = `{${text.slice(PREFIX.length + 64 + '",'.length)}`;
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(content));
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** When the office gave it: by the office's clock. */
function madeAt(answer) {
  const told = Date.parse(answer.headers.get("Date") || "");
  return new Date(Number.isNaN(told) ? now().getTime() : told).toISOString();
}

/** How old what the phone knows is, in ms; null without a pack. */
export function packAge(row, at = now()) {
  return row?.made_at ? at.getTime() - Date.parse(row.made_at) : null;
}

/** What the phone keeps of each project, without reading what lies in it: `{project, version, made_at, bytes}`. */
export async function keptPacks(app) {
  const rows = [];
  await app.store.each("packs", ({ project, version, made_at, checked_at, bytes, of }) => {
    if (!of) rows.push({ project, version, made_at, checked_at, bytes });
  });
  return rows;
}

/** Of projects that are not the person's any more nothing is kept but what they recorded there themselves. */
export async function forgetOthers(store, projects) {
  const own = new Set(projects.flatMap((project) => [project.id, partKey(project.id)]));
  for (const key of await store.keys("packs")) if (!own.has(key)) await store.remove("packs", key);
}

/** The pack itself, whether it comes with what the phone keeps about it or alone; an empty one where there is none. */
export function contentOf(row) {
  return row?.content || row || null;
}
