// What waits, as a file: one JSON document a line, so that neither writing nor reading it holds more than one thing in
// memory. The first line says whose it is, the last one holds the digest over the lines before it.

import { stamp } from "./ids.js";

export const KIND = "unsent field records";
const SUFFIX = "unsent.jsonl";

const hex = (buffer) => Array.from(new Uint8Array(buffer), (byte) => byte.toString(16).padStart(2, "0")).join("");
const digestOf = async (text) => hex(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text)));

/** The lines of the file as a blob, piece by piece. */
export async function unsentFile(app) {
  const pieces = [];
  let digests = "";
  let lines = 0;
  const add = async (value) => {
    const text = JSON.stringify(value);
    digests += await digestOf(text);
    lines += 1;
    // As a blob at once: the browser may lay it on the disk.
    pieces.push(new Blob([text, "\n"]));
  };
  const { person } = app;
  await add({
    kind: KIND, version: 1, person: person.person, name: person.name, company: person.company, app_version: app.version,
    saved_at: stamp().at, phone: await app.device.id(),
  });
  for (const row of await app.queue.list()) await add({ item: row, ...(await bodyOf(app, row.id)) });
  for (const id of await app.store.keys("drafts")) await add({ draft: await app.store.get("drafts", id) });
  for (const row of await app.queue.receipts()) if (row.aside) await add({ aside: row });
  for (const digest of await app.store.keys("photos")) {
    const { blob, ...photo } = await app.store.get("photos", digest);
    await add({ photo: { ...photo, type: blob.type, base64: await base64(blob) } });
  }
  pieces.push(new Blob([JSON.stringify({ lines, digest: await digestOf(digests) }), "\n"]));
  return new Blob(pieces, { type: "application/jsonl" });
}

const bodyOf = async (app, id) => {
  const { body, draft } = (await app.store.get("bodies", id)) || {};
  return { body, from_draft: draft };
};

function base64(blob) {
  return new Promise((done, failed) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.onerror = () => failed(reader.error);
    reader.readAsDataURL(blob);
  });
}

/** Gives the file to the person; nothing leaves the phone's storage by that. */
export async function saveUnsent(app) {
  const blob = await unsentFile(app);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = `${stamp().at.slice(0, 16).replace(/[-:]/g, "").replace("T", "-")}-${SUFFIX}`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  app.say("Saved. It stays here as well until the office has it.", "good");
}

/** The lines of a blob, one at a time. */
async function* linesOf(blob) {
  const decoder = new TextDecoder("utf-8", { fatal: true });
  const reader = blob.stream().getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    rest += done ? decoder.decode() : decoder.decode(value, { stream: true });
    const parts = rest.split("\n");
    rest = parts.pop();
    yield* parts;
    if (done) break;
  }
  if (rest) yield rest;
}

/**
 * Reads a saved file once through, keeping nothing: whose it is, how much it holds, and whether it is whole.
 * @returns {Promise<{head: Object, items: number, drafts: number, aside: number, photos: number, whole: boolean}>}
 */
export async function lookAt(blob) {
  const told = { head: null, items: 0, drafts: 0, aside: 0, photos: 0, whole: false, wrong: "" };
  let digests = "";
  let lines = 0;
  for await (const text of linesOf(blob)) {
    const row = JSON.parse(text);
    if (!told.head) {
      if (row.kind !== KIND) throw new Error("This is no file of unsent field records.");
      told.head = row;
    } else if (row.digest && row.lines !== undefined) {
      told.whole = row.lines === lines && row.digest === (await digestOf(digests));
      break;
    }
    for (const [name, count] of [["item", "items"], ["draft", "drafts"], ["aside", "aside"], ["photo", "photos"]]) {
      if (row[name]) told[count] += 1;
    }
    digests += await digestOf(text);
    lines += 1;
  }
  if (!told.head) throw new Error("This file is empty.");
  return told;
}

/**
 * Takes what a file holds into the queue of the person signed in; what is there or was sent already is told, not
 * doubled. Photos first, so that no record goes without its own.
 * @returns {Promise<{taken: number, there: number, sent: number, drafts: number, photos: number}>}
 */
export async function takeIn(app, blob) {
  const { head } = await lookAt(blob);
  const from = head.person === app.person.person ? null : { person: head.person, name: head.name };
  const elsewhere = head.phone !== (await app.device.id());
  const told = { taken: 0, there: 0, sent: 0, drafts: 0, photos: 0 };
  for await (const text of linesOf(blob)) {
    const { photo } = JSON.parse(text);
    if (photo) {
      await keepPhoto(app, photo);
      told.photos += 1;
    }
  }
  for await (const text of linesOf(blob)) {
    const row = JSON.parse(text);
    // What this phone's clock says now tells nothing of another's then.
    const item = row.item || row.aside?.row;
    if (item && elsewhere) item.clock = { ...item.clock, settled: true };
    if (row.item) await takeItem(app, row, from, told);
    else if (row.draft) {
      if (!(await app.store.get("drafts", row.draft.id))) await app.store.put("drafts", row.draft);
      told.drafts += 1;
    } else if (row.aside && !(await app.store.get("receipts", row.aside.id))) {
      await app.store.put("receipts", row.aside);
    }
  }
  app.queue.changed();
  return told;
}

async function takeItem(app, { item, body, from_draft: draft }, from, told) {
  if (await app.store.get("queue", item.id)) told.there += 1;
  else if (await app.store.get("receipts", item.id)) told.sent += 1;
  else {
    // What was refused there may be right for this person; what was asked about there was not answered yet.
    const { seq, state, tries, next_at: pause, answer, doubted, held, told_to_wait: asked, came, ...kept } = item;
    await app.queue.add([{ ...kept, from, body, draft }], { later: true });
    told.taken += 1;
  }
}

async function keepPhoto(app, { base64: text, type, ...photo }) {
  if (await app.store.get("photos", photo.digest)) return;
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const digest = hex(await crypto.subtle.digest("SHA-256", bytes));
  if (digest !== photo.digest) throw new Error("A photo of the file is damaged.");
  await app.store.put("photos", { ...photo, blob: new Blob([bytes], { type }) });
}
