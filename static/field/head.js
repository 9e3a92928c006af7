// The head of every screen: whose work, which project, how much waits and since when, and what must be known now.

import { ago, button, h, link, redraw, span } from "./dom.js";
import { keptClock, MUCH_MS, now, stamp } from "./ids.js";
import { roomTold } from "./room.js";
import { saveUnsent } from "./saving.js";

const QUIET = { class: "button button-quiet" };
const OLD_PACK_MS = 24 * 3_600_000;
const LONG_UNHEARD_MS = 7 * 24 * 3_600_000;
let drawing = 0;

/** Draws the head; the newest call wins, as the store answers later. */
export async function drawHead(app) {
  drawing += 1;
  const mine = drawing;
  const root = document.getElementById("top");
  if (!app.queue) return;
  const told = await app.queue.summary();
  if (mine !== drawing) return;
  const project = app.project ? app.project.code : "No project";
  redraw(root,
    h("nav", { "aria-label": "Field" },
      link("Today", "#/", { class: "field-home", "data-key": "today" }),
      link(project, "#/packs", { class: "field-project", "data-key": "project" }),
      link(unsentWords(told), "#/send", {
        class: "field-unsent", "data-key": "unsent", "data-count": told.count, "data-tone": toneOf(told),
      }))
  );
}

/** How many wait and since when. */
export function unsentWords(told) {
  if (!told.count) return "All sent";
  const since = ago(Date.parse(told.oldest), now().getTime());
  const held = told.refused + told.asked;
  const yours = held ? `, ${held} ${held === 1 ? "needs" : "need"} you` : "";
  return `${told.count} unsent, ${since}${yours}`;
}

const toneOf = (told) => (told.refused || told.asked ? "doubt" : told.count ? "wait" : "good");

/** What must be known on every screen. */
export async function drawNotices(app) {
  const rows = [];
  if (app.stale) {
    const again = ["Open again", () => location.reload()];
    rows.push(notice("warning", `${app.stale} Open this page again to go on.`, again));
  }
  if (app.renewed && !app.stale) {
    rows.push(notice("plain", "A new version of the app lies ready. What you typed and what waits stays.",
      ["Use the new version", () => app.takeNewVersion()]));
  }
  if (app.queue) rows.push(...ofSending(app), ...ofClock(), ...ofPack(app), ...(await ofStorage(app)));
  if (app.without) rows.push(notice("warning", app.without));
  const root = document.getElementById("notices");
  redraw(root, ...rows);
}

function notice(tone, words, action) {
  const classes = tone === "warning" ? "notice notice-warning" : "notice";
  const does = action && button(action[0], action[1], { ...QUIET, "data-key": action[0] });
  return h("div", { class: classes }, h("p", {}, words), does);
}

function ofSending(app) {
  const { state } = app.queue.status;
  if (state === "out") {
    const words = "The sign-in has ended. Go on working; sign in to send. Nothing is lost.";
    return [h("div", { class: "notice notice-warning" }, h("p", {}, words),
      h("a", { ...QUIET, href: "/sign-in/?next=/field/", "data-key": "sign-in" }, "Sign in to send"))];
  }
  if (state === "other") {
    const words = "Somebody else is signed in on this phone now. What you recorded here stays yours and is sent when " +
      "you sign in again.";
    return [notice("warning", words, ["Open as the other person", () => location.reload()])];
  }
  return [];
}

function ofClock() {
  const clock = keptClock();
  const { sure } = stamp();
  if (clock.offset === null) {
    return [notice("warning", "The office's clock was not heard yet: times are the phone's own, and records say so.")];
  }
  if (!sure) {
    return [notice("warning", "The phone's clock was set back since the office was last heard. Times are doubtful; " +
      "records say what the phone said, and you are asked when they are sent.")];
  }
  const rows = [];
  if (Math.abs(clock.offset) > MUCH_MS) {
    const way = clock.offset < 0 ? "ahead of" : "behind";
    rows.push(notice("warning", `The phone's clock is ${span(clock.offset)} ${way} the office's. ` +
      "Times are corrected. Set the clock when you can."));
  }
  if (Date.now() - clock.heard > LONG_UNHEARD_MS) {
    rows.push(notice("warning", `The office was last heard ${ago(clock.heard)}: check the phone's clock.`));
  }
  return rows;
}

function ofPack(app) {
  if (!app.project || !app.pack) return [];
  const at = Date.parse(app.pack.made_at || "");
  if (!at || now().getTime() - at < OLD_PACK_MS) return [];
  return [notice("warning", `What this phone knows of ${app.project.code} is from ${ago(at, now().getTime())}.`,
    ["Fetch it again", () => app.go("#/packs")])];
}

async function ofStorage(app) {
  const estimate = await navigator.storage?.estimate?.().catch(() => null);
  // What waits is counted only for whoever is warned.
  if (!roomTold(estimate, 0)) return [];
  const waiting = await app.store.count("queue");
  return [h("div", { class: "notice notice-warning" }, h("p", {}, roomTold(estimate, waiting)),
    waiting > 0 && h("p", { class: "actions" },
      h("a", { ...QUIET, href: "#/send", "data-key": "room-send" }, "Send"),
      button("Save to a file", () => saveUnsent(app).catch(app.failed), { ...QUIET, "data-key": "room-save" })))];
}
