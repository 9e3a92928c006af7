// Sends what waits, oldest first, from one tab at a time; nothing leaves the phone's storage without a receipt.

import { whyOf } from "./checks_told.js";
import { ask } from "./http.js";
import { MUCH_MS, now, stamp } from "./ids.js";
import { inParts, sendParts } from "./parts.js";
import { named } from "./photos.js";
import { isSentByApp } from "./sent_to.js";

const LONGEST_PAUSE_MS = 300_000;
// Within one round so long a pause is waited for; a longer one is left to the timer.
const SHORT_MS = 8_000;
const LEASE_MS = 90_000;
// An office that answers and fails at one record this often holds up no other any more.
const HOLDS_UP = 5;
const KEPT_RECEIPTS_MS = 30 * 86_400_000;

const STRANGE =
  "It asks the office for something that this version of the app never sends, so it was not sent. If it came with a " +
  "file, set it aside and ask whoever made the file; else take the newest version and try again.";

const sleep = (ms) => new Promise((done) => setTimeout(done, ms));

export function makeSender(app, queue) {
  const { store } = app;
  let timer = 0;
  const sender = {
    /** What the sending is at: idle, sending, waiting, offline, out (sign in), other (another person). */
    status: { state: "idle", next_at: 0 },
    /** Pauses are multiplied by this. */
    pace: 1,
    sendSoon: () => void Promise.resolve().then(() => queue.sendAll()).catch((error) => app.failed?.(error)),
    /** At once, whatever pause a dropped link began; one that the office asked for is kept. */
    async sendNow() {
      await store.transact(["queue"], async (tx) => {
        const paused = [];
        await tx.each("queue", (row) => void (row.next_at > Date.now() && !row.told_to_wait && paused.push(row)));
        for (const row of paused) await tx.put("queue", { ...row, next_at: 0 });
      });
      return queue.sendAll();
    },
    async sendAll() {
      clearTimeout(timer);
      const done = await alone(store, () => round(app, queue, tell));
      if (done === "elsewhere") timer = setTimeout(queue.sendSoon, 5_000);
      else if (done?.next_at) timer = setTimeout(queue.sendSoon, Math.max(500, done.next_at - Date.now()));
      return queue.status.state;
    },
  };
  function tell(state, next_at = 0) {
    queue.status = { state, next_at };
    queue.changed();
    return queue.status;
  }
  return sender;
}

/** Runs `fn` if no other tab of this person sends; the browser's locks, or a lease in the store. */
async function alone(store, fn) {
  const name = `${store.name}-send`;
  if (navigator.locks) {
    return navigator.locks.request(name, { ifAvailable: true }, (lock) => (lock ? fn() : "elsewhere"));
  }
  const mine = `${Math.random()}`;
  const take = () =>
    store.transact(["prefs"], async (tx) => {
      const held = (await tx.get("prefs", "lease"))?.value;
      if (held && held.by !== mine && held.until > Date.now()) return false;
      await tx.put("prefs", { name: "lease", value: { by: mine, until: Date.now() + LEASE_MS } });
      return true;
    });
  if (!(await take())) return "elsewhere";
  const renewing = setInterval(take, LEASE_MS / 3);
  try {
    return await fn();
  } finally {
    clearInterval(renewing);
    await store.remove("prefs", "lease");
  }
}

async function round(app, queue, tell) {
  if (!(await app.store.count("queue"))) return tell("idle");
  const stopped = (who) => tell(who.state, who.state === "offline" ? Date.now() + 60_000 * queue.pace : 0);
  let who = await app.askWho();
  if (who.state !== "ok") return stopped(who);
  tell("sending");
  // Read once, and each row anew once it was tried; what came meanwhile is looked for when nothing of these may go.
  let rows = await queue.list();
  let looked = true;
  for (;;) {
    const { item, next_at } = nextOf(rows);
    if (!item) {
      if (next_at && next_at - Date.now() <= SHORT_MS) {
        tell("waiting", next_at);
        await sleep(Math.max(0, next_at - Date.now()));
        tell("sending");
      } else if (looked) {
        await forgetOld(app.store);
        return tell(next_at ? "waiting" : "idle", next_at);
      }
      rows = await queue.list();
      looked = true;
      continue;
    }
    looked = false;
    if ((await sendOne(app, queue, item, who)) === "who") {
      who = await app.askWho();
      if (who.state !== "ok") return stopped(who);
    }
    const after = await app.store.get("queue", item.id);
    if (after) rows[rows.indexOf(item)] = after;
    else rows.splice(rows.indexOf(item), 1);
    queue.changed();
  }
}

