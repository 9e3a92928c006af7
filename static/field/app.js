// The field app: finds the person, opens what they keep here, draws the head and the screen of the address.

import { openDevice } from "./device.js";
import { button, clear, h } from "./dom.js";
import { drawHead, drawNotices } from "./head.js";
import { keptClock } from "./ids.js";
import { forgetOthers } from "./pack.js";
import { openQueue } from "./queue.js";
import { screens } from "./screens/index.js";
import { HeldOpen, openStore, StorageFull } from "./store.js";
import { findPerson, heardOf, keepClock, signOutIfDue } from "./who.js";
import { lookForNew, takeNewVersion, watchWorker } from "./worker.js";

/** What every screen is given. */
export const app = {
  version: document.documentElement.dataset.version,
  person: null, project: null, pack: null, store: null, queue: null, prefs: null, device: null,
  /** The version the office has, once it was heard. */
  office: null,
  /** A new version lies ready. */
  renewed: null,
  /** Another tab took a newer version, or another person signed in: this page must be opened again. */
  stale: "",
  /** The draft that the next screen opens. */
  opening: null,
  leave: null,
  go(hash) {
    if (location.hash === hash) return show();
    location.hash = hash;
    return undefined;
  },
  say,
  failed,
  clockOffset: () => keptClock().offset,
  /** The office's word on who is signed in, for sending: never one person's work under another's name. */
  async askWho() {
    const heard = await heardOf(app.device);
    if (heard.state !== "ok") {
      // Ended by its person from elsewhere, as of a phone that was lost: nothing more is shown.
      if (await app.device.leftBy(app.person.person)) location.reload();
      return { state: heard.state };
    }
    app.office = heard.who.app_version;
    if (heard.who.person !== app.person.person) return { state: "other", name: heard.who.name };
    if (app.office !== app.version) lookForNew();
    return { state: "ok", csrf: heard.who.csrf };
  },
  /** Works on another project of the person from now on. */
  async choose(projectId) {
    await app.device.keep({ ...(await app.device.person(app.person.person)), project: projectId });
    app.person.project = projectId;
    await loadProject();
    draw();
  },
  /** The pack was fetched again. */
  async reload() {
    await loadProject();
    draw();
  },
  /** Signs out on purpose: locks what this person keeps here, and ends the sign-in now or when the office is heard. */
  async lock() {
    await app.device.lock(app.person.person, true);
    await signOutIfDue(app.device);
    location.reload();
  },
  takeNewVersion: () => takeNewVersion(app),
};

let saying = 0;
function say(text, tone = "plain") {
  const place = document.getElementById("said");
  place.textContent = text;
  place.dataset.tone = tone;
  clearTimeout(saying);
  saying = setTimeout(unsaid, Math.max(4000, text.length * 80));
  // What stays in sight at the end of a form moves up for as long as this stands there.
  document.documentElement.style.setProperty("--said", `${place.offsetHeight}px`);
  place.onclick = unsaid;
}

function unsaid() {
  document.getElementById("said").textContent = "";
  document.documentElement.style.removeProperty("--said");
}

function failed(error) {
  console.error(error);
  if (error instanceof StorageFull || error instanceof HeldOpen) return say(error.message, "bad");
  return say(`Something went wrong on this page: ${error.message}. What you typed is kept.`, "bad");
}

async function loadProject() {
  const { person, store } = app;
  app.project = person.projects.find((one) => one.id === person.project) || null;
  const row = app.project ? await store.get("packs", app.project.id) : null;
  // What the pack says, with when it was made and when the office last said that it is still right.
  app.pack = row ? { ...row.content, version: row.version, made_at: row.made_at, checked_at: row.checked_at } : null;
}

function draw() {
  drawHead(app);
  drawNotices(app);
}

function decoded(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

/** The screen of the address; one that fails says so and leaves the rest of the app working. */
async function show() {
  const [path] = location.hash.replace(/^#\/?/, "").split("?");
  const [name, ...args] = path.split("/").filter(Boolean).map(decoded);
  const root = document.getElementById("content");
  const screen = screens.find((one) => one.name === (name || "today")) || screens.find((one) => one.name === "send");
  try {
    app.leave?.();
    app.leave = null;
    clear(root);
    const inner = h("div", { class: "field-screen", "data-screen": screen.name });
    root.append(h("h1", {}, screen.title), inner);
    document.title = `${screen.title} · Stripecoat`;
    const leave = (await screen.show(inner, app, args)) || null;
    // The person went on before this screen was ready.
    if (inner.isConnected) app.leave = leave;
    else leave?.();
  } catch (error) {
    failed(error);
    root.append(h("p", { class: "notice notice-error" }, `This screen could not be shown: ${error.message}`));
  }
  root.focus({ preventScroll: true });
  window.scrollTo(0, 0);
}

function nobody(heard) {
  const root = clear(document.getElementById("content"));
  const offline = heard.state === "offline";
  const words = offline
    ? "Nobody is signed in on this phone, and the office cannot be reached. What is kept here is locked until its " +
      "person signs in again; nothing of it is lost."
    : "Sign in to go on. What is kept on this phone for you is still here.";
  root.append(h("h1", {}, "Sign in"), h("p", {}, words));
  root.append(
    h("p", { class: "actions" },
      h("a", { class: "button", href: `/sign-in/?next=${encodeURIComponent(location.pathname)}` }, "Sign in"),
      offline && button("Try again", () => location.reload(), { class: "button button-quiet" }))
  );
}

async function open(person) {
  app.person = person;
  const outdated = () => stale("A newer version of the app is open in another tab.");
  app.store = await openStore(person.person, { outdated });
  app.prefs = app.store.prefs;
  // As the office said it last.
  await forgetOthers(app.store, person.projects);
  app.queue = openQueue(app);
  await loadProject();
  app.queue.addEventListener("change", draw);
}

function stale(words) {
  app.stale = words;
  drawNotices(app);
}

/** A page that stayed open shows nobody's work to the next one: opened anew once its person left this phone. */
async function watchWhose(id) {
  if (await app.device.leftBy(id)) return () => Promise.resolve();
  return async () => {
    if (await app.device.leftBy(id)) location.reload();
  };
}

async function start() {
  app.device = await openDevice();
  watchWorker(app, draw, stale);
  const { person, heard } = await findPerson(app.device);
  if (!person) return nobody(heard);
  if (heard.state === "ok") app.office = heard.who.app_version;
  await open(person);
  // May be missing, refused or asked of the person, for whom nothing waits; “This phone” says what is so.
  navigator.storage?.persist?.().catch(() => false);
  draw();
  window.addEventListener("hashchange", show);
  await show();
  const look = await watchWhose(person.person);
  const again = () => {
    look().catch(failed);
    keepClock(app.device).catch(() => {});
    if (document.visibilityState === "visible") app.queue.sendNow().catch(failed);
  };
  window.addEventListener("online", again);
  document.addEventListener("visibilitychange", again);
  // By the way back the browser may show the page as it was left.
  window.addEventListener("pageshow", (event) => event.persisted && again());
  setInterval(() => {
    look().catch(failed);
    draw();
  }, 30_000);
  setInterval(() => {
    keepClock(app.device).catch(() => {});
    app.queue.sendSoon();
  }, 60_000);
  app.queue.sendSoon();
  return undefined;
}

export const started = start().catch((error) => {
  failed(error);
  clear(document.getElementById("content")).append(
    h("h1", {}, "The app could not open"), h("p", { class: "notice notice-error" }, error.message),
    button("Try again", () => location.reload())
  );
});