/** The oldest that may go now; else when the first one may. What held all up (no answer) holds those after it too. */
function nextOf(rows) {
  const there = new Set(rows.map((row) => row.id));
  let next_at = 0;
  // Records first: a photo is large, and what it shows is judged by the record.
  for (const row of [...rows.filter((each) => !each.photos.length), ...rows.filter((each) => each.photos.length)]) {
    if (row.state !== "waiting" || row.needs.some((id) => there.has(id))) continue;
    if (row.next_at <= Date.now()) return { item: row, next_at };
    next_at = next_at ? Math.min(next_at, row.next_at) : row.next_at;
    if (row.tries < HOLDS_UP || row.held) return { item: null, next_at: row.next_at };
  }
  return { item: null, next_at };
}

async function sendOne(app, queue, item, who) {
  const { store } = app;
  const refuse = (detail) => mark(store, item.id, { state: "refused", answer: { status: 0, detail, errors: [] } });
  if (!isSentByApp(item)) return refuse(STRANGE);
  const ahead = clockQuestion(item, app.clockOffset());
  if (ahead) return mark(store, item.id, { state: "asked", answer: ahead });
  const kept = await store.get("bodies", item.id);
  // Set aside, or opened again, meanwhile.
  if (!kept) return "gone";
  const { body } = kept;
  const { sent, large } = await written(store, body);
  if (sent === null) return refuse("A photo of it is no longer on this phone.");
  const how = { csrf: who.csrf, version: app.version };
  const send = (what) => ask(item.address, { ...how, method: item.method, body: what, key: item.once ? item.id : "" });
  let answer = large && (await sendParts(large, how, (came) => underWay(app, queue, item, came, large.blob.size)));
  if (large && !answer) return "gone";
  if (answer?.status === 200) answer = await send(JSON.stringify(byDigest(body, large)));
  // An office of before parts takes it whole.
  else if (!large || answer.status === 404) answer = await send(sent);
  if (answer.status >= 200 && answer.status < 300) return received(app, item, body, answer);
  if (answer.status === 401) return "who";
  if (answer.status === 403 && !item.doubted) {
    // Of a key that another sign-in made worthless, or of a right: the office says who is signed in.
    await mark(store, item.id, { doubted: true });
    return "who";
  }
  if (answer.status === 0 || answer.status === 429 || answer.status >= 500) {
    return mark(store, item.id, paused(item, answer, queue.pace));
  }
  const told = { status: answer.status, detail: answer.json?.detail || "", errors: answer.json?.errors || [] };
  const state = answer.status === 428 ? "asked" : "refused";
  return mark(store, item.id, { doubted: false, state, answer: told });
}

/** Notes something on a row, unless it was set aside or taken back meanwhile. */
const mark = (store, id, changes) =>
  store.transact(["queue"], async (tx) => {
    const row = await tx.get("queue", id);
    if (row) await tx.put("queue", { ...row, ...changes });
  });

function paused(item, answer, pace) {
  const tries = item.tries + 1;
  const growing = Math.min(LONGEST_PAUSE_MS, 1000 * 2 ** (tries - 1)) * (0.75 + Math.random() / 2) * pace;
  const pause = Math.max(growing, answer.retryAfter * 1000);
  const held = answer.status === 0 || answer.status === 429;
  return { tries, next_at: Date.now() + pause, held, told_to_wait: answer.retryAfter > 0 };
}

/** What is asked before sending where the phone's clock was another one when this was recorded. */
function clockQuestion(item, offset) {
  if (offset === null || item.tries || item.clock.settled) return null;
  const by = Math.round(offset - (item.clock.offset || 0));
  return Math.abs(by) > MUCH_MS ? { kind: "clock", by, errors: [] } : null;
}

/** Tells how much of a photo is at the office; false where it was set aside meanwhile. */
async function underWay({ store }, queue, item, came, size) {
  // A link that breaks over and over and yet goes on is not paused for longer each time.
  if (came > (item.came?.bytes || 0)) item.tries = 0;
  item.came = { bytes: came, of: size };
  let wanted = false;
  await store.transact(["queue"], async (tx) => {
    const row = await tx.get("queue", item.id);
    wanted = Boolean(row);
    if (row) await tx.put("queue", { ...row, came: item.came, tries: item.tries });
  });
  queue.changed();
  return wanted;
}

/** What is sent of a photo whose bytes are at the office already. */
function byDigest(body, { digest, name }) {
  const rest = Object.entries(body).filter(([, value]) => value?.$photo !== digest);
  return { ...Object.fromEntries(rest), digest, name: name || "photo.jpg" };
}

/**
 * The body as it goes: JSON, or a form with the bytes of photos in the places of {"$photo": digest}; `large` is one
 * that goes in parts. `sent` is null where a photo is gone.
 */
async function written(store, body) {
  const named = Object.entries(body).filter(([, value]) => value && typeof value === "object" && value.$photo);
  if (!named.length) return { sent: JSON.stringify(body) };
  const form = new FormData();
  let large = null;
  for (const [name, value] of Object.entries(body)) {
    if (value && typeof value === "object" && value.$photo) {
      const photo = await store.get("photos", value.$photo);
      if (!photo) return { sent: null };
      form.append(name, photo.blob, photo.name || "photo.jpg");
      if (inParts(photo.blob)) large = photo;
    } else if (value !== null && value !== undefined) {
      form.append(name, typeof value === "object" ? JSON.stringify(value) : String(value));
    }
  }
  return { sent: form, large };
}

/** Of several records from one sending, as of a reading at a station: that of its id, with the worst verdict. */
function ofSeveral(json, body) {
  if (!Array.isArray(json)) return json;
  const own = json.find((one) => one.id === body.id) || json[0];
  return json.some((one) => one.verdict === "fail") ? { ...own, verdict: "fail" } : own;
}

/** Stored at the office: the receipt goes in, the item and the photos that it names as stored go out, in one. */
async function received(app, item, body, answer) {
  const { store } = app;
  let told = ofSeveral(answer.json, body) || {};
  let digest = told.digest || "";
  if (!digest && body.id && item.method === "POST") {
    const asked = await ask(`${item.address.replace(/\/?$/, "/")}${told.id || body.id}/`);
    if (asked.status === 200) digest = asked.json?.digest || "";
    if (asked.status === 200) told = { ...asked.json, ...told };
  }
  const answered = verdictOf(told);
  const receipt = {
    id: item.id, digest, at: stamp().at, answer_id: told.id || null, address: item.address, words: item.words,
    told: item.told, answered, differs: differ(item.told, answered), warnings: doubts(told),
    // Without a digest nothing but this says what was sent.
    ...(digest ? {} : { body }),
  };
  await store.transact(["queue", "bodies", "photos", "receipts", "drafts"], async (tx) => {
    await tx.put("receipts", receipt);
    await tx.remove("queue", item.id);
    await tx.remove("bodies", item.id);
    const stored = Object.values(body).map((value) => value?.$photo).filter((one) => one && one === digest);
    for (const one of stored) if (!(await named(tx, one, item.id))) await tx.remove("photos", one);
    if (told.id && body.id && told.id !== body.id) await renamed(tx, item.id, body.id, told.id);
  });
  return "sent";
}

/** The office kept it under another id: what follows it and waits names it by that one. */
async function renamed(tx, itemId, from, to) {
  const after = [];
  await tx.each("queue", (row) => void (row.needs.includes(itemId) && row.tries === 0 && after.push(row.id)));
  for (const id of after) {
    const kept = await tx.get("bodies", id);
    const text = JSON.stringify(kept.body).split(JSON.stringify(from)).join(JSON.stringify(to));
    await tx.put("bodies", { ...kept, body: JSON.parse(text) });
    const row = await tx.get("queue", id);
    await tx.put("queue", { ...row, address: row.address.split(from).join(to) });
  }
}

function verdictOf(told) {
  if (typeof told.verdict === "string") return { verdict: told.verdict, why: whyOf(told) };
  return typeof told.result === "string" ? { verdict: told.result, why: null } : null;
}

/** What the office says against what it stored: its warnings, and why its instrument cannot be relied on. */
function doubts(told) {
  const { state, reasons = [] } = told.standing || {};
  return [...(told.warnings || []), ...(state === "in_question" ? reasons.map((why) => `In question: ${why}`) : [])];
}

const differ = (told, answered) => Boolean(told?.verdict && answered && told.verdict !== answered.verdict);

/** Receipts of a month ago have done their work; what was set aside stays, and verdicts that differ until read. */
async function forgetOld(store) {
  const old = new Date(now().getTime() - KEPT_RECEIPTS_MS).toISOString();
  const gone = [];
  await store.each("receipts", (row) => void (row.digest && !row.differs && row.at < old && gone.push(row.id)));
  for (const id of gone) await store.remove("receipts", id);
}
